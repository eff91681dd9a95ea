"""Start here: find the command that was asked for, run it, and end with the right number.

0 is success, 2 is bad input with a sentence on standard error, 1 is a fault of the program.
A command is imported when it is asked for and not before: help must not wait for the solver.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from ullage.cli.arguments import parse

if TYPE_CHECKING:
    from argparse import Namespace

SUCCESS = 0
FAULT_OF_PROGRAM = 1
BAD_INPUT = 2
INTERRUPTED = 130  # what a shell expects after Ctrl-C: 128 + SIGINT
#: What the extra `app` brings, by the names under which it is imported.
_OF_THE_APP = frozenset(
    {
        "sqlalchemy",
        "PIL",
        "fastapi",
        "starlette",
        "pydantic",
        "uvicorn",
        "websockets",
        "jinja2",
        "markupsafe",
        "python_multipart",
        "itsdangerous",
        "segno",
    }
)


def main(words: Sequence[str] | None = None) -> int:
    """Carry out one command line and return the exit code."""
    _let_odd_terminals_print()
    # Before numpy is loaded, here and in what this starts: small matrices only lose by more.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    given = sys.argv[1:] if words is None else words
    try:
        code = _answer(given)
        sys.stdout.flush()  # a reader that has gone must show here, not while Python shuts down
    except BrokenPipeError:
        # The reader has seen enough (`| head`): what is left to print goes nowhere, quietly.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return SUCCESS
    except KeyboardInterrupt:
        sys.stderr.write("\nullage: stopped\n")
        return INTERRUPTED
    except Exception as error:
        return _explain(error, words=given)
    return code


def _answer(words: Sequence[str]) -> int:
    """Return the exit code of the command, or of the help or complaint that came instead."""
    try:
        return _run(parse(words))
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else FAULT_OF_PROGRAM


def _run(asked: Namespace) -> int:
    """Hand over to the module of the command."""
    match asked.command:
        case "demo":
            from ullage.cli import demo

            return demo.run(out=asked.out, as_json=asked.as_json)
        case "check":
            from ullage.cli import check

            return check.run(asked.files, as_json=asked.as_json)
        case "template":
            from ullage.cli import template

            return template.run(asked.name, list_all=asked.list_all, as_json=asked.as_json)
        case "simulate":
            from ullage.cli import simulate

            return simulate.run(
                asked.circuit,
                asked.recipe,
                members=asked.members,
                seed=asked.seed,
                as_json=asked.as_json,
                draw=asked.draw,
                chart=asked.chart,
                upright=asked.upright,
            )
        case "plan":
            from ullage.cli import plan

            return plan.run(
                asked.circuit,
                target_pct=asked.target_pct,
                sure_pct=asked.sure_pct,
                container_l=asked.container_l,
                reserve_l=asked.reserve_l,
                most=asked.most,
                without=asked.without,
                people=asked.people,
                seed=asked.seed,
                members=asked.members,
                as_json=asked.as_json,
            )
        case "pace":
            from ullage.cli import pace

            return pace.run(
                asked.circuit,
                pace.Asked(
                    litres=asked.litres,
                    container_l=asked.container_l,
                    pour_l_min=asked.pour_l_min,
                    change_s=asked.change_s,
                    react_s=asked.react_s,
                    rundown_s=asked.rundown_s,
                    walk_s=asked.walk_s,
                    start_rev_min=asked.start_rev_min,
                    start_s=asked.start_s,
                    start_l=asked.start_l,
                    people=asked.people,
                    at_degc=asked.at_degc,
                ),
                as_json=asked.as_json,
            )
        case "prove":
            from ullage.cli import prove

            return prove.run(
                asked.circuit,
                asked.recipe,
                asked.evidence,
                target_pct=asked.target_pct,
                seed=asked.seed,
                as_json=asked.as_json,
                draw=asked.draw,
            )
        case "serve":
            from ullage.cli import serve

            return serve.run(
                port=asked.port,
                data=asked.data,
                lan=asked.lan,
                as_json=asked.as_json,
                is_demo=asked.is_demo,
            )
        case "jobs":
            from ullage.cli import jobs

            return jobs.run(asked)
        case "calc":
            from ullage.cli import calc

            return calc.run(
                asked.name,
                asked.pairs,
                as_json=asked.as_json,
                list_all=asked.list_all,
                help_=asked.help_,
                out=sys.stdout,
                err=sys.stderr,
            )
        case other:
            raise NotImplementedError(
                f"the command {other!r} is declared, but nobody carries it out"
            )


def _explain(error: Exception, *, words: Sequence[str]) -> int:
    """Say on standard error what went wrong, and return whose fault it is."""
    from ullage.errors import UllageError

    if isinstance(error, UllageError):
        sys.stderr.write(f"ullage: {error}\n")
        return BAD_INPUT
    if isinstance(error, OSError) and error.filename is not None:
        # A file that a person named is theirs to mend; any other is ours.
        named = str(error.filename)
        if named in {part for word in words for part in (word, word.split("=", 1)[-1])}:
            reason = (error.strerror or type(error).__name__).lower()
            sys.stderr.write(f"ullage: {named} can't be used: {reason}; check the path\n")
            return BAD_INPUT
    missing = (getattr(error, "name", None) or "").partition(".")[0]
    if isinstance(error, ModuleNotFoundError) and missing in _OF_THE_APP:
        sys.stderr.write(
            f"ullage: {words[0]} needs the packages of the app, and {missing} is missing; install "
            "them with: pip install 'ullage[app]'\n"
        )
        return BAD_INPUT
    if os.environ.get("ULLAGE_TRACEBACK") == "1":
        import traceback

        traceback.print_exception(error)
    sys.stderr.write(
        f"ullage: the program itself failed ({type(error).__name__}: {error}); your input may be "
        "right. With ULLAGE_TRACEBACK=1 set it shows where: please report that\n"
    )
    return FAULT_OF_PROGRAM


def _let_odd_terminals_print() -> None:
    """Show a substitute for characters that the terminal's encoding lacks, instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
