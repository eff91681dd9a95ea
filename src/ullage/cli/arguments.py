"""What may stand on the command line: each command, its arguments and its options.

Only declared here, carried out elsewhere: this module loads nothing but ``argparse``, so that help
and a misspelt word are answered at once. Leaves out what the arguments mean inside a file or a sum.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from ullage import __version__

MOST_MEMBERS = 1_000_000
DEFAULT_PORT = 8765


class Parser(argparse.ArgumentParser):
    """A parser that names the nearest known word and says what to do next."""

    def __init__(self, **settings: Any) -> None:
        self.options: list[str] = []
        super().__init__(allow_abbrev=False, **settings)

    def add_argument(self, *names: Any, **settings: Any) -> argparse.Action:
        """Add an argument and remember the options, to be able to propose them."""
        self.options += [name for name in names if name.startswith("-")]
        return super().add_argument(*names, **settings)

    def refuse_unknown_options(self, words: Iterable[str]) -> None:
        """Stop at the first word that looks like an option and is none.

        argparse would take the value behind a misspelt option for a positional argument and
        complain about something else.
        """
        for word in words:
            if word == "--":
                return
            option = word.split("=", 1)[0]
            if len(option) > 1 and option[0] == "-" and not option[1].isdigit():
                # A short option is one letter: "-x=1" and "-xy" are judged by argparse.
                known = option in self.options or (option[1] != "-" and option[:2] in self.options)
                if not known:
                    self.error(f"there is no option {option}{nearest(option, self.options)}")

    def error(self, message: str) -> NoReturn:
        """Say what is wrong in one sentence on standard error and leave with 2."""
        self.exit(2, f"{self.prog}: {message}; `{self.prog} --help` shows what may stand here\n")


def nearest(word: str, known: Sequence[str]) -> str:
    """Return a half sentence that proposes the nearest known word, or lists them all.

    Examples
    --------
    >>> nearest("chek", ["check", "demo"])
    '; did you mean check?'
    >>> nearest("xyz", ["check", "demo"])
    '; there are: check, demo'
    """
    from difflib import get_close_matches

    close = get_close_matches(word, known, n=1)
    return f"; did you mean {close[0]}?" if close else f"; there are: {', '.join(known)}"


def parse(words: Sequence[str]) -> argparse.Namespace:
    """Return what was asked for; leave with 0 after help, with 2 where a word is wrong."""
    top, commands = declare()
    if not words:
        top.print_help()
        top.exit(0)
    first = words[0]
    if first.startswith("-"):
        top.refuse_unknown_options(words)
    elif first not in commands:
        top.error(f"there is no command {first!r}{nearest(first, list(commands))}")
    else:
        commands[first].refuse_unknown_options(words[1:])
    asked = top.parse_args(words)
    if asked.command == "template" and (asked.name is None) is not asked.list_all:
        got = "neither" if asked.name is None else f"both ({asked.name} and --list)"
        commands["template"].error(f"either a NAME or --list must stand here, got {got}")
    if asked.command == "simulate" and asked.upright and not (asked.draw or asked.chart):
        commands["simulate"].error(
            "--upright must stand beside --draw or --chart, got neither: there is no picture to "
            "shape"
        )
    return asked


def declare() -> tuple[Parser, dict[str, Parser]]:
    """Return the parser of the whole program and those of its commands by name."""
    top = Parser(
        prog="ullage",
        description="How much old fluid is left in a pumped hydraulic circuit, and where.",
        epilog="`ullage COMMAND --help` explains one command.",
    )
    top.add_argument("--version", action="version", version=f"ullage {__version__}")
    adder = top.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    commands: dict[str, Parser] = {}

    def add(name: str, does: str, **settings: Any) -> Parser:
        text = f"{does[0].upper()}{does[1:]}."
        commands[name] = adder.add_parser(name, help=does, description=text, **settings)
        return commands[name]

    demo = add("demo", "walk through the built-in example from circuit to result")
    demo.add_argument("--out", type=Path, metavar="DIR", help="write the files of the example here")

    check = add("check", "say whether files are right: every fault, and a screen of sanity figures")
    check.add_argument("files", type=Path, nargs="+", metavar="FILE", help="any of Ullage's files")

    template = add("template", "print a built-in circuit or recipe to start from")
    template.add_argument("name", nargs="?", metavar="NAME", help="which one")
    template.add_argument("--list", dest="list_all", action="store_true", help="name them all")

    simulate = add("simulate", "carry out a recipe and say how much old fluid is left where")
    simulate.add_argument("circuit", type=Path, metavar="CIRCUIT", help="a circuit file")
    simulate.add_argument("recipe", type=Path, metavar="RECIPE", help="a recipe file")
    simulate.add_argument(
        "--members",
        type=_count,
        default=1,
        metavar="N",
        help="how many machines to draw from the uncertain numbers (default 1: the best values)",
    )
    simulate.add_argument(
        "--seed", type=_seed, default=0, metavar="N", help="which draws (default 0)"
    )
    simulate.add_argument("--draw", type=Path, metavar="FILE.svg", help="draw the circuit here")
    simulate.add_argument("--chart", type=Path, metavar="FILE.svg", help="draw the outflow here")
    simulate.add_argument(
        "--upright", action="store_true", help="shape both pictures for the screen of a phone"
    )

    _declare_plan(add("plan", "say how many containers to buy, and what to do in which order"))

    _declare_pace(add("pace", "say how to pour without starving the pump"))

    _declare_prove(add("prove", "say what is left where, given what was measured, and what next"))

    serve = add("serve", "open the app on this computer, and to phones around it where asked")
    serve.add_argument(
        "--demo", dest="is_demo", action="store_true", help="open an invented garage to look around"
    )
    serve.add_argument(
        "--port",
        type=_port,
        default=DEFAULT_PORT,
        metavar="N",
        help=f"where it listens (default {DEFAULT_PORT}; 0: any port that is free)",
    )
    serve.add_argument(
        "--data", type=Path, metavar="DIR", help="where everything is kept (default: your own)"
    )
    serve.add_argument(
        "--lan",
        metavar="ADDRESS",
        help="let in devices of the local network, at this address of this computer",
    )

    _declare_jobs(add("jobs", "list, show, hand on, back up and restore what is kept of jobs"))

    calc = add("calc", "do one bench sum", add_help=False)
    calc.add_argument("name", nargs="?", metavar="NAME", help="which sum")
    calc.add_argument("pairs", nargs="*", metavar="key=value", help="its numbers; lists as a,b,c")
    calc.add_argument("--list", dest="list_all", action="store_true", help="name them all")
    # With a NAME this is about the sum, so calc answers it and not argparse.
    calc.add_argument(
        "-h", "--help", dest="help_", action="store_true", help="explain calc, or the sum named"
    )

    for name, parser in commands.items():
        if name != "jobs":  # what can be done with jobs takes it, each by itself
            _add_json(parser)
    return top, commands


def _add_json(parser: argparse.ArgumentParser) -> None:
    """Let a command print JSON."""
    parser.add_argument("--json", dest="as_json", action="store_true", help="print one JSON object")


def _declare_jobs(jobs: Parser) -> None:
    """Add what ``ullage jobs`` takes: what to do, and with what."""
    jobs.epilog = "`ullage jobs ACT --help` explains one act; all take --data DIR and --json."
    adder = jobs.add_subparsers(dest="act", metavar="ACT", title="what to do", required=True)
    for act, does, words in (
        ("list", "list jobs, open ones by what has to happen first", ()),
        ("show", "show one job, stage by stage", ("JOB",)),
        ("export", "write one job with all that belongs to it to a file", ("JOB", "FILE")),
        ("import", "merge a job from such a file; twice is once", ("FILE",)),
        ("backup", "write everything to one file", ("FILE",)),
        ("restore", "put a backup in place of what is there, which is backed up first", ("FILE",)),
    ):
        parser = adder.add_parser(act, help=does, description=f"{does[0].upper()}{does[1:]}.")
        for word in words:
            kind = Path if word == "FILE" else str
            about = "a file" if word == "FILE" else "the job's id, or its first letters"
            parser.add_argument(word.lower(), type=kind, metavar=word, help=about)
        if act == "list":
            parser.add_argument("--search", default="", metavar="TEXT", help="in titles and names")
            parser.add_argument("--all", dest="all_", action="store_true", help="closed jobs too")
        parser.add_argument(
            "--data",
            type=Path,
            metavar="DIR",
            help="the folder of the data (default ~/.local/share/ullage, by XDG_DATA_HOME)",
        )
        _add_json(parser)
        jobs.options += parser.options


def _declare_plan(plan: Parser) -> None:
    """Add what ``ullage plan`` takes."""
    plan.add_argument("circuit", type=Path, metavar="CIRCUIT", help="a circuit file")
    plan.add_argument(
        "--target-pct",
        type=_target,
        required=True,
        metavar="X",
        help="old fluid that may be left, in per cent; or iso-15380 for its limit of 2",
    )
    plan.add_argument(
        "--sure-pct",
        type=_positive,
        default=95.0,
        metavar="X",
        help="in how many of 100 machines it must be so (default 95)",
    )
    plan.add_argument(
        "--container-l", type=_positive, default=1.0, metavar="L", help="one container (default 1)"
    )
    plan.add_argument(
        "--reserve-l",
        type=_number,
        default=1.0,
        metavar="L",
        help="what stays in the containers for topping up later (default 1)",
    )
    plan.add_argument(
        "--most", type=_count, metavar="N", help="containers at most (default: four fillings)"
    )
    plan.add_argument(
        "--without",
        type=_words,
        default=(),
        metavar="A,B",
        help="steps that are not wanted, such as exchange,bleed; also exercise",
    )
    plan.add_argument(
        "--people", type=_people, default=2, metavar="N", help="1: alone; 2: one pours (default)"
    )
    plan.add_argument(
        "--members",
        type=_count,
        default=4000,
        metavar="N",
        help="fresh simulated machines that each try is judged on (default 4000)",
    )
    plan.add_argument("--seed", type=_seed, default=0, metavar="N", help="which draws (default 0)")


def _declare_prove(prove: Parser) -> None:
    """Add what ``ullage prove`` takes."""
    prove.add_argument("circuit", type=Path, metavar="CIRCUIT", help="a circuit file")
    prove.add_argument("recipe", type=Path, metavar="RECIPE", help="the recipe as carried out")
    prove.add_argument("evidence", type=Path, metavar="EVIDENCE", help="what was measured")
    prove.add_argument(
        "--target-pct", type=_target, metavar="X", help="old fluid that may be left, in percent"
    )
    prove.add_argument("--seed", type=_seed, default=0, metavar="N", help="which draws (default 0)")
    prove.add_argument("--draw", type=Path, metavar="FILE.svg", help="draw the verdict here")


def _declare_pace(pace: Parser) -> None:
    """Add what ``ullage pace`` takes; numbers with a spread stay text, its module reads them."""
    pace.add_argument("circuit", type=Path, metavar="CIRCUIT", help="a circuit file")
    pace.add_argument(
        "--litres",
        type=_positive,
        metavar="N",
        help="how much shall go to waste (default: what the circuit holds)",
    )
    pace.add_argument(
        "--container-l", type=_positive, default=1.0, metavar="L", help="one container (default 1)"
    )
    spreads = (
        ("--pour-l-min", "6", "how fast a container empties"),
        ("--change-s", "4", "from an empty container to the next full one"),
        ("--react-s", "2", 'from "stop" to the switch'),
        ("--rundown-s", "1.5", "from the switch until the pump stands still"),
        ("--walk-s", "5", "alone: from the reservoir to the switch"),
        ("--start-rev-min", "1200", "speed to which the engine flares at its start"),
        ("--start-s", "3", "how long it flares"),
    )
    for option, default, means in spreads:
        pace.add_argument(
            option,
            default=default,
            metavar="N",
            help=f"{means} (default {default}); N, LOW,BEST,HIGH or N+-DEVIATION",
        )
    pace.add_argument(
        "--start-l", metavar="L", help="in the reservoir when the pump starts (default: full mark)"
    )
    pace.add_argument(
        "--people", type=_people, default=2, metavar="N", help="1: alone; 2: one pours (default)"
    )
    pace.add_argument(
        "--at-degc",
        type=_number,
        default=20.0,
        metavar="T",
        help="temperature of the fluid, for the pump's inlet (default 20)",
    )


def _number(text: str) -> float:
    """Return a finite number."""
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if not abs(number) < float("inf"):
        raise argparse.ArgumentTypeError(f"must be a number, got {text!r}")
    return number


def _positive(text: str) -> float:
    """Return a number above 0."""
    number = _number(text)
    if number <= 0.0:
        raise argparse.ArgumentTypeError(f"must be above 0, got {text!r}")
    return number


def _target(text: str) -> float:
    """Return a target in per cent, or the published one that a name stands for."""
    return 2.0 if text.lower() == "iso-15380" else _positive(text)


def _words(text: str) -> tuple[str, ...]:
    """Return words that commas separate."""
    return tuple(word.strip() for word in text.split(",") if word.strip())


def _people(text: str) -> int:
    """Return how many people there are."""
    return _whole(text, low=1, high=9)


def _count(text: str) -> int:
    """Return a number of members."""
    return _whole(text, low=1, high=MOST_MEMBERS)


def _port(text: str) -> int:
    """Return the number of a port."""
    return _whole(text, low=0, high=65535)


def _seed(text: str) -> int:
    """Return a seed of the draws."""
    return _whole(text, low=0, high=2**32 - 1)


def _whole(text: str, *, low: int, high: int) -> int:
    """Return a whole number between two bounds."""
    allowed = f"must be a whole number from {low} to {high}, got {text!r}"
    try:
        number = int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(allowed) from None
    if not low <= number <= high:
        raise argparse.ArgumentTypeError(allowed)
    return number
