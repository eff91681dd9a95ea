"""Sums about the fluid itself: viscosity, index, grade, mixtures, density, swelling."""

from __future__ import annotations

from typing import Final

from ullage.fluids.blend import SHARE_BASIS, BlendRule, blend_nu_m2_s
from ullage.fluids.density import density_at_kg_m3, level_shift, volume_correction
from ullage.fluids.viscosity import viscosity_at
from ullage.fluids.viscosity_grade import viscosity_grade
from ullage.fluids.viscosity_index import viscosity_index
from ullage.sums.bench_sum import BenchSum, Found, Output, figure
from ullage.sums.key import Key, Kind
from ullage.units.caveat import Caveat, only_where_true

# Limits of keys: what no person can mean. Formulas have narrower ones of their own.
_COLDEST, _HOTTEST = -100.0, 400.0  # degC
_THICKEST = 1e6  # mm2/s
_RHO15 = Key(name="rho15_kg_m3", meaning="density at 15 degC", low=800.0, high=1164.0)


def _temperature(name: str, meaning: str) -> Key:
    """Return a key for a temperature."""
    return Key(name=name, meaning=meaning, low=_COLDEST, high=_HOTTEST)


def _correctable(name: str, meaning: str) -> Key:
    """Return a key for a temperature that the volume correction covers."""
    return Key(name=name, meaning=meaning, low=-50.0, high=150.0)


def _viscosity(name: str, meaning: str) -> Key:
    """Return a key for a kinematic viscosity."""
    return Key(name=name, meaning=meaning, above=0.0, high=_THICKEST)


def _at_temperature(
    t1_k: float, nu1_m2_s: float, t2_k: float, nu2_m2_s: float, at_k: float
) -> Found:
    """Read a viscosity off the line through two points."""
    found = viscosity_at(at_k, t1_k=t1_k, nu1_m2_s=nu1_m2_s, t2_k=t2_k, nu2_m2_s=nu2_m2_s)
    return Found(values={"nu_m2_s": found.nu_m2_s}, caveats=found.caveats)


def _index(nu40_m2_s: float, nu100_m2_s: float) -> Found:
    """Work out the viscosity index."""
    found = viscosity_index(nu40_m2_s=nu40_m2_s, nu100_m2_s=nu100_m2_s)
    return Found(
        values={
            "vi": found.index,
            "vi_rounded": found.rounded,
            "procedure": found.procedure,
            "reference_low_m2_s": found.reference_low_m2_s,
            "reference_high_m2_s": found.reference_high_m2_s,
        },
        caveats=found.caveats,
    )


def _grade(nu40_m2_s: float) -> Found:
    """Look up the grade."""
    found = viscosity_grade(nu40_m2_s)
    return Found(
        values={
            "grade": found.grade.number if found.grade else None,
            "nearest": found.nearest.number,
            "nearest_low_m2_s": found.nearest.low_m2_s,
            "nearest_high_m2_s": found.nearest.high_m2_s,
        }
    )


def _blend(nu_m2_s: tuple[float, ...], fractions: tuple[float, ...], rule: str) -> Found:
    """Mix viscosities by one of the rules."""
    chosen = BlendRule(rule)
    return Found(
        values={
            "nu_m2_s": blend_nu_m2_s(nu_m2_s=nu_m2_s, fractions=fractions, rule=chosen),
            "basis": SHARE_BASIS[chosen],
        },
        caveats=only_where_true(
            (
                max(nu_m2_s) > 5.0 * min(nu_m2_s),
                Caveat(
                    code="wide-ratio",
                    text="The viscosities differ by more than a factor of five, where the rules "
                    "drift apart: measure the mixture if it matters.",
                ),
            ),
        ),
    )


def _density(rho15_kg_m3: float, at_k: float) -> Found:
    """Bring a density to a temperature."""
    return Found(
        values={
            "rho_kg_m3": density_at_kg_m3(rho15_kg_m3=rho15_kg_m3, temperature_k=at_k),
            "vcf": volume_correction(rho15_kg_m3=rho15_kg_m3, temperature_k=at_k),
        }
    )


def _level_shift(
    volume_m3: float, from_k: float, to_k: float, rho15_kg_m3: float, area_m2: float
) -> Found:
    """Work out how far the level moves."""
    found = level_shift(
        volume_m3=volume_m3, from_k=from_k, to_k=to_k, rho15_kg_m3=rho15_kg_m3, area_m2=area_m2
    )
    return Found(values={"swell_m3": found.swell_m3, "rise_m": found.rise_m}, caveats=found.caveats)


SUMS: Final = (
    BenchSum(
        name="viscosity",
        purpose="viscosity at a temperature, from two known points",
        keys=(
            _temperature("t1_degc", "temperature of the first point"),
            _viscosity("nu1_mm2_s", "viscosity there"),
            _temperature("t2_degc", "temperature of the second point"),
            _viscosity("nu2_mm2_s", "viscosity there"),
            _temperature("at_degc", "temperature wanted"),
        ),
        outputs=(Output(name="nu_mm2_s", meaning="kinematic viscosity"),),
        formula="log10 log10 Z = A - B log10 T, Z = nu + 0.7 + exp(-1.47 - 1.84 nu - 0.51 nu^2), "
        "T in K",
        source="ASTM D341",
        validity="Within about 1 % between the two points, for oils without much polymer; too low "
        "near and below the pour point.",
        work=_at_temperature,
        say=lambda given, found: (
            f"At {given['at_degc']} the fluid has {figure(found['nu_mm2_s'])} mm2/s."
        ),
        example=("t1_degc=40", "nu1_mm2_s=32", "t2_degc=100", "nu2_mm2_s=5.4", "at_degc=80"),
    ),
    BenchSum(
        name="viscosity-index",
        purpose="how little the viscosity changes with temperature",
        keys=(
            _viscosity("nu40_mm2_s", "viscosity at 40 degC"),
            _viscosity("nu100_mm2_s", "viscosity at 100 degC, from 2 mm2/s"),
        ),
        outputs=(
            Output(name="vi", meaning="viscosity index, unrounded"),
            Output(name="vi_rounded", meaning="viscosity index as reported"),
            Output(name="procedure", meaning="procedure A up to 100, B from 100"),
            Output(name="reference_low_mm2_s", meaning="oil of index 0, at 40 degC"),
            Output(name="reference_high_mm2_s", meaning="oil of index 100, at 40 degC"),
        ),
        formula="A: VI = 100 (L - U)/(L - H); B: N = (log H - log U)/log Y, "
        "VI = (10^N - 1)/0.00715 + 100, with U at 40 and Y at 100 degC",
        source="ASTM D2270",
        validity="From 2 mm2/s at 100 degC. Says nothing about the cold behaviour of fluids "
        "thickened with polymer.",
        work=_index,
        say=lambda given, found: (
            f"The viscosity index is {found['vi_rounded']} ({figure(found['vi'])} before "
            "rounding): the higher, the less the fluid thins when it warms."
        ),
        example=("nu40_mm2_s=73.3", "nu100_mm2_s=8.86"),
    ),
    BenchSum(
        name="viscosity-grade",
        purpose="ISO viscosity grade of a fluid",
        keys=(_viscosity("nu40_mm2_s", "viscosity at 40 degC"),),
        outputs=(
            Output(name="grade", meaning="number of the grade, none between two grades"),
            Output(name="nearest", meaning="grade with the nearest midpoint"),
            Output(name="nearest_low_mm2_s", meaning="thinnest fluid of that grade"),
            Output(name="nearest_high_mm2_s", meaning="thickest fluid of that grade"),
        ),
        formula="midpoint - 10 % <= nu <= midpoint + 10 % at 40 degC",
        source="ISO 3448:1992, table 1; grades 2200 and 3200 from memory",
        validity="From 1.98 to 3520 mm2/s; between two grades there is none.",
        work=_grade,
        say=lambda given, found: (
            f"{given['nu40_mm2_s']} at 40 degC is ISO VG {found['grade']}."
            if found["grade"]
            else f"{given['nu40_mm2_s']} at 40 degC lies between two grades; the nearest is "
            f"ISO VG {found['nearest']} ({figure(found['nearest_low_mm2_s'])} to "
            f"{figure(found['nearest_high_mm2_s'])} mm2/s)."
        ),
        example=("nu40_mm2_s=44",),
    ),
    BenchSum(
        name="blend",
        purpose="viscosity of a mixture",
        keys=(
            Key(
                name="nu_mm2_s",
                meaning="viscosities, all at one temperature",
                kind=Kind.NUMBERS,
                above=0.0,
                high=_THICKEST,
            ),
            Key(
                name="fractions",
                meaning="shares in the same order, adding up to 1",
                kind=Kind.NUMBERS,
                low=0.0,
                high=1.0,
            ),
            Key(
                name="rule",
                meaning="rule of mixing",
                kind=Kind.CHOICE,
                choices=tuple(rule.value for rule in BlendRule),
                accepts=(("refutas", BlendRule.BLENDING_NUMBER.value),),
                default=BlendRule.ASTM_D7152.value,
            ),
        ),
        outputs=(
            Output(name="nu_mm2_s", meaning="viscosity of the mixture"),
            Output(name="basis", meaning="what the fractions are shares of"),
        ),
        formula="astm-d7152: W = sum v ln ln Z; blending-number: sum w (14.534 ln ln(nu + 0.8) + "
        "10.975); arrhenius: sum v ln nu; kendall-monroe: sum x nu^(1/3)",
        source="ASTM D7152 (form from memory); Maples 2000; Arrhenius 1887; Kendall, Monroe 1917",
        validity="Oils without much polymer, at one temperature. Shares are of volume "
        "(astm-d7152, arrhenius), mass (blending-number) or mole (kendall-monroe). The rules "
        "agree within 4 % at a viscosity ratio of two.",
        work=_blend,
        say=lambda given, found: (
            f"The mixture has {figure(found['nu_mm2_s'])} mm2/s by {given['rule']}, fractions "
            f"taken as shares of {found['basis']}."
        ),
        example=("nu_mm2_s=32,68", "fractions=0.5,0.5", "rule=astm-d7152"),
    ),
    BenchSum(
        name="density",
        purpose="density at a temperature",
        keys=(
            _RHO15,
            _correctable("at_degc", "temperature wanted"),
        ),
        outputs=(
            Output(name="rho_kg_m3", meaning="density"),
            Output(name="vcf", meaning="volume at 15 degC over volume at the temperature"),
        ),
        formula="vcf = exp(-a dt (1 + 0.8 a dt)), a = 0.6278/rho15, dt = t - 15 degC",
        source="API MPMS 11.1 (ASTM D1250), lubricating oils, table 54D",
        validity="Lubricating oils of 800 to 1164 kg/m3 from -50 to 150 degC, about 0.1 % over "
        "60 K; other fluids swell differently.",
        work=_density,
        say=lambda given, found: (
            f"At {given['at_degc']} the fluid has {figure(found['rho_kg_m3'])} kg/m3; a litre "
            f"there is {found['vcf']:.4f} l at 15 degC."
        ),
        example=("rho15_kg_m3=868", "at_degc=60"),
    ),
    BenchSum(
        name="level-shift",
        purpose="how far the level moves when the whole circuit warms or cools",
        keys=(
            Key(
                name="volume_l",
                meaning="fluid of the whole circuit, not of the reservoir alone",
                above=0.0,
                high=1e5,
            ),
            _correctable("from_degc", "temperature before"),
            _correctable("to_degc", "temperature after"),
            _RHO15,
            Key(name="area_cm2", meaning="free surface of the reservoir", above=0.0, high=1e6),
        ),
        outputs=(
            Output(name="swell_l", meaning="growth of the fluid, negative when it shrinks"),
            Output(name="rise_mm", meaning="rise of the level, negative when it falls"),
        ),
        formula="swell = V (vcf(from)/vcf(to) - 1), rise = swell/area",
        source="API MPMS 11.1 (ASTM D1250), lubricating oils, table 54D",
        validity="Straight walls and one temperature everywhere; cold legs make it smaller.",
        work=_level_shift,
        say=lambda given, found: (
            f"From {given['from_degc']} to {given['to_degc']} the fluid "
            f"{'swells' if found['swell_l'] >= 0.0 else 'shrinks'} by "
            f"{figure(abs(found['swell_l']))} l: the level "
            f"{'rises' if found['rise_mm'] >= 0.0 else 'falls'} by "
            f"{figure(abs(found['rise_mm']))} mm."
        ),
        example=(
            "volume_l=12",
            "from_degc=20",
            "to_degc=80",
            "rho15_kg_m3=868",
            "area_cm2=210",
        ),
    ),
)
