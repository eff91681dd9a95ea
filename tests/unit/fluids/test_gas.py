"""Gas charges: laws, limits, and absolute pressure never taken for gauge."""

from __future__ import annotations

import math

import pytest

from ullage.errors import OutOfRange
from ullage.fluids.gas import (
    oil_between_m3,
    oil_held_m3,
    precharge_at_pa,
    stored_energy_j,
    volume_for_oil_m3,
)
from ullage.fluids.gas_charge import gas_charge

CHARGE = {"volume_m3": 0.35e-3, "precharge_abs_pa": 61e5}


def codes(**given: float) -> list[str]:
    """Return the codes of the caveats of a charge."""
    return [caveat.code for caveat in gas_charge(**{**CHARGE, **given}).caveats]


@pytest.mark.parametrize("pressure_abs_pa", [1e5, 60e5, 61e5])
def test_no_oil_enters_at_or_below_precharge(pressure_abs_pa: float) -> None:
    """Up to its precharge the gas fills its shell."""
    assert oil_held_m3(**CHARGE, pressure_abs_pa=pressure_abs_pa) == 0.0


def test_slow_holds_more_oil_than_quick() -> None:
    """A gas that keeps cool gives way further."""
    slow, quick = (oil_held_m3(**CHARGE, pressure_abs_pa=121e5, exponent=n) for n in (1.0, 1.4))

    assert slow > quick > 0.0


def test_held_at_two_pressures_differs_by_what_lies_between() -> None:
    """Oil between two pressures is the difference of the oil held."""
    low, high = (oil_held_m3(**CHARGE, pressure_abs_pa=p, exponent=1.2) for p in (80e5, 140e5))
    between = oil_between_m3(**CHARGE, low_abs_pa=80e5, high_abs_pa=140e5, exponent=1.2)

    assert between == pytest.approx(high - low)


def test_sizing_is_the_inverse_of_giving() -> None:
    """The volume found for an amount of oil gives that amount."""
    span = {"precharge_abs_pa": 72e5, "low_abs_pa": 80e5, "high_abs_pa": 180e5, "exponent": 1.3}
    volume_m3 = volume_for_oil_m3(oil_m3=2e-3, **span)

    assert oil_between_m3(volume_m3=volume_m3, **span) == pytest.approx(2e-3)


def test_energy_is_smooth_towards_exponent_one() -> None:
    """The isothermal limit is reached without a jump or a division by zero."""
    near, at = (stored_energy_j(**CHARGE, pressure_abs_pa=121e5, exponent=n) for n in (1 + 1e-9, 1))

    assert near == pytest.approx(at, rel=1e-8)
    assert at == pytest.approx(61e5 * 0.35e-3 * math.log(121 / 61))


def test_no_energy_is_stored_below_precharge() -> None:
    """Without oil behind it the gas has done nothing yet."""
    assert stored_energy_j(**CHARGE, pressure_abs_pa=30e5) == 0.0


def test_precharge_follows_absolute_temperature() -> None:
    """Back at the first temperature the first pressure stands again."""
    warm = precharge_at_pa(pressure_abs_pa=61e5, from_k=293.15, to_k=353.15)

    assert precharge_at_pa(pressure_abs_pa=warm, from_k=353.15, to_k=293.15) == pytest.approx(61e5)


def test_an_ordinary_charge_needs_no_caveat() -> None:
    """Twice the precharge, slowly, below 200 bar: nothing to say."""
    assert codes(pressure_abs_pa=121e5) == []


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"pressure_abs_pa": 210e5}, "above-200-bar"),
        ({"pressure_abs_pa": 250e5}, "beyond-four-times-precharge"),
        ({"pressure_abs_pa": 50e5}, "below-precharge"),
        ({"pressure_abs_pa": 5e5, "precharge_abs_pa": 0.5e5}, "precharge-below-atmosphere"),
        ({"pressure_abs_pa": 121e5, "exponent": 1.4}, "quick-real-gas"),
    ],
)
def test_each_limit_of_the_model_has_its_caveat(given: dict[str, float], code: str) -> None:
    """What the formula cannot know is said beside the value."""
    assert code in codes(**given)


@pytest.mark.parametrize("name", ["precharge_abs_pa", "pressure_abs_pa"])
@pytest.mark.parametrize("value", [0.0, -1e5, float("nan")])
def test_a_pressure_that_is_not_absolute_is_refused_with_advice(name: str, value: float) -> None:
    """A gauge zero or a vacuum reading is never computed with."""
    with pytest.raises(OutOfRange, match="gauge") as caught:
        oil_held_m3(**{**CHARGE, "pressure_abs_pa": 121e5, name: value})

    assert caught.value.name == name


@pytest.mark.parametrize("exponent", [0.9, 2.1])
def test_impossible_exponents_are_refused(exponent: float) -> None:
    """No gas change is softer than isothermal."""
    with pytest.raises(OutOfRange, match="exponent"):
        oil_held_m3(**CHARGE, pressure_abs_pa=121e5, exponent=exponent)
