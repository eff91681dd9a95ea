"""Someone types ``ullage``: help is there at once, and a slip of the finger is answered kindly."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from ullage import __version__
from ullage.cli.arguments import declare
from ullage.cli.entry import main

COMMANDS = tuple(declare()[1])

# Loading any of these would be felt by somebody who only wants to read the help.
HEAVY = ("numpy", "scipy", "numba", "pydantic", "altair", "vl_convert", "pint", "rich", "fluids")

MEASURE = """
import sys, time
begun = time.thread_time()
from ullage.cli.entry import main
code = main(sys.argv[1:])
print(time.thread_time() - begun, *sorted(sys.modules), file=sys.stderr)
sys.exit(code)
"""


def _ullage(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the program as a person would."""
    return subprocess.run(
        [sys.executable, "-m", "ullage", *words],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def _measure(*words: str) -> tuple[float, set[str]]:
    """Return the processor time that a command line took above bare Python, and what it loaded."""
    ended = subprocess.run(
        [sys.executable, "-c", MEASURE, *words], capture_output=True, text=True, check=True
    )
    seconds, *modules = ended.stderr.split()
    return float(seconds), set(modules)


@pytest.mark.parametrize(
    "words", [("--help",), *((name, "--help") for name in COMMANDS if name != "calc")]
)
def test_help_loads_nothing_heavy(words: tuple[str, ...]) -> None:
    """Help never waits for a library that only the work needs."""
    _, modules = _measure(*words)

    assert modules.isdisjoint(HEAVY)


def test_help_takes_at_most_a_tenth_of_a_second() -> None:
    """The best of five, because a machine has other things to do."""
    seconds = min(_measure("--help")[0] for _ in range(5))

    assert seconds <= 0.1


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever reads the help has seen all commands."""
    code = main(["--help"])

    assert code == 0
    assert set(COMMANDS) <= set(capsys.readouterr().out.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_takes_json_and_explains_itself(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each command has help of its own, and offers the object for scripts."""
    code = main([name, "--help"])

    assert code == 0
    assert "--json" in capsys.readouterr().out


def test_no_words_at_all_is_answered_with_help(capsys: pytest.CaptureFixture[str]) -> None:
    """Who doesn't know what to type is told."""
    code = main([])

    assert code == 0
    assert "simulate" in capsys.readouterr().out


def test_the_version_is_that_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    """A report can name the program that made it."""
    code = main(["--version"])

    assert (code, capsys.readouterr().out) == (0, f"ullage {__version__}\n")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["simulat"], "no command 'simulat'; did you mean simulate?"),
        (["xyzzy"], "no command 'xyzzy'; there are: demo, check"),
        (["simulate", "--memebers", "5"], "no option --memebers; did you mean --members?"),
        (["simulate", "a", "b", "--seed=1.5"], "from 0 to 4294967295, got '1.5'"),
        (["simulate", "a", "b", "--members", "0"], "from 1 to 1000000, got '0'"),
        (["simulate", "a"], "required: RECIPE"),
        (["check"], "required: FILE"),
        (["check", "a", "-z"], "no option -z"),
        (["template"], "either a NAME or --list must stand here, got neither"),
        (["template", "x", "--list"], "got both (x and --list)"),
        (["calc"], "NAME must be the name of a sum, got nothing"),
        (["--jsno"], "no option --jsno"),
    ],
)
def test_a_wrong_word_is_answered_with_what_may_stand_there(
    words: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence on standard error, nothing on standard output, and the exit code 2."""
    code = main(words)

    printed = capsys.readouterr()
    assert (code, printed.out) == (2, "")
    assert expected in printed.err
    assert printed.err.count("\n") == 1


def test_a_file_that_is_not_there_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong path is the person's to mend: the path is named, no traceback."""
    missing = str(tmp_path / "van.circuit.toml")

    code = main(["check", missing])

    printed = capsys.readouterr()
    assert code == 2
    assert missing in printed.err + printed.out
    assert "Traceback" not in printed.err


def test_a_reader_that_leaves_early_is_no_failure() -> None:
    """Piping the help into something that stops reading makes no noise."""
    reading, writing = os.pipe()
    os.close(reading)
    ended = subprocess.run(
        [sys.executable, "-m", "ullage", "--help"],
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(writing)

    assert (ended.returncode, ended.stderr) == (0, "")


def _planted(folder: Path, raised: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run `ullage check` in a process whose check raises something."""
    (folder / "sitecustomize.py").write_text(
        "import sys, types\n"
        "import ullage.cli\n"
        "from ullage.errors import Conflict\n"
        f"def run(*_, **__): raise {raised}\n"
        "module = types.ModuleType('ullage.cli.check')\n"
        "module.run = run\n"
        "sys.modules['ullage.cli.check'] = ullage.cli.check = module\n"
    )
    return _ullage("check", "x", PYTHONPATH=str(folder), **environment)


@pytest.mark.parametrize(
    ("raised", "expected"),
    [
        ("Conflict('somebody was first')", (2, "ullage: somebody was first\n")),
        ("FileNotFoundError(2, 'No such file or directory', 'x')", (2, "ullage: x can't be used")),
        ("FileNotFoundError(2, 'No such file or directory', 'y')", (1, "ullage: the program")),
        ("KeyboardInterrupt", (130, "\nullage: stopped\n")),
        ("ZeroDivisionError('planted')", (1, "ullage: the program itself failed (ZeroDivision")),
    ],
)
def test_the_exit_code_says_whose_fault_it_was(
    tmp_path: Path, raised: str, expected: tuple[int, str]
) -> None:
    """What a person can mend is 2, a fault of the program is 1; both in a sentence."""
    ended = _planted(tmp_path, raised, ULLAGE_TRACEBACK="")

    assert (ended.returncode, ended.stderr[: len(expected[1])]) == expected
    assert "Traceback" not in ended.stderr


def test_the_traceback_is_there_for_who_asks(tmp_path: Path) -> None:
    """ULLAGE_TRACEBACK=1 shows where the program failed."""
    ended = _planted(tmp_path, "ZeroDivisionError('planted')", ULLAGE_TRACEBACK="1")

    assert ended.returncode == 1
    assert ended.stderr.startswith("Traceback")
