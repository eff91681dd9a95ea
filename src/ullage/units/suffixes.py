"""Which unit does a name carry?

A name ends in its unit: ``volume_m3``, ``flow_l_min``. One row here per suffix says what it
measures, which SI suffix it turns into, by what factor and offset, how people read it, and what
stands in brackets in a docstring. Core code uses the SI rows only; the others belong to the edge.

Gauge pressure (``_bar``) has no exact factor to absolute pressure; its row converts differences.
The offset of a gauge reading is applied by ``convert.absolute_pa_from_gauge_bar`` alone.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.errors import NotFound
from ullage.units import convert


@dataclass(frozen=True, slots=True, kw_only=True)
class Suffix:
    """One ending of a name and the unit it stands for.

    SI value = value x ``factor`` + ``offset``. ``bracket`` is the unit as docstrings print it,
    ``shown`` as screens do.
    """

    suffix: str
    dimension: str
    si: str
    factor: float
    bracket: str
    shown: str
    offset: float = 0.0

    @property
    def is_si(self) -> bool:
        """Tell whether names in the core may end in this suffix."""
        return self.suffix == self.si

    def to_si(self, value: float) -> float:
        """Return the value in the SI unit of the same dimension."""
        return value * self.factor + self.offset

    def from_si(self, value: float) -> float:
        """Return an SI value in the unit of this suffix."""
        return (value - self.offset) / self.factor


def _si(suffix: str, dimension: str, bracket: str) -> Suffix:
    """Return the row of an SI suffix: factor one, shown as in docstrings."""
    return Suffix(
        suffix=suffix, dimension=dimension, si=suffix, factor=1.0, bracket=bracket, shown=bracket
    )


def _edge(
    suffix: str, si: str, dimension: str, factor: float, unit: str, offset: float = 0.0
) -> Suffix:
    """Return the row of a suffix that only the edge uses."""
    return Suffix(
        suffix=suffix,
        dimension=dimension,
        si=si,
        factor=factor,
        bracket=unit,
        shown=unit,
        offset=offset,
    )


_ROWS: tuple[Suffix, ...] = (
    _si("m", "length", "m"),
    _si("m2", "area", "m2"),
    _si("m3", "volume", "m3"),
    _si("kg", "mass", "kg"),
    _si("s", "time", "s"),
    _si("s2", "time squared", "s2"),
    _si("k", "temperature", "K"),
    _si("dk", "temperature difference", "K"),
    _si("per_k", "expansion coefficient", "1/K"),
    _si("pa", "pressure", "Pa"),
    _si("pa_s", "dynamic viscosity", "Pa s"),
    _si("pa_m", "pressure gradient", "Pa/m"),
    _si("m_s", "velocity", "m/s"),
    _si("m_s2", "acceleration", "m/s2"),
    _si("m2_s", "kinematic viscosity or diffusivity", "m2/s"),
    _si("m3_s", "flow", "m3/s"),
    _si("kg_m3", "density", "kg/m3"),
    _si("kg_s", "mass flow", "kg/s"),
    _si("kg_kg", "mass ratio", "kg/kg"),
    _si("per_m3", "number concentration", "1/m3"),
    _si("per_s", "rate", "1/s"),
    _si("rev_s", "speed of rotation", "rev/s"),
    _si("m3_rev", "displacement", "m3/rev"),
    _si("n", "force", "N"),
    _si("j", "energy", "J"),
    _si("w", "power", "W"),
    _si("w_k", "conductance", "W/K"),
    _si("w_m2_k", "heat transfer coefficient", "W/(m2 K)"),
    _si("j_k", "heat capacity", "J/K"),
    _si("j_kg_k", "specific heat", "J/(kg K)"),
    _si("vfrac", "volume fraction", "m3/m3"),
    _si("wfrac", "mass fraction", "kg/kg"),
    _edge("mm", "m", "length", 1e-3, "mm"),
    _edge("um", "m", "length", 1e-6, "um"),
    _edge("km", "m", "length", 1e3, "km"),
    _edge("mile", "m", "length", convert.MILE_M, "mile"),
    _edge("inch", "m", "length", convert.INCH_M, "in"),
    _edge("cm2", "m2", "area", 1e-4, "cm2"),
    _edge("mm2", "m2", "area", 1e-6, "mm2"),
    _edge("l", "m3", "volume", convert.LITRE_M3, "l"),
    _edge("ml", "m3", "volume", 1e-6, "ml"),
    _edge("us_qt", "m3", "volume", convert.US_GALLON_M3 / 4, "US qt"),
    _edge("us_gal", "m3", "volume", convert.US_GALLON_M3, "US gal"),
    _edge("imp_qt", "m3", "volume", convert.IMPERIAL_GALLON_M3 / 4, "imp qt"),
    _edge("imp_gal", "m3", "volume", convert.IMPERIAL_GALLON_M3, "imp gal"),
    _edge("mg", "kg", "mass", 1e-6, "mg"),
    _edge("minutes", "s", "time", convert.MINUTE_S, "minutes"),
    _edge("hours", "s", "time", convert.HOUR_S, "h"),
    _edge("degc", "k", "temperature", 1.0, "degC", convert.ZERO_CELSIUS_K),
    _edge(
        "degf",
        "k",
        "temperature",
        convert.DEGREE_FAHRENHEIT_K,
        "degF",
        convert.ZERO_CELSIUS_K - 32.0 * convert.DEGREE_FAHRENHEIT_K,
    ),
    _edge("bar", "pa", "gauge pressure or difference", convert.BAR_PA, "bar"),
    _edge("bara", "pa", "absolute pressure", convert.BAR_PA, "bar abs"),
    _edge("psi", "pa", "gauge pressure or difference", convert.PSI_PA, "psi"),
    _edge("inhg", "pa", "vacuum", convert.INHG_PA, "inHg"),
    _edge("l_min", "m3_s", "flow", convert.LITRE_M3 / convert.MINUTE_S, "l/min"),
    _edge("us_gpm", "m3_s", "flow", convert.US_GALLON_M3 / convert.MINUTE_S, "US gal/min"),
    _edge("rev_min", "rev_s", "speed of rotation", 1.0 / convert.MINUTE_S, "rev/min"),
    _edge("mm2_s", "m2_s", "kinematic viscosity", convert.MM2_S_M2_S, "mm2/s"),
    _edge("mm_s", "m_s", "velocity", 1e-3, "mm/s"),
    _edge("ml_rev", "m3_rev", "displacement", 1e-6, "ml/rev"),
    _edge("kw", "w", "power", 1e3, "kW"),
    _edge("per_ml", "per_m3", "number concentration", 1e6, "1/ml"),
    _edge("per_100_ml", "per_m3", "number concentration", 1e4, "1/(100 ml)"),
    _edge("mg_l", "kg_m3", "mass concentration", 1e-3, "mg/l"),
    _edge("mg_kg", "wfrac", "mass fraction", 1e-6, "mg/kg"),
    _edge("mgkoh_g", "kg_kg", "mass ratio", 1e-3, "mg KOH/g"),
    _edge("pct", "vfrac", "share", 1e-2, "%"),
)

SUFFIXES: dict[str, Suffix] = {row.suffix: row for row in _ROWS}

# Longest first, so that `rho_kg_m3` is a density and not a volume.
_LONGEST_FIRST = tuple(sorted(SUFFIXES, key=lambda text: (-text.count("_"), -len(text))))


def suffix_of(name: str) -> Suffix | None:
    """Return the suffix that a name ends in, or None for a plain number.

    >>> suffix_of("rho_kg_m3").bracket
    'kg/m3'
    >>> suffix_of("cycles") is None
    True
    """
    for text in _LONGEST_FIRST:
        if name == text or name.endswith("_" + text):
            return SUFFIXES[text]
    return None


def suffix(text: str) -> Suffix:
    """Return the row of a suffix by its own text.

    >>> suffix("l_min").to_si(60.0)
    0.001
    """
    try:
        return SUFFIXES[text]
    except KeyError:
        raise NotFound("unit suffix", text, SUFFIXES) from None
