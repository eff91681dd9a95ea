"""Regimes, losses and flush flows of a line: borders, shape and refusals."""

from __future__ import annotations

import pytest

from ullage.errors import OutOfRange
from ullage.fluids.dispersion import taylor_aris, turbulent_dispersion
from ullage.fluids.flush import flush_flow
from ullage.fluids.pipe_flow import (
    Regime,
    bore_for_velocity_m,
    entrance_length_m,
    flow_for_reynolds_m3_s,
    friction_factor,
    pressure_loss,
    regime_of,
    reynolds,
    velocity_m_s,
)

LINE = {"bore_m": 0.010, "length_m": 4.0, "nu_m2_s": 20e-6, "rho_kg_m3": 860.0}


@pytest.mark.parametrize(
    ("re", "regime"),
    [
        (0.0, Regime.LAMINAR),
        (2299.9, Regime.LAMINAR),
        (2300.0, Regime.TRANSITIONAL),
        (4000.0, Regime.TRANSITIONAL),
        (4000.1, Regime.TURBULENT),
    ],
)
def test_regimes_change_at_2300_and_4000(re: float, regime: Regime) -> None:
    """The borders themselves are not settled flow."""
    assert regime_of(re) is regime


def test_flow_and_reynolds_number_are_inverse() -> None:
    """The flow for a number reaches that number."""
    flow = flow_for_reynolds_m3_s(3210.0, bore_m=0.008, nu_m2_s=15e-6)

    assert reynolds(flow_m3_s=flow, bore_m=0.008, nu_m2_s=15e-6) == pytest.approx(3210.0)


def test_bore_and_velocity_are_inverse() -> None:
    """The bore for a velocity gives that velocity."""
    bore = bore_for_velocity_m(flow_m3_s=2e-4, velocity_m_s=3.0)

    assert velocity_m_s(flow_m3_s=2e-4, bore_m=bore) == pytest.approx(3.0)


def test_laminar_loss_is_proportional_to_flow() -> None:
    """Twice the flow costs twice the pressure while flow is laminar."""
    once, twice = (pressure_loss(flow_m3_s=q, **LINE).dp_pa for q in (1e-4, 2e-4))

    assert twice == pytest.approx(2.0 * once)


def test_transitional_loss_carries_a_caveat() -> None:
    """Between the regimes the factor is a guess and says so."""
    flow = flow_for_reynolds_m3_s(3000.0, bore_m=0.010, nu_m2_s=20e-6)
    found = pressure_loss(flow_m3_s=flow, **LINE)

    assert "transitional-flow" in [caveat.code for caveat in found.caveats]


def test_a_short_line_carries_the_entrance_caveat() -> None:
    """A line that is mostly entrance loses more than developed flow would."""
    found = pressure_loss(flow_m3_s=2e-4, **{**LINE, "length_m": 0.5})

    assert [caveat.code for caveat in found.caveats] == ["entrance-flow"]


def test_friction_never_jumps_by_more_than_a_tenth() -> None:
    """The three laws nearly meet at the two borders, the upward step of transition apart."""
    below, above = friction_factor(4000.0), friction_factor(4000.001)
    laminar, transitional = friction_factor(2299.999), friction_factor(2300.0)

    assert above == pytest.approx(below, rel=0.03)
    assert laminar < transitional < 1.2 * laminar


def test_small_vehicle_lines_flush_in_layers() -> None:
    """6 l/min through 8 mm at 15 mm2/s stay laminar; 22.6 l/min would be needed."""
    found = flush_flow(flow_m3_s=6e-3 / 60, bore_m=0.008, nu_m2_s=15e-6)

    assert found.needed_m3_s * 60e3 == pytest.approx(22.62, abs=0.01)
    assert [caveat.code for caveat in found.caveats] == ["laminar-flush"]


def test_a_turbulent_flush_needs_no_caveat() -> None:
    """Above 4000 nothing is to be said."""
    found = flush_flow(flow_m3_s=30e-3 / 60, bore_m=0.008, nu_m2_s=15e-6)

    assert found.caveats == ()


def test_entrance_is_long_in_laminar_and_short_in_turbulent_flow() -> None:
    """At 2000 a hundred bores and more, at 20 000 some twenty."""
    laminar, turbulent = (entrance_length_m(re, bore_m=1.0) for re in (2000.0, 20_000.0))

    assert laminar == pytest.approx(120.0)
    assert turbulent == pytest.approx(22.9, abs=0.1)


def test_taylor_dispersion_is_silent_only_after_long_transit() -> None:
    """A capillary that takes hours to cross needs no caveat; a vehicle line does."""
    long = taylor_aris(velocity_m_s=1e-4, bore_m=2e-4, diffusivity_m2_s=1e-10, length_m=1.0)
    short = taylor_aris(velocity_m_s=0.5, bore_m=8e-3, diffusivity_m2_s=1e-10, length_m=5.0)

    assert long.caveats == ()
    assert [caveat.code for caveat in short.caveats] == ["no-taylor-regime"]


def test_turbulent_dispersion_is_refused_for_laminar_flow() -> None:
    """The correlation is not stretched into a regime it was not measured in."""
    with pytest.raises(OutOfRange, match="2300"):
        turbulent_dispersion(re=1500.0, velocity_m_s=1.0, bore_m=0.01)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("bore_m", 0.0),
        ("bore_m", -0.01),
        ("nu_m2_s", 0.0),
        ("rho_kg_m3", float("nan")),
        ("length_m", -1.0),
    ],
)
def test_absurd_lines_are_refused_by_name(name: str, value: float) -> None:
    """The refusal names the parameter that is wrong."""
    with pytest.raises(OutOfRange) as caught:
        pressure_loss(flow_m3_s=1e-4, **{**LINE, name: value})

    assert caught.value.name == name


def test_backward_flow_is_refused() -> None:
    """A direction is not a magnitude: flows here are never negative."""
    with pytest.raises(OutOfRange, match="flow_m3_s"):
        reynolds(flow_m3_s=-1e-4, bore_m=0.01, nu_m2_s=1e-5)
