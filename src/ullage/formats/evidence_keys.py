"""Every key of an evidence file."""

from __future__ import annotations

from ullage.circuit.parts import State
from ullage.evidence.observation import Counted
from ullage.formats.schema import FileKind, Table, choice, real, text, whole

_COLDEST_DEGC, _HOTTEST_DEGC = -60.0, 200.0

_SHARES = text(
    name="shares",
    about="readings with the same text here have one error in common",
    otherwise="an error of its own",
    example='"photo-1"',
)
_AT_DEGC = real(
    name="at_degc",
    about="temperature of the fluid when it was read",
    otherwise="that of the recipe",
    example="55",
    low=_COLDEST_DEGC,
    high=_HOTTEST_DEGC,
)
_AFTER_STEP = whole(
    name="after_step",
    about="step of the recipe that had ended, counted from 1; 0: before the first",
    required=True,
    example="3",
    low=0.0,
)
_STEP = whole(
    name="step",
    about="step of the recipe, counted from 1",
    required=True,
    example="3",
    low=1.0,
)

SAMPLE = Table(
    name="sample",
    about="old-fluid share of a sample",
    many=True,
    keys=(
        text(
            name="where",
            about='"outflow" (the last 0.1 l), "reservoir", "bucket" (all waste so far, mixed) or '
            '"leg:" with the id of a leg (its chamber)',
            required=True,
            example='"outflow"',
            pattern="outflow|reservoir|bucket|leg:.+",
        ),
        _AFTER_STEP,
        real(
            name="at_step_l",
            about="drawn not at its end but when so many litres of that step had gone to waste",
            otherwise="at its end",
            example="2.0",
            low=0.0,
        ),
        real(
            name="old_pct",
            about="old fluid in the sample",
            required=True,
            example="22.0",
            low=0.0,
            high=100.0,
        ),
        real(
            name="u_pct",
            about="standard uncertainty, in points",
            otherwise="5, which is an eye with references beside it",
            example="3.0",
            above=0.0,
            high=100.0,
        ),
        text(
            name="ref",
            about='old fluid that the reference stood for: "reservoir" or the id of a leg',
            otherwise='"reservoir"',
            example='"reservoir"',
        ),
        _SHARES,
    ),
)

VOLUME = Table(
    name="volume",
    about="a volume by jug or by scale",
    many=True,
    keys=(
        choice(
            name="what",
            about="which volume it is",
            required=True,
            example='"drawn-off"',
            choices=tuple(counted.value for counted in Counted),
        ),
        whole(
            name="step",
            about="step of the recipe, counted from 1",
            otherwise="over the whole job",
            example="1",
            low=1.0,
        ),
        real(name="litres", about="by jug", example="1.62", low=0.0, reads_as="l"),
        real(
            name="grams",
            about="by kitchen scale, in place of litres",
            example="1405",
            low=0.0,
            is_plain=True,
        ),
        _AT_DEGC,
        real(
            name="u_l",
            about="standard uncertainty",
            otherwise="0.05, or 0.02 by scale",
            example="0.05",
            above=0.0,
        ),
        _SHARES,
    ),
)

LEVEL = Table(
    name="level",
    about="the level in the reservoir",
    many=True,
    keys=(
        _AFTER_STEP,
        real(name="mm", about="height above the full mark, negative below it", example="-12"),
        real(
            name="litres",
            about="content of the reservoir, in place of mm",
            example="2.9",
            low=0.0,
            reads_as="l",
        ),
        choice(
            name="state",
            about="state of the machine when it was read",
            otherwise='"charged"',
            example='"charged"',
            choices=tuple(state.value for state in State),
        ),
        _AT_DEGC,
        real(name="u_mm", about="standard uncertainty", otherwise="3", example="2", above=0.0),
        real(
            name="u_l",
            about="standard uncertainty of litres",
            otherwise="0.05",
            example="0.05",
            above=0.0,
        ),
    ),
)

FLOW = Table(
    name="flow",
    about="a container timed at the diverter",
    many=True,
    keys=(
        real(
            name="litres",
            about="what ran into it",
            required=True,
            example="1.0",
            above=0.0,
            reads_as="l",
        ),
        real(
            name="seconds",
            about="in this time",
            required=True,
            example="9.1",
            above=0.0,
            reads_as="s",
        ),
        real(
            name="rev_min",
            about="speed of engine or motor",
            otherwise="idle_rev_min of the circuit",
            example="750",
            above=0.0,
        ),
        real(
            name="u_pct",
            about="standard uncertainty of the flow, of its value",
            otherwise="4, which is a stop-watch and a marked container",
            example="4",
            above=0.0,
            high=100.0,
        ),
    ),
)

TURN = Table(
    name="turn",
    about="when the outflow visibly changed",
    many=True,
    keys=(
        _STEP,
        real(
            name="at_l",
            about="litres of that step gone to waste by then",
            required=True,
            example="2.9",
            low=0.0,
        ),
        real(
            name="u_l",
            about="standard uncertainty",
            otherwise="0.2",
            example="0.2",
            above=0.0,
        ),
    ),
)

TRAVEL = Table(
    name="travel",
    about="how far a leg really moved",
    many=True,
    keys=(
        text(name="leg", about="id of the leg", required=True, example='"front-left"'),
        real(
            name="pct",
            about="share of its stroke",
            required=True,
            example="80",
            low=0.0,
            high=100.0,
        ),
        real(
            name="u_pct",
            about="standard uncertainty, in points",
            otherwise="5",
            example="5",
            above=0.0,
            high=100.0,
        ),
    ),
)

CYCLES = Table(
    name="cycles",
    about="how many cycles were really made",
    many=True,
    keys=(
        _STEP,
        text(name="group", about="group or leg that moved", required=True, example='"front"'),
        whole(name="count", about="whole cycles", required=True, example="4", low=0.0, high=1e4),
    ),
)

EVIDENCE = FileKind(
    word="evidence",
    version=1,
    ending=".evidence.toml",
    about="what was measured while a recipe was carried out",
    keys=(text(name="name", about="what people call it", example='"Service in May"'),),
    tables=(SAMPLE, VOLUME, LEVEL, FLOW, TURN, TRAVEL, CYCLES),
)
