"""Every key of the parts of a circuit file that fluid passes: lines, nodes, paths, legs."""

from __future__ import annotations

from ullage.circuit.parts import HeldBy
from ullage.formats.schema import (
    Table,
    choice,
    flag,
    name,
    names,
    real,
    table,
    text,
    uncertain,
    whole,
)

_SIZE = (
    uncertain(
        name="bore_mm",
        about="inside diameter; beside volume_l it serves the Reynolds number alone",
        example="10",
        above=0.0,
    ),
    uncertain(
        name="od_mm",
        about="outside diameter as a caliper finds it, with wall_mm, in place of bore_mm",
        example="12",
        above=0.0,
    ),
    uncertain(
        name="wall_mm",
        about="thickness of the wall (about 1 for steel, 3 for hose)",
        example="1",
        above=0.0,
    ),
    uncertain(name="length_m", about="length", example="3.5", above=0.0),
    uncertain(
        name="volume_l",
        about="content; counts where a bore stands beside it, and alone it means plug flow",
        example="0.27",
        above=0.0,
    ),
    whole(
        name="fittings",
        about="places that mix the cross-section again; they split the line in fittings + 1",
        otherwise="0",
        example="2",
        low=0.0,
        high=50.0,
        is_plain=True,
    ),
)

_ID = name(
    name="id",
    about="name of its own: lower-case letters, digits, hyphens",
    required=True,
    example='"supply"',
)

LINE = Table(
    name="line",
    about="a part that fluid moves along: a pipe or hose between two others",
    many=True,
    named_by="id",
    keys=(_ID, *_SIZE),
)

LEG_LINE = Table(name="line", about="the line between node and chamber", keys=_SIZE)

BETA = Table(
    name="beta",
    about="rating of the element from a test (ISO 16889)",
    keys=(
        real(
            name="um",
            about="particle size in um(c)",
            required=True,
            example="10",
            above=0.0,
            is_plain=True,
        ),
        real(
            name="ratio",
            about="particles above that size in front of it, over those behind it",
            required=True,
            example="75",
            low=1.0,
            is_plain=True,
        ),
    ),
)

CLEAN_DP = Table(
    name="clean_dp_bar",
    about="pressure drop of the clean element, and where it was measured",
    keys=(
        real(name="bar", about="pressure drop", required=True, example="0.2", above=0.0),
        real(name="at_l_min", about="flow", required=True, example="10", above=0.0),
        real(name="at_mm2_s", about="viscosity", required=True, example="30", above=0.0),
    ),
)

NODE = Table(
    name="node",
    about="a part that fluid mixes in: valve block, filter housing, cooler tank, pump body",
    many=True,
    named_by="id",
    keys=(
        _ID,
        uncertain(name="volume_l", about="content", required=True, example="0.35", above=0.0),
        flag(
            name="element",
            about="a filter housing: `swap-filter` takes its content away",
            otherwise="false",
            example="true",
        ),
        uncertain(
            name="element_l",
            about="what stays soaked in the old element, for the balance",
            otherwise="0",
            example="0.08",
            low=0.0,
        ),
        table(
            name="beta", about="rating from a test", example="{ um = 10, ratio = 75 }", table=BETA
        ),
        choice(
            name="rating",
            about='"nominal": a figure is printed on it, but no test stands behind it',
            example='"nominal"',
            choices=("nominal",),
        ),
        table(
            name="clean_dp_bar",
            about="pressure drop when clean",
            example="{ bar = 0.2, at_l_min = 10, at_mm2_s = 30 }",
            table=CLEAN_DP,
        ),
        real(
            name="bypass_bar",
            about="pressure drop at which the by-pass opens",
            example="1.7",
            above=0.0,
        ),
    ),
)

PATH = Table(
    name="path",
    about="a way of the flow from the reservoir through parts back to the reservoir",
    many=True,
    required=True,
    named_by="id",
    keys=(
        name(name="id", about="name of its own among the paths", required=True, example='"main"'),
        names(
            name="through",
            about="lines and nodes in flow order",
            required=True,
            example='["suction", "pump-body", "supply", "return"]',
        ),
        uncertain(
            name="share_pct",
            about="its share of the pump's flow; the best values of all paths that lead"
            " back add up to 100. A path with a thermostat may count into them or"
            " stand beside them",
            otherwise="100",
            example="100",
            above=0.0,
            high=100.0,
        ),
        name(
            name="divert_after",
            about="the last part before the place where an exchange sends the return to"
            " waste; what lies behind it stands still then",
            otherwise="it cannot be diverted",
            example='"return"',
        ),
        real(
            name="opens_above_degc",
            about="a thermostat: there is no flow below this",
            otherwise="always open",
            example="75",
            low=-60.0,
            high=200.0,
        ),
        uncertain(
            name="drains_l_min",
            about="what runs out at the diverter while the pump stands",
            otherwise="nothing",
            example="0.2",
            low=0.0,
        ),
        flag(
            name="dead_end",
            about="it has no way back: fluid moves only as far as a bleed point lets it out",
            otherwise="false",
            example="true",
        ),
    ),
)

GAS = Table(
    name="gas",
    about="a gas volume at the chamber; it holds volume x (1 - precharge / working) of "
    "oil, pressures absolute",
    keys=(
        uncertain(
            name="volume_l",
            about="volume of the gas side",
            required=True,
            example="0.35",
            above=0.0,
        ),
        real(
            name="precharge_bar",
            about="gas pressure without oil",
            required=True,
            example="60",
            low=0.0,
            is_gauge=True,
        ),
        real(
            name="working_bar",
            about="pressure when charged",
            required=True,
            example="120",
            low=0.0,
            is_gauge=True,
        ),
    ),
)

LEG = Table(
    name="leg",
    about="a dead-end branch: a line and the actuator chamber behind it. Without stroke"
    " but with gas it is an accumulator, without either a bleed dead end such as "
    "a brake line",
    many=True,
    named_by="id",
    keys=(
        name(
            name="id",
            about="name of its own: lower-case letters, digits, hyphens",
            required=True,
            example='"front-left"',
        ),
        name(
            name="group",
            about="legs that a recipe moves together under this name",
            example='"front"',
        ),
        name(
            name="at",
            about="node that feeds it; a node with legs stands on exactly one path",
            required=True,
            example='"valve-block"',
        ),
        name(
            name="returns_to",
            about="node on the same path, not upstream of `at`, that takes what it gives back",
            otherwise="at",
            example='"valve-block"',
        ),
        name(
            name="opposes",
            about="leg on the other side of the same double-acting actuator: it extends"
            " while this one retracts",
            example='"rack-left"',
        ),
        table(
            name="line",
            about="line between node and chamber, with the keys of [[line]] except id",
            required=True,
            example="{ bore_mm = 8, length_m = 3.2 }",
            table=LEG_LINE,
        ),
        uncertain(
            name="stroke_l",
            about="what the whole stroke moves",
            required=True,
            example="0.24",
            low=0.0,
        ),
        uncertain(
            name="dead_l",
            about="what stays in the chamber when fully retracted",
            otherwise="0, which is hopeful",
            example="0.06",
            low=0.0,
        ),
        uncertain(
            name="start_pct",
            about="where it stands before the job, 0 retracted to 100 extended",
            otherwise="50, or what the other side of its actuator leaves",
            example="50",
            low=0.0,
            high=100.0,
        ),
        uncertain(
            name="stroke_use_pct",
            about="how much of the stroke an exercise really moves",
            otherwise="100",
            example="100",
            above=0.0,
            high=100.0,
        ),
        flag(
            name="bleed",
            about="there is a bleed point at the chamber",
            otherwise="false",
            example="true",
        ),
        table(
            name="gas",
            about="gas volume at the chamber",
            example="{ volume_l = 0.35, precharge_bar = 60, working_bar = 120 }",
            table=GAS,
        ),
        choice(
            name="held_by",
            about="what keeps its fluid while the pump stands; a leg held by a "
            '"controller" is never moved by a recipe and counts as a floor',
            otherwise='"nothing"',
            example='"pilot"',
            choices=tuple(held.value for held in HeldBy),
        ),
        text(name="opens_with", about="how a person lets it move", example='"lowering lever"'),
    ),
)
