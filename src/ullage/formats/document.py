"""From a path or a text to a raw table whose kind and version are known.

Answers what a person meets first: is the file there, is it TOML, is it one of ours, and is this
program new enough to read it?
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ullage.circuit import names
from ullage.errors import Fault, FileFaults
from ullage.formats.schema import FileKind
from ullage.formats.uncertain_field import shown

_LARGEST_BYTES = 2_000_000
_FORMAT = re.compile(r"ullage-([a-z0-9-]+)/([0-9]+)")
_PLACE = re.compile(r"\s*\(at (line \d+, column \d+|end of document)\)")
# Kinds that this package does not read itself, but that a person may hand to the wrong command.
_OTHER_WORDS = {"vials": "a vial layout", "membrane": "a membrane layout", "result": "a result"}


def read_text(path: Path) -> str:
    """Return the text of a file.

    Raises
    ------
    FileFaults
        If it is not there, not a file, too large to be one of ours, or not UTF-8 text.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise FileFaults(
                path.name,
                [
                    Fault(
                        key="file",
                        value=f"{path.stat().st_size} bytes",
                        problem="is too large to be one of these files",
                        allowed=f"at most {_LARGEST_BYTES} bytes",
                        advice="check that it is the file you mean",
                    )
                ],
            )
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        fault = Fault(
            key="file",
            value=str(path),
            problem=f"is not UTF-8 text (byte {error.start + 1})",
            advice="save it as UTF-8 in the editor, or check that it is the file you mean",
        )
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        fault = Fault(
            key="file",
            value=str(path),
            problem=f"cannot be read: {reason}",
            advice=_file_like(path),
        )
    except ValueError as error:  # a null byte in the path
        fault = Fault(key="file", value=str(path), problem=f"is no path: {error}")
    raise FileFaults(path.name or str(path), [fault])


def _file_like(path: Path) -> str:
    """Return advice that names the file of the same folder which a person may have meant."""
    try:
        beside = [item.name for item in path.parent.iterdir() if item.is_file()]
    except OSError:
        return "check the path"
    return names.did_you_mean(path.name, beside, otherwise="check the path")


def raw_table(text: str, file: str) -> dict[str, Any]:
    """Return the content of a text in TOML, or of the same tables as JSON (it begins with a brace).

    Raises
    ------
    FileFaults
        With the line, where it is neither.
    """
    if text.lstrip().startswith("{"):
        return _raw_json(text, file)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.search(str(error))
        place = found.group(1) if found else "file"
        what = _PLACE.sub("", str(error))
        line = _line_of(text, place)
        fault = Fault(
            key=place,
            value=line or None,
            problem=f"is not TOML: {what[:1].lower()}{what[1:]}",
            allowed='lines like key = 1.5, key = "text", or [table]',
            advice=_syntax_advice(line),
        )
    except RecursionError:
        fault = Fault(key="file", value=None, problem="is nested too deeply to be one of ours")
    except ValueError as error:  # a number with thousands of digits
        fault = Fault(
            key="file",
            value=None,
            problem=f"holds a number that cannot be read: {error}",
            advice="shorten it",
        )
    raise FileFaults(file, [fault])


def _raw_json(text: str, file: str) -> dict[str, Any]:
    """Return the content of a JSON text."""
    import json  # few files are JSON, and the others need not wait for it

    try:
        found = json.loads(text)
    except json.JSONDecodeError as error:
        place, what = f"line {error.lineno}, column {error.colno}", error.msg.lower()
    except (ValueError, RecursionError) as error:
        place, what = "file", str(error)
    else:
        if isinstance(found, dict):
            return found
        place, what = "file", "the outermost value is no table"
    fault = Fault(
        key=place,
        value=_line_of(text, place) or None,
        problem=f"is not JSON: {what}",
        advice="write it as TOML, or let the program write the JSON",
    )
    raise FileFaults(file, [fault])


def _line_of(text: str, place: str) -> str:
    """Return the line that a place names, empty where it names none."""
    found = re.match(r"line (\d+)", place)
    lines = text.splitlines()
    number = int(found.group(1)) - 1 if found else -1
    return lines[number].strip()[:60] if 0 <= number < len(lines) else ""


def _syntax_advice(line: str) -> str:
    """Return what usually helps a line that looks like this one."""
    if re.search(r"=\s*-?\d+,\d", line):
        return "write decimals with a point: 0.25, not 0,25"
    if re.search(r"=\s*[A-Za-z]", line) and not re.search(r"=\s*(true|false)\b", line):
        return "put text in quotes; true and false are written small"
    if line and "=" not in line and not line.startswith(("[", "#")):
        return "write key = value, or begin the line with # where it is a comment"
    return "check this line and the one before it: a quote, a bracket or a comma may be missing"


def kind_of(raw: Mapping[str, Any]) -> str | None:
    """Return the word of the file's kind, such as "circuit", or None where it has none of ours."""
    text = raw.get("format")
    found = _FORMAT.fullmatch(text) if isinstance(text, str) else None
    return found.group(1) if found else None


def format_fault(raw: Mapping[str, Any], kind: FileKind) -> Fault | None:
    """Return why a table is not a file of this kind that this program can read, or None."""
    if "format" not in raw:
        return Fault(
            key="format",
            value=None,
            problem="is missing",
            allowed=f'"{kind.format}"',
            advice=f'write format = "{kind.format}" as the first line',
        )
    text = raw["format"]
    found = _FORMAT.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        return Fault(
            key="format",
            value=shown(text),
            problem="is not a format of ours",
            allowed=f'"{kind.format}"',
            advice=f'write format = "{kind.format}"',
        )
    word, version = found.group(1), int(found.group(2)[:9])
    if word != kind.word:
        what = _OTHER_WORDS.get(word, f"a file of kind {word!r}")
        if word in ("circuit", "recipe", "evidence"):
            what = f"{'an' if word == 'evidence' else 'a'} {word} file"
        return Fault(
            key="format",
            value=text,
            problem=f"is {what}, where a {kind.word} file is needed"
            if kind.word != "evidence"
            else f"is {what}, where an evidence file is needed",
            allowed=f'"{kind.format}"',
            advice="check the order of the files, or give the right one",
        )
    if version > kind.version:
        return Fault(
            key="format",
            value=text,
            problem=f"is newer than this program, which reads {kind.word} files up to "
            f"{kind.version}",
            allowed=f'"{kind.format}" or older',
            advice="update the program, or ask for the file in the older format",
        )
    if version < 1:
        return Fault(
            key="format",
            value=text,
            problem="is a version that never was",
            allowed=f'"{kind.format}"',
            advice=f'write format = "{kind.format}"',
        )
    return None
