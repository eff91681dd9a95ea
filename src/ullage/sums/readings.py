"""Sums about readings: colour of a mix, particles and mass on a membrane, the same jug again."""

from __future__ import annotations

from typing import Final

from ullage.fluids.optics import absorbance, old_share
from ullage.fluids.sampling import gravimetric, membrane_count
from ullage.sums.bench_sum import BenchSum, Found, Output, figure
from ullage.sums.key import Key, Kind
from ullage.units.uncertainty import same_jug


def _transmittance(name: str, fluid: str) -> Key:
    """Return a key for a transmittance."""
    meaning = f"light through {fluid} over light through the same vial when clear"
    return Key(name=name, meaning=meaning, above=0.0, high=1.0)


def _absorbance_mix(t_old: float, t_new: float, t_mix: float) -> Found:
    """Work out the old fluid in a mix from the light that passes."""
    found = old_share(
        old_absorbance=absorbance(t_old),
        new_absorbance=absorbance(t_new),
        mix_absorbance=absorbance(t_mix),
    )
    return Found(
        values={"old_vfrac": found.old_vfrac, "u_vfrac": found.u_vfrac}, caveats=found.caveats
    )


def _membrane_count(
    count: int, effective_diameter_m: float, squares: int, side_m: float, sample_m3: float
) -> Found:
    """Work out particles per volume from a part of a membrane."""
    found = membrane_count(
        count=count,
        effective_diameter_m=effective_diameter_m,
        squares=squares,
        side_m=side_m,
        sample_m3=sample_m3,
    )
    return Found(
        values={
            "per_m3": found.per_m3,
            "low95_per_m3": found.low95_per_m3,
            "high95_per_m3": found.high95_per_m3,
        },
        caveats=found.caveats,
    )


def _gravimetric(gain_test_kg: float, gain_control_kg: float, sample_m3: float) -> Found:
    """Work out the mass of solids."""
    found = gravimetric(
        gain_test_kg=gain_test_kg, gain_control_kg=gain_control_kg, sample_m3=sample_m3
    )
    return Found(values={"kg_m3": found.concentration_kg_m3}, caveats=found.caveats)


def _jug(fills: int, tolerance_m3: float, division_m3: float) -> Found:
    """Work out the uncertainty of a volume measured with one jug."""
    found = same_jug(fills=fills, tolerance_m3=tolerance_m3, division_m3=division_m3)
    return Found(
        values={
            "u_m3": found.total_m3,
            "calibration_m3": found.calibration_m3,
            "reading_m3": found.reading_m3,
        }
    )


SUMS: Final = (
    BenchSum(
        name="absorbance-mix",
        purpose="old fluid in a mix from the light that passes three equal vials",
        keys=(
            _transmittance("t_old", "old fluid"),
            _transmittance("t_new", "new fluid"),
            _transmittance("t_mix", "the mix"),
        ),
        outputs=(
            Output(name="old_pct", meaning="old fluid in the mix"),
            Output(name="u_pct", meaning="its standard uncertainty, readings good to 0.01"),
        ),
        formula="A = -log10 t; old = (A_mix - A_new)/(A_old - A_new)",
        source="Beer and Lambert's law; uncertainty by JCGM 100:2008",
        validity="Linear light, equal vials, one band; absorbance from 0.1 to 1.5. A camera's "
        "broad bands bend the answer by up to 4 points.",
        work=_absorbance_mix,
        say=lambda given, found: (
            f"The mix holds {figure(found['old_pct'])} % old fluid, give or take "
            f"{figure(found['u_pct'])} points."
        ),
        example=("t_old=0.06", "t_new=0.6", "t_mix=0.4"),
    ),
    BenchSum(
        name="membrane-count",
        purpose="particles per millilitre from a count on part of a membrane",
        keys=(
            Key(
                name="count",
                meaning="particles counted",
                kind=Kind.WHOLE,
                low=0,
                high=1e9,
            ),
            Key(
                name="effective_diameter_mm",
                meaning="diameter of the stained disc",
                above=0.0,
                high=500.0,
            ),
            Key(name="squares", meaning="grid squares counted", kind=Kind.WHOLE, low=1, high=1e5),
            Key(name="side_mm", meaning="side of a square", above=0.0, high=100.0),
            Key(name="sample_ml", meaning="volume filtered", above=0.0, high=1e5),
        ),
        outputs=(
            Output(name="per_ml", meaning="particles per millilitre"),
            Output(name="low95_per_ml", meaning="lower 95 % limit from counting"),
            Output(name="high95_per_ml", meaning="upper 95 % limit from counting"),
        ),
        formula="per_ml = count (pi/4 D^2)/(squares side^2)/sample; limits of a Poisson mean",
        source="ISO 4407; limits after Garwood 1936",
        validity="Particles spread evenly over the disc; the blank is not taken off. The method "
        "asks for 150 counts (from memory).",
        work=_membrane_count,
        say=lambda given, found: (
            f"{figure(found['per_ml'])} particles per ml; counting alone leaves "
            f"{figure(found['low95_per_ml'])} to {figure(found['high95_per_ml'])} open (95 %)."
        ),
        example=(
            "count=200",
            "effective_diameter_mm=40",
            "squares=20",
            "side_mm=3.1",
            "sample_ml=100",
        ),
    ),
    BenchSum(
        name="gravimetric",
        purpose="mass of solids per litre from two membranes",
        keys=(
            Key(name="gain_test_mg", meaning="gain of the first membrane", low=0.0, high=1e6),
            Key(
                name="gain_control_mg",
                meaning="gain of the second membrane",
                low=0.0,
                high=1e6,
            ),
            Key(name="sample_ml", meaning="volume filtered", above=0.0, high=1e5),
        ),
        outputs=(Output(name="mg_l", meaning="mass of solids per litre"),),
        formula="mg_l = (gain_test - gain_control)/sample",
        source="ISO 4405:1991",
        validity="Membranes dried and weighed alike, on a balance that shows 0.1 mg.",
        work=_gravimetric,
        say=lambda given, found: f"The fluid carries {figure(found['mg_l'])} mg of solids per l.",
        example=("gain_test_mg=5.2", "gain_control_mg=0.2", "sample_ml=100"),
    ),
    BenchSum(
        name="jug",
        purpose="how sure a volume is that was measured with one jug",
        keys=(
            Key(
                name="fills",
                meaning="how often the same jug was filled",
                kind=Kind.WHOLE,
                low=1,
                high=10000,
            ),
            Key(
                name="tolerance_ml",
                meaning="limit of error of its marks, plus or minus",
                low=0.0,
                high=1e5,
            ),
            Key(name="division_ml", meaning="volume between two marks", low=0.0, high=1e5),
        ),
        outputs=(
            Output(name="u_ml", meaning="standard uncertainty of the sum"),
            Output(name="calibration_ml", meaning="part from the marks: grows with the fills"),
            Output(name="reading_ml", meaning="part from reading: grows with their root"),
        ),
        formula="u = sqrt((n tolerance/sqrt 3)^2 + n (division/sqrt 12)^2)",
        source="JCGM 100:2008, equation 16 and 4.3.7",
        validity="The same jug every time; what stays on its walls is not in it.",
        work=_jug,
        say=lambda given, found: (
            f"The sum of {given['fills']} fills is sure to {figure(found['u_ml'])} ml (standard "
            f"uncertainty; twice that for 95 %): {figure(found['calibration_ml'])} ml from the "
            f"marks, {figure(found['reading_ml'])} ml from reading."
        ),
        example=("fills=10", "tolerance_ml=10", "division_ml=10"),
    ),
)
