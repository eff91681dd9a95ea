"""A liquid as its papers describe it: what it answers and what it refuses."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError, replace

import pytest

from ullage.errors import OutOfRange
from ullage.fluids.liquid import Liquid

OIL = Liquid(nu40_m2_s=22e-6, nu100_m2_s=5e-6, rho15_kg_m3=868.0, class_="HM")


def test_a_liquid_gives_back_what_its_papers_say() -> None:
    """At 40 and 100 degC its viscosities, at 15 degC its density and volume."""
    assert OIL.nu_m2_s(313.15) == pytest.approx(22e-6)
    assert OIL.nu_m2_s(373.15) == pytest.approx(5e-6)
    assert OIL.density_kg_m3(288.15) == pytest.approx(868.0)
    assert OIL.volume_factor(288.15) == pytest.approx(1.0)


def test_mass_does_not_change_with_temperature() -> None:
    """Volume factor times density is the density at 15 degC."""
    assert OIL.volume_factor(343.15) * OIL.density_kg_m3(343.15) == pytest.approx(868.0)


def test_a_changed_copy_draws_its_own_line() -> None:
    """Replacing a viscosity does not keep the old line."""
    thicker = replace(OIL, nu40_m2_s=46e-6, nu100_m2_s=6.8e-6)

    assert thicker.nu_m2_s(313.15) == pytest.approx(46e-6)


def test_liquids_are_values() -> None:
    """Equal papers make equal liquids, which never change and survive being sent elsewhere."""
    assert replace(OIL) == OIL
    assert hash(replace(OIL)) == hash(OIL)
    assert pickle.loads(pickle.dumps(OIL)).nu_m2_s(333.15) == OIL.nu_m2_s(333.15)
    with pytest.raises(FrozenInstanceError):
        OIL.rho15_kg_m3 = 900.0  # type: ignore[misc]


@pytest.mark.parametrize(
    ("class_", "rho15_kg_m3", "alpha_per_k"),
    [("HFDR", 1130.0, 8.5e-4), ("HFC", 1075.0, 6.5e-4), ("BRAKE-GLYCOL", 1060.0, 9e-4)],
)
def test_other_families_swell_by_their_own_coefficient(
    class_: str, rho15_kg_m3: float, alpha_per_k: float
) -> None:
    """Near 15 degC growth per kelvin is the table's figure, and a caveat says it is rough."""
    liquid = replace(OIL, class_=class_, rho15_kg_m3=rho15_kg_m3)

    assert liquid.volume_factor(288.25) - 1.0 == pytest.approx(0.1 * alpha_per_k, rel=1e-3)
    assert "single-expansion-coefficient" in [c.code for c in liquid.caveats(300.0)]


@pytest.mark.parametrize(
    ("class_", "temperature_k", "codes"),
    [
        ("HM", 300.0, []),
        ("HV", 300.0, []),
        ("HV", 260.0, ["cold-extrapolation", "polymer-thickened"]),
        ("unknown", 300.0, ["unknown-class"]),
        ("HEES", 300.0, ["oil-expansion-assumed"]),
    ],
)
def test_caveats_follow_class_and_temperature(
    class_: str, temperature_k: float, codes: list[str]
) -> None:
    """What is uncertain about an answer depends on the liquid and on how cold it is."""
    assert [c.code for c in replace(OIL, class_=class_).caveats(temperature_k)] == codes


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"nu100_m2_s": 23e-6}, "swapped"),
        ({"nu40_m2_s": float("nan")}, "nu40_m2_s"),
        ({"rho15_kg_m3": 0.868}, "868 kg/m3"),
        ({"rho15_kg_m3": 720.0}, "lubricating oils"),
        ({"class_": "HLP"}, "one of HH, HL"),
        ({"water_wfrac": 1.2}, "water_wfrac"),
        ({"acid_kg_kg": -0.001}, "acid_kg_kg"),
        ({"particles_per_m3": (1.0, 2.0, 3.0)}, "fall from the smallest"),
        ({"particles_per_m3": (1.0, 2.0)}, "three counts"),
        ({"particles_per_m3": (3.0, 2.0, -1.0)}, "particles_per_m3"),
    ],
)
def test_papers_that_cannot_be_right_are_refused(change: dict[str, object], said: str) -> None:
    """A liquid that exists is valid; the refusal says what to look at."""
    with pytest.raises(OutOfRange, match=said):
        replace(OIL, **change)
