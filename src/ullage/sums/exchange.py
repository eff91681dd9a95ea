"""Sums about old and new fluid: drains, purges, the dilution check, residence times."""

from __future__ import annotations

from typing import Final

from ullage.errors import OutOfRange
from ullage.fluids import washout
from ullage.fluids.drain_fill import drains
from ullage.fluids.reservoir import dilution_check
from ullage.fluids.residence import dispersion_number, residence_time
from ullage.sums.bench_sum import BenchSum, Found, Output, figure
from ullage.sums.key import Key, Kind
from ullage.units.suffixes import suffix

MODELS = ("mixed", "plug", "laminar", "tanks", "dead-space")
TOTAL = Key(name="total_l", meaning="fluid of the whole circuit", above=0.0, high=1e5)


def _drain_fill(total_m3: float, drained_m3: tuple[float, ...]) -> Found:
    """Work out what each drain and refill leaves."""
    return Found(values={"remaining_vfrac": drains(total_m3=total_m3, drained_m3=drained_m3)})


def _purge(
    total_m3: float,
    through_m3: float,
    model: str,
    tanks: int | None = None,
    active_share: float | None = None,
    mixed_feed_share: float | None = None,
) -> Found:
    """Work out what a purge leaves, for one of the models."""
    _refuse_strays(model, tanks=tanks, active_share=active_share, mixed_feed_share=mixed_feed_share)
    turnovers = through_m3 / total_m3
    match model:
        case "plug":
            found = washout.plug(turnovers=turnovers)
        case "laminar":
            found = washout.laminar(turnovers=turnovers)
        case "tanks":
            found = washout.tanks_in_series(
                turnovers=turnovers, tanks=_needed("tanks", tanks, "model=tanks")
            )
        case "dead-space":
            found = washout.dead_space(
                turnovers=turnovers,
                active_share=_needed("active_share", active_share, "model=dead-space"),
                mixed_feed_share=1.0 if mixed_feed_share is None else mixed_feed_share,
            )
        case _:
            found = washout.mixed(turnovers=turnovers)
    return Found(
        values={
            "outlet_vfrac": found.outlet_vfrac,
            "inside_vfrac": found.inside_vfrac,
            "turnovers": turnovers,
            "old_left_m3": found.inside_vfrac * total_m3,
        }
    )


def _refuse_strays(model: str, **given: float | None) -> None:
    """Refuse a number that the chosen model does not use: the person meant another model."""
    used = {"tanks": ("tanks",), "dead-space": ("active_share", "mixed_feed_share")}
    for name, value in given.items():
        if value is not None and name not in used.get(model, ()):
            owner = next(model for model, names in used.items() if name in names)
            raise OutOfRange(name, f"{value:g}", f"left out with model={model}", f"model={owner}?")


def _needed(name: str, value: float | None, model: str) -> float:
    """Return a number that the chosen model needs."""
    if value is None:
        raise OutOfRange(name, "nothing", f"given with {model}")
    return value


def _dilution(known_m3: float, before_vfrac: float, after_vfrac: float, u_vfrac: float) -> Found:
    """Work out what came out of hiding."""
    found = dilution_check(
        known_m3=known_m3,
        before_vfrac=before_vfrac,
        after_vfrac=after_vfrac,
        u_before_vfrac=u_vfrac,
        u_after_vfrac=u_vfrac,
    )
    return Found(
        values={"hidden_m3": found.hidden_m3, "u_m3": found.u_m3, "limit_m3": found.limit_m3},
        caveats=found.caveats,
    )


def _residence(times_s: tuple[float, ...], concentrations: tuple[float, ...]) -> Found:
    """Work out moments and models of a tracer curve."""
    found = residence_time(times_s=times_s, concentrations=concentrations)
    return Found(
        values={
            "mean_s": found.mean_s,
            "variance_s2": found.variance_s2,
            "tanks": found.tanks,
            "dispersion_number": dispersion_number(relative_variance=found.relative_variance),
        },
        caveats=found.caveats,
    )


SUMS: Final = (
    BenchSum(
        name="drain-fill",
        purpose="old fluid left after each of several drains and refills",
        keys=(
            TOTAL,
            Key(
                name="drained_l",
                meaning="litres of each drain, in order",
                kind=Kind.NUMBERS,
                low=0.0,
                high=1e5,
            ),
        ),
        outputs=(
            Output(name="remaining_pct", meaning="old fluid over all fluid after each refill"),
        ),
        formula="remaining = product of (1 - drained/total)",
        source="derived: balance of old fluid",
        validity="Everything mixes between refill and next drain; without running and exercising "
        "in between, far too hopeful.",
        work=_drain_fill,
        say=lambda given, found: (
            f"After {len(found['remaining_pct'])} drains from {given['total_l']}, "
            f"{figure(found['remaining_pct'][-1])} % old fluid is left (step by step: "
            f"{', '.join(figure(one) for one in found['remaining_pct'])} %)."
        ),
        example=("total_l=10", "drained_l=4,4,4,4,4"),
    ),
    BenchSum(
        name="purge",
        purpose="old fluid after new fluid went through at constant level",
        keys=(
            TOTAL,
            Key(
                name="litres",
                meaning="new fluid that went through",
                unit=suffix("l"),
                low=0.0,
                high=1e6,
                si_name="through_m3",
            ),
            Key(
                name="model",
                meaning="how the fluid moves",
                kind=Kind.CHOICE,
                choices=MODELS,
                default="mixed",
            ),
            Key(
                name="tanks",
                meaning="number of equal tanks, for model=tanks",
                kind=Kind.WHOLE,
                low=1,
                high=1000,
                may_be_left_out=True,
            ),
            Key(
                name="active_pct",
                meaning="part of the volume that mixes, for model=dead-space",
                above=0.0,
                high=100.0,
                may_be_left_out=True,
                si_name="active_share",
            ),
            Key(
                name="mixed_feed_pct",
                meaning="part of the new fluid that mixes, for model=dead-space; 100 if left out",
                low=0.0,
                high=100.0,
                may_be_left_out=True,
                si_name="mixed_feed_share",
            ),
        ),
        outputs=(
            Output(name="outlet_pct", meaning="old fluid leaving now"),
            Output(name="inside_pct", meaning="old fluid left inside"),
            Output(name="turnovers", meaning="new fluid over the volume"),
            Output(name="old_left_l", meaning="old fluid left inside"),
        ),
        formula="x = litres/total; mixed exp(-x); plug 1 - x; laminar 1/(4 x^2) leaving, 1/(4 x) "
        "inside, from x = 1/2; tanks exp(-N x) sum (N x)^i/i!; dead-space n exp(-n x/m) leaving, "
        "m exp(-n x/m) + 1 - m inside",
        source="Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 11 to 15; Cholette and "
        "Cloutier 1959",
        validity="Constant level and flow. Dead legs do not take part unless they are counted as "
        "dead space.",
        work=_purge,
        say=lambda given, found: (
            f"After {given['litres']} ({figure(found['turnovers'])} volumes, {given['model']}) "
            f"{figure(found['inside_pct'])} % old fluid is left inside, while "
            f"{figure(found['outlet_pct'])} % leaves at the outlet."
        ),
        example=("total_l=10", "litres=20", "model=mixed"),
    ),
    BenchSum(
        name="dilution",
        purpose="how much old fluid came out of hiding, from two readings",
        keys=(
            Key(
                name="known_l",
                meaning="fluid that was mixed at the first reading",
                above=0.0,
                high=1e5,
            ),
            Key(name="before_pct", meaning="old fluid then", low=0.0, below=100.0),
            Key(
                name="after_pct",
                meaning="old fluid after long circulating and exercising",
                low=0.0,
                below=100.0,
            ),
            Key(
                name="u_pct",
                meaning="standard uncertainty of each reading, in points",
                low=0.0,
                high=50.0,
            ),
        ),
        outputs=(
            Output(name="hidden_l", meaning="volume full of old fluid that came out"),
            Output(name="u_l", meaning="its standard uncertainty"),
            Output(name="limit_l", meaning="smallest volume that the readings can show"),
        ),
        formula="Vh = Va (f1 - f0)/(1 - f1); shown from 1.645 Va sqrt(2) u on",
        source="derived: balance of old fluid; ISO 11843-1 for the limit, from memory",
        validity="A lower bound: only what came out is seen. Both readings stand for all the "
        "fluid that is mixed.",
        work=_dilution,
        say=lambda given, found: (
            f"At least {figure(found['hidden_l'])} l of old fluid came out of hiding, give or "
            f"take {figure(found['u_l'])} l (the readings show {figure(found['limit_l'])} l or "
            "more)."
        ),
        example=("known_l=8", "before_pct=10", "after_pct=20", "u_pct=1"),
    ),
    BenchSum(
        name="residence",
        purpose="mean, spread and mixing of a vessel from a tracer curve",
        keys=(
            Key(
                name="t_s",
                meaning="times since the pulse, rising",
                kind=Kind.NUMBERS,
                low=0.0,
                high=1e9,
                si_name="times_s",
            ),
            Key(
                name="c",
                meaning="tracer at the outlet at these times, any unit",
                kind=Kind.NUMBERS,
                low=0.0,
                high=1e12,
                si_name="concentrations",
            ),
        ),
        outputs=(
            Output(name="mean_s", meaning="mean residence time"),
            Output(name="variance_s2", meaning="variance"),
            Output(name="tanks", meaning="equal mixed tanks with the same spread"),
            Output(name="dispersion_number", meaning="D/(u L) of a closed vessel"),
        ),
        formula="mean = int t c dt/int c dt; variance about it; tanks = mean^2/variance; "
        "variance/mean^2 = 2 m - 2 m^2 (1 - exp(-1/m))",
        source="Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 11 and 13",
        validity="A short pulse, the background taken off, the record run to the end of the tail.",
        work=_residence,
        say=lambda given, found: (
            f"Fluid stays {figure(found['mean_s'])} s on average; it spreads like "
            f"{figure(found['tanks'])} mixed tanks in a row (dispersion number "
            f"{figure(found['dispersion_number'])})."
        ),
        example=("t_s=0,5,10,15,20,25,30,35", "c=0,3,5,5,4,2,1,0"),
    ),
)
