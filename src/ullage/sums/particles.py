"""Sums about particles: codes and classes, filters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from ullage.errors import OutOfRange
from ullage.fluids.cleanliness import (
    NOT_COUNTED,
    TOO_MANY,
    ScaleNumber,
    code_from_counter,
    code_from_microscope,
)
from ullage.fluids.contamination_class import (
    AS4059_SIZES_UM,
    ContaminationClass,
    as4059_class,
    nas1638_class,
)
from ullage.fluids.filtration import (
    FilterLoop,
    efficiency_share,
    retention,
    time_to_concentration,
)
from ullage.sums.bench_sum import BenchSum, Found, Output, figure
from ullage.sums.key import Key, Kind, Unread
from ullage.units.suffixes import Suffix, suffix

_MOST_PER_ML = 1e9
_MOST_PER_100_ML = 1e11
_PER_MINUTE = Suffix(
    suffix="per_min",
    dimension="rate",
    si="per_s",
    factor=1.0 / 60.0,
    bracket="1/min",
    shown="1/min",
)
_MICROSCOPE_KEYS = ("n5_per_ml", "n15_per_ml", "raw5", "raw15")
NAS_KEYS = ("n5_15", "n15_25", "n25_50", "n50_100", "n100")


def _concentration(name: str, size: str) -> Key:
    """Return a key for a count per millilitre, kept as typed: the scale decides by equality."""
    return Key(
        name=name,
        meaning=f"particles of at least {size} per ml; - if not counted, * if too many",
        kind=Kind.COUNT,
        low=0.0,
        high=_MOST_PER_ML,
        own_unit=True,
        may_be_left_out=True,
    )


def _raw(name: str, size: str) -> Key:
    """Return a key for particles really counted."""
    return Key(
        name=name,
        meaning=f"particles of {size} really counted",
        kind=Kind.WHOLE,
        low=0,
        high=1e12,
        may_be_left_out=True,
    )


def _per_100_ml(name: str, meaning: str) -> Key:
    """Return a key for a count per 100 ml, kept as typed."""
    return Key(
        name=name,
        meaning=meaning,
        unit=suffix("per_100_ml"),
        low=0.0,
        high=_MOST_PER_100_ML,
        own_unit=True,
        may_be_left_out=True,
    )


def _counts_list(meaning: str) -> Key:
    """Return a key for all counts per 100 ml in one list."""
    return Key(
        name="counts",
        meaning=meaning,
        kind=Kind.NUMBERS,
        unit=suffix("per_100_ml"),
        low=0.0,
        high=_MOST_PER_100_ML,
        own_unit=True,
        may_be_left_out=True,
        si_name="counts_per_100_ml",
    )


def _iso4406(**given: float | Unread) -> Found:
    """Find the code, from counter or microscope, whichever counts were given."""
    by_microscope = [name for name in given if name in _MICROSCOPE_KEYS]
    by_counter = [name for name in given if name not in _MICROSCOPE_KEYS]
    if by_microscope and by_counter:
        raise OutOfRange(
            by_microscope[0],
            f"beside {by_counter[0]}",
            "given without sizes of a counter",
            "a code is made of 4, 6 and 14 um(c), or of 5 and 15 um, not of both",
        )
    raw = {name: float(value) for name, value in given.items() if isinstance(value, int)}
    if by_microscope:
        n5, n15 = _scales(("n5_per_ml", "n15_per_ml"), given)
        code = code_from_microscope(n5, n15, raw5=raw.get("raw5"), raw15=raw.get("raw15"))
    else:
        n4, n6, n14 = _scales(("n4_per_ml", "n6_per_ml", "n14_per_ml"), given)
        code = code_from_counter(
            n4, n6, n14, raw4=raw.get("raw4"), raw6=raw.get("raw6"), raw14=raw.get("raw14")
        )
    return Found(values={"code": code.text}, caveats=code.caveats)


def _scales(
    names: tuple[str, ...], given: Mapping[str, float | Unread]
) -> list[float | ScaleNumber]:
    """Return the counts of all sizes of a code, as the codes take them."""
    for name in names:
        if name not in given:
            raise OutOfRange(
                name, "nothing", f"given with {', '.join(names)}", "write - if it was not counted"
            )
    return [_scale(given[name]) for name in names]


def _scale(value: float | Unread) -> float | ScaleNumber:
    """Return a count as the codes take it."""
    if isinstance(value, Unread):
        return NOT_COUNTED if value is Unread.NOT_COUNTED else TOO_MANY
    return value


def _as4059(counts_per_100_ml: tuple[float, ...] | None = None, **by_size: float) -> Found:
    """Find the classes of AS4059."""
    if counts_per_100_ml is not None:
        _refuse_both(by_size)
        if len(counts_per_100_ml) != len(AS4059_SIZES_UM):
            raise OutOfRange(
                "counts",
                f"{len(counts_per_100_ml)} numbers",
                "six, for the sizes a to f",
                "or give some of them as a= to f=",
            )
        by_size = dict(zip(AS4059_SIZES_UM, counts_per_100_ml, strict=True))
    if not by_size:
        raise OutOfRange("a to f", "nothing", "given for at least one size")
    return _classes(as4059_class(by_size))


def _nas1638(counts_per_100_ml: tuple[float, ...] | None = None, **by_range: float) -> Found:
    """Find the class of NAS 1638."""
    if counts_per_100_ml is None:
        missing = [name for name in NAS_KEYS if name not in by_range]
        if missing:
            raise OutOfRange(
                "counts", "nothing", f"five numbers, or all of {', '.join(NAS_KEYS)} given"
            )
        counts_per_100_ml = tuple(by_range[name] for name in NAS_KEYS)
    else:
        _refuse_both(by_range)
    return _classes(nas1638_class(counts_per_100_ml))


def _refuse_both(single: dict[str, float]) -> None:
    """Refuse counts that come in a list and one by one."""
    if single:
        raise OutOfRange("counts", f"beside {', '.join(single)}", "given alone")


def _classes(found: ContaminationClass) -> Found:
    """Return classes as values by name."""
    return Found(
        values={
            "class": found.overall,
            "classes": dict(found.by_size),
            "designation": found.designation,
        },
        caveats=found.caveats,
    )


def _beta(upstream: float, downstream: float) -> Found:
    """Work out what a filter holds back."""
    found = retention(upstream=upstream, downstream=downstream)
    return Found(
        values={"beta": found.ratio, "efficiency_vfrac": found.efficiency_share},
        caveats=found.caveats,
    )


def _filter_time(
    volume_m3: float,
    flow_m3_s: float,
    beta: float,
    start_per_m3: float,
    target_per_m3: float,
    ingress_per_s: float,
) -> Found:
    """Work out how long a filter takes."""
    loop = FilterLoop(
        volume_m3=volume_m3,
        flow_m3_s=flow_m3_s,
        efficiency_share=efficiency_share(ratio=beta),
        ingress_per_s=ingress_per_s,
    )
    found = time_to_concentration(loop=loop, start_per_m3=start_per_m3, target_per_m3=target_per_m3)
    return Found(
        values={
            "time_s": found.time_s,
            "steady_per_m3": loop.steady_per_m3,
            "steady_behind_per_m3": loop.steady_behind_per_m3,
            "time_constant_s": loop.time_constant_s,
        },
        caveats=found.caveats,
    )


_CLASS_OUTPUTS = (
    Output(name="class", meaning="worst class of the sizes given"),
    Output(name="classes", meaning="class of each size"),
    Output(name="designation", meaning="the class as it is written down"),
)

SUMS: Final = (
    BenchSum(
        name="iso4406",
        purpose="particle code of a count",
        keys=(
            _concentration("n4_per_ml", "4 um(c)"),
            _concentration("n6_per_ml", "6 um(c)"),
            _concentration("n14_per_ml", "14 um(c)"),
            _raw("raw4", "4 um(c)"),
            _raw("raw6", "6 um(c)"),
            _raw("raw14", "14 um(c)"),
            _concentration("n5_per_ml", "5 um, microscope"),
            _concentration("n15_per_ml", "15 um, microscope"),
            _raw("raw5", "5 um"),
            _raw("raw15", "15 um"),
        ),
        outputs=(Output(name="code", meaning="particle code"),),
        formula="scale number = first row of the printed table whose bound holds the count; >= "
        "before it where fewer than 20 particles were counted",
        source="ISO 4406:2017, table 1 and clause 4",
        validity="Counter calibrated to ISO 11171, or microscope to ISO 4407. A step is a factor "
        "of two: one number of difference is within the spread of the method.",
        work=_iso4406,
        say=lambda given, found: f"The code is {found['code']}.",
        example=("n4_per_ml=150", "n6_per_ml=25", "n14_per_ml=1", "raw14=15"),
    ),
    BenchSum(
        name="as4059",
        purpose="aerospace class of a count above sizes",
        keys=(
            *(
                _per_100_ml(letter, f"particles above {size} um(c) per 100 ml")
                for letter, size in AS4059_SIZES_UM.items()
            ),
            _counts_list("the same six counts in one list, a to f"),
        ),
        outputs=_CLASS_OUTPUTS,
        formula="class = first row of the printed table that holds the count, size by size",
        source="SAE AS4059 rev. E, table 2",
        validity="Counter calibrated to ISO 11171. On paper a class without a letter means size B.",
        work=_as4059,
        say=lambda given, found: (
            f"AS4059 class {found['designation']} (by size: "
            f"{', '.join(found['classes'].values())})."
        ),
        example=("a=50000", "b=15000", "c=2500", "d=400", "e=60", "f=8"),
    ),
    BenchSum(
        name="nas1638",
        purpose="NAS class of a count between sizes",
        keys=(
            _counts_list(
                "particles per 100 ml of 5-15, 15-25, 25-50, 50-100 and above 100 um, in one list"
            ),
            *(
                _per_100_ml(name, f"particles of {text} um per 100 ml, instead of the list")
                for name, text in zip(
                    NAS_KEYS, ("5-15", "15-25", "25-50", "50-100", "above 100"), strict=True
                )
            ),
        ),
        outputs=_CLASS_OUTPUTS,
        formula="class = first row of the printed table that holds the count, worst of the ranges",
        source="NAS 1638 (1964)",
        validity="Sizes on the calibration before 1999; withdrawn for new designs.",
        work=_nas1638,
        say=lambda given, found: (
            f"{found['designation']} (by range: {', '.join(found['classes'].values())})."
        ),
        example=("counts=30000,4000,500,90,10",),
    ),
    BenchSum(
        name="beta",
        purpose="ratio and efficiency of a filter from counts on both sides",
        keys=(
            Key(
                name="up",
                meaning="particles before the filter",
                above=0.0,
                high=1e15,
                si_name="upstream",
            ),
            Key(
                name="down",
                meaning="particles behind it, same size and unit",
                low=0.0,
                high=1e15,
                si_name="downstream",
            ),
        ),
        outputs=(
            Output(name="beta", meaning="filtration ratio"),
            Output(name="efficiency_pct", meaning="particles held back"),
        ),
        formula="beta = up/down; efficiency = 1 - 1/beta",
        source="ISO 16889",
        validity="One size and one moment; ratios above 1000 are not told apart by the test.",
        work=_beta,
        say=lambda given, found: (
            f"Beta {figure(found['beta'])}: the filter holds back "
            f"{float(found['efficiency_pct']):.6g} % of what arrives."
        ),
        example=("up=1000", "down=50"),
    ),
    BenchSum(
        name="filter-time",
        purpose="time to clean a circuit through a filter, and where it settles",
        keys=(
            Key(name="volume_l", meaning="fluid that is mixed", above=0.0, high=1e6),
            Key(name="flow_l_min", meaning="flow through the filter", above=0.0, high=1e5),
            Key(
                name="beta",
                meaning="filtration ratio at the size",
                above=1.0,
                high=1e6,
            ),
            Key(name="start_per_ml", meaning="particles at the start", low=0.0, high=_MOST_PER_ML),
            Key(name="target_per_ml", meaning="particles wanted", above=0.0, high=_MOST_PER_ML),
            Key(
                name="ingress_per_min",
                meaning="particles that get in per minute",
                unit=_PER_MINUTE,
                low=0.0,
                high=1e15,
                default="0",
                si_name="ingress_per_s",
            ),
        ),
        outputs=(
            Output(name="time_minutes", meaning="time to the target"),
            Output(name="steady_per_ml", meaning="where it settles, before the filter"),
            Output(name="steady_behind_per_ml", meaning="where it settles, behind the filter"),
            Output(name="time_constant_minutes", meaning="time for 63 % of the whole change"),
        ),
        formula="V dN/dt = R - Q (1 - 1/beta) N; steady N = R/(Q (1 - 1/beta))",
        source="mixed loop after Fitch; derived",
        validity="Mixing much faster than filtering, steady ingress, no bypass; particles above "
        "20 um settle instead of mixing.",
        work=_filter_time,
        say=lambda given, found: (
            f"The target is reached after {figure(found['time_minutes'])} minutes; in the long "
            f"run the fluid settles at {figure(found['steady_per_ml'])} per ml."
        ),
        example=(
            "volume_l=12",
            "flow_l_min=6",
            "beta=75",
            "start_per_ml=10000",
            "target_per_ml=1300",
            "ingress_per_min=100000",
        ),
    ),
)
