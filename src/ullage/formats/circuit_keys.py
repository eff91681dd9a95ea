"""Every key of a circuit file; those of its parts and liquids stand in modules of their own."""

from __future__ import annotations

from ullage.circuit.parts import PumpKind, State
from ullage.formats.liquid_keys import FLUID, NEW_FLUID
from ullage.formats.part_keys import LEG, LINE, NODE, PATH
from ullage.formats.schema import FileKind, Table, choice, names, pairs, real, text, uncertain

_STATES = (State.CHARGED.value, State.RELEASED.value, State.RETRACTED.value)

RESERVOIR = Table(
    name="reservoir",
    about="the vessel that a person can see into: mixed, of variable volume",
    required=True,
    keys=(
        uncertain(
            name="full_l",
            about="what it holds at the full mark",
            required=True,
            example="3.2",
            above=0.0,
        ),
        uncertain(
            name="minimum_l",
            about="below this the pump may draw air",
            required=True,
            example="1.1",
            low=0.0,
        ),
        uncertain(
            name="brim_l",
            about="where it runs over",
            otherwise="15 % above full_l",
            example="3.7",
            above=0.0,
        ),
        uncertain(
            name="heel_l",
            about="what an extractor cannot reach",
            otherwise="0",
            example="0.2",
            low=0.0,
        ),
        uncertain(
            name="area_cm2",
            about="free surface; turns litres into millimetres where the walls are upright",
            otherwise="no millimetres are shown",
            example="210",
            above=0.0,
        ),
        pairs(
            name="table_mm_l",
            about="height in mm and content in litres, pair by pair from the bottom up,"
            " where the walls are not upright; counts where area_cm2 stands "
            "beside it",
            example="[[0, 0.2], [40, 0.9], [120, 3.2]]",
            low=0.0,
            is_plain=True,
        ),
        uncertain(
            name="start_l",
            about="what it holds when the job starts, as found",
            otherwise="full_l",
            example="3.2",
            low=0.0,
        ),
        choice(
            name="mark",
            about="state of the machine in which the full mark holds",
            otherwise='"charged"',
            example='"charged"',
            choices=_STATES,
        ),
        real(
            name="mark_degc",
            about="temperature of the fluid at which the full mark holds",
            otherwise="20",
            example="20",
            low=-60.0,
            high=200.0,
        ),
        uncertain(
            name="dead_pct",
            about="share of full_l that hardly mixes and is drawn off last",
            otherwise="0",
            example="0",
            low=0.0,
            below=100.0,
        ),
        uncertain(
            name="bypass_pct",
            about="share of the inflow that goes straight to the outlet",
            otherwise="0",
            example="0",
            low=0.0,
            below=100.0,
        ),
    ),
)

PUMP = Table(
    name="pump",
    about="what moves the fluid",
    required=True,
    keys=(
        choice(
            name="kind",
            about='"fixed" moves the same each turn; "pressure-held" only what is asked'
            ' for, or idle_flow_pct; "hand" is a pedal or a pressure bleeder',
            otherwise='"fixed"',
            example='"fixed"',
            choices=tuple(kind.value for kind in PumpKind),
        ),
        uncertain(
            name="displacement_ml_rev",
            about="what it moves in one turn; not for hand pumps, needed for all others",
            example="9.5",
            above=0.0,
        ),
        uncertain(
            name="efficiency_pct",
            about="volumetric: what arrives of what is displaced",
            otherwise="100",
            example="{ best = 88, low = 60, high = 95 }",
            above=0.0,
            high=100.0,
        ),
        real(
            name="speed_ratio",
            about="turns of the pump for one turn of engine or motor",
            otherwise="1",
            example="1.0",
            above=0.0,
            is_plain=True,
        ),
        real(
            name="idle_rev_min",
            about="speed of engine or motor when nobody asks for more; needed except "
            "for hand pumps",
            example="750",
            above=0.0,
        ),
        uncertain(
            name="idle_flow_pct",
            about="pressure-held pumps: what circulates without demand, of the full flow",
            otherwise="100, as a diverter left open makes the pump deliver all it has",
            example="15",
            above=0.0,
            high=100.0,
        ),
        uncertain(
            name="limit_l_min",
            about="where the flow stops rising with speed",
            otherwise="no limit",
            example="40",
            above=0.0,
        ),
        real(
            name="duty_s",
            about="how long an electric power pack may run",
            otherwise="no limit",
            example="60",
            above=0.0,
        ),
        real(name="rest_s", about="how long it must rest afterwards", example="120", above=0.0),
        uncertain(
            name="flow_l_min",
            about="hand pumps: what they push out, in place of displacement, speed and efficiency",
            example="0.3",
            above=0.0,
        ),
    ),
)

LIMITS = Table(
    name="limits",
    about="what the machine allows; a missing limit is common practice, and the program says so",
    keys=(
        real(
            name="coldest_start_degc", about="coldest start", example="-15", low=-60.0, high=200.0
        ),
        real(name="hottest_degc", about="hottest run", example="80", low=-60.0, high=200.0),
        real(
            name="nu_start_max_mm2_s",
            about="thickest fluid that the pump may start with",
            example="1000",
            above=0.0,
        ),
        real(
            name="nu_run_min_mm2_s",
            about="thinnest fluid that still carries a film",
            example="10",
            above=0.0,
        ),
        real(
            name="inlet_min_bara",
            about="lowest pressure at the pump's inlet",
            example="0.8",
            low=0.0,
            high=10.0,
        ),
        text(
            name="target_code",
            pattern=r"(\d{1,2}|-)/(\d{1,2}|-)/(\d{1,2}|-)",
            about="wanted cleanliness (ISO 4406)",
            example='"18/16/13"',
        ),
        names(name="seals", about="materials of the seals", example='["NBR"]'),
    ),
)

HEAT = Table(
    name="heat",
    about="what warms and cools the machine, as one lump",
    keys=(
        real(name="ambient_degc", about="air around it", example="15", low=-60.0, high=200.0),
        uncertain(
            name="ua_w_k", about="heat lost per kelvin above the air", example="12", above=0.0
        ),
        uncertain(
            name="heat_capacity_j_k",
            about="heat taken per kelvin, fluid and metal",
            example="60000",
            above=0.0,
        ),
        real(
            name="pump_bar",
            about="pressure that the pump works against while warming",
            example="60",
            low=0.0,
            is_gauge=True,
        ),
    ),
)

CIRCUIT = FileKind(
    word="circuit",
    version=1,
    ending=".circuit.toml",
    about="what holds fluid in a machine and how it is joined",
    keys=(
        text(
            name="name",
            about="what people call the machine",
            required=True,
            example='"Four-corner parking leveller"',
        ),
    ),
    tables=(RESERVOIR, PUMP, LINE, NODE, PATH, LEG, FLUID, NEW_FLUID, LIMITS, HEAT),
)
