"""Which circuits are built in, to start from? Their names, what each is for, and their text.

The texts are circuit files; reading them is the business of ``formats``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

from ullage.errors import NotFound

_ENDING = ".circuit.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """A built-in file: its name, one line on what it is for, and the file itself."""

    name: str
    purpose: str
    text: str


@cache
def built_in(package: str, ending: str) -> dict[str, Template]:
    """Return the built-in files of a package that end so, by name, each first line its purpose."""
    folder = resources.files(package) / "data"
    found: dict[str, Template] = {}
    for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if item.name.endswith(ending):
            text = item.read_text(encoding="utf-8")
            name = item.name.removesuffix(ending)
            purpose = text.split("\n", 1)[0].lstrip("# ").rstrip()
            found[name] = Template(name=name, purpose=purpose, text=text)
    return found


def circuit_templates() -> tuple[Template, ...]:
    """Return all built-in circuits.

    >>> [template.name for template in circuit_templates()][:2]
    ['auto-gearbox', 'compact-loader']
    """
    return tuple(built_in("ullage.circuit", _ENDING).values())


def circuit_template(name: str) -> Template:
    """Return one built-in circuit.

    Raises
    ------
    NotFound
        If none bears the name.
    """
    known = built_in("ullage.circuit", _ENDING)
    if name not in known:
        raise NotFound("built-in circuit", name, known)
    return known[name]
