"""Every key of a recipe file: those of the recipe, and those of each kind of step."""

from __future__ import annotations

from ullage.formats.schema import FileKind, Key, Table, choice, flag, name, names, real, text, whole

_COLDEST_DEGC, _HOTTEST_DEGC = -60.0, 200.0

_OWN_TEMPERATURE = real(
    name="temperature_degc",
    about="temperature of the fluid in this step",
    otherwise="that of the recipe",
    example="60",
    low=_COLDEST_DEGC,
    high=_HOTTEST_DEGC,
)
_EXERCISE = (
    real(
        name="rev_min",
        about="speed of engine or motor",
        otherwise="idle_rev_min of the circuit",
        example="750",
        above=0.0,
    ),
    names(
        name="exercise",
        about="groups or legs that move in this step",
        otherwise="none",
        example='["front", "rear"]',
    ),
    whole(
        name="cycles",
        about="whole cycles of each group, one after the other, at the start of the step",
        otherwise="as many as fit",
        example="4",
        low=0.0,
        high=10_000.0,
    ),
    flag(
        name="together",
        about="all of them move in the same cycle",
        otherwise="false: in turn",
        example="true",
    ),
    real(
        name="period_s",
        about="time of one whole cycle at the best flow",
        otherwise="10",
        example="10",
        above=0.0,
    ),
)
_LEGS = names(
    name="legs",
    about="groups or legs that it is done with",
    otherwise="all that a person may move",
    example='["front"]',
)
_LITRES = real(
    name="litres",
    about="litres that go to waste",
    required=True,
    example="4",
    low=0.0,
    reads_as="l",
)
_MINUTES = real(name="minutes", about="how long", required=True, example="3", low=0.0)

# What each word behind `do` means, and the keys that it takes beside temperature_degc.
_STEPS: dict[str, tuple[str, tuple[Key, ...]]] = {
    "draw-off": (
        "take fluid from the reservoir to waste",
        (
            real(
                name="leave_l",
                about="what stays; never less than the heel",
                otherwise="heel_l",
                example="0.2",
                low=0.0,
            ),
        ),
    ),
    "fill": (
        "pour new fluid into the reservoir",
        (real(name="to_l", about="up to here", otherwise="full_l", example="3.0", low=0.0),),
    ),
    "top-up": (
        "the fill at the end of a job",
        (real(name="to_l", about="up to here", otherwise="full_l", example="3.2", low=0.0),),
    ),
    "exchange": (
        "the pump runs, the return goes to waste, new fluid keeps the level",
        (_LITRES, *_EXERCISE),
    ),
    "circulate": ("the pump runs, the return goes to the reservoir", (_MINUTES, *_EXERCISE)),
    "retract": ("move legs to their retracted ends", (_LEGS,)),
    "extend": ("move legs to their extended ends", (_LEGS,)),
    "release": (
        "let the pressure go: gas volumes give their oil back",
        (
            _LEGS,
            flag(
                name="supported",
                about="the machine is held up, so the legs need not sink first",
                otherwise="false",
                example="true",
            ),
        ),
    ),
    "charge": ("pressure up: gas volumes take their oil", (_LEGS,)),
    "bleed": (
        "send fluid through one leg and out at its bleed point",
        (
            name(
                name="leg",
                about="leg with a bleed point",
                required=True,
                example='"front-left"',
            ),
            _LITRES,
        ),
    ),
    "swap-filter": (
        "throw away what every element node holds",
        (
            flag(
                name="prefilled",
                about="refilled by hand with new fluid; else it fills from the reservoir at the "
                "next start",
                otherwise="true",
                example="true",
            ),
        ),
    ),
    "stand": ("wait with the pump off", (_MINUTES,)),
}

_DO = choice(
    name="do",
    about="what is done",
    required=True,
    example='"exchange"',
    choices=tuple(_STEPS),
)

STEP = Table(
    name="step",
    about="one step; steps are carried out in the order of the file",
    many=True,
    required=True,
    keys=(_DO, _OWN_TEMPERATURE),
)

STEP_OF: dict[str, Table] = {
    word: Table(name="step", about=about, many=True, keys=(_DO, *keys, _OWN_TEMPERATURE))
    for word, (about, keys) in _STEPS.items()
}

RECIPE = FileKind(
    word="recipe",
    version=1,
    ending=".recipe.toml",
    about="what is done, step by step",
    keys=(
        text(
            name="name",
            about="what people call it",
            required=True,
            example='"Divert, alternate axles"',
        ),
        real(
            name="temperature_degc",
            about="temperature of the fluid; it sets the viscosity, and so the flow regime in each "
            "line",
            otherwise="60",
            example="60",
            low=_COLDEST_DEGC,
            high=_HOTTEST_DEGC,
        ),
        real(
            name="new_fluid_degc",
            about="temperature of the containers; litres of a recipe are litres at "
            "temperature_degc",
            otherwise="20",
            example="20",
            low=_COLDEST_DEGC,
            high=_HOTTEST_DEGC,
        ),
    ),
    tables=(STEP,),
)
