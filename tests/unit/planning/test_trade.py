"""Facts of the trade, each shown on a built-in circuit: common practice, no source.

The third of them, a return filter of 10 um superseded by one of 3 um, stands in
``test_filter_fit``.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.planning.machines import built_in
from ullage.circuit.uncertain import exact
from ullage.planning.finding import PRACTICE, Verdict
from ullage.planning.function_check import CHECK_REV_S, function_check
from ullage.transport.recipe import Circulate, DrawOff, Exchange, Fill, Recipe
from ullage.transport.solve import simulate
from ullage.units.convert import kelvin_from_degc


def test_functions_are_checked_at_about_3000_rev_min_on_the_steering() -> None:
    """Common practice, no source: the speed is held; the flow limiter keeps the pull bearable."""
    found = function_check(built_in("rack-steering"), temperature_k=kelvin_from_degc(60.0))
    speed = next(f for f in found.findings if f.code == "raised-speed")

    assert pytest.approx(3000.0) == CHECK_REV_S * 60.0
    assert speed.source == PRACTICE
    # 9.6 ml, 1.1 turns, 3000 rev/min and 85 % would be 27 l/min; the limiter lets 7.5 pass.
    assert found.flow_m3_s == pytest.approx(7.5e-3 / 60.0)
    assert found.verdict is Verdict.YES


def test_the_same_check_in_the_cold_pulls_too_deep() -> None:
    """Without its limiter, and at -15 degC, the steering's pump would howl: warm up first."""
    steering = built_in("rack-steering")
    free = replace(steering, pump=replace(steering.pump, limit_m3_s=None))
    cold = function_check(free, temperature_k=kelvin_from_degc(-15.0))
    warm = function_check(free, temperature_k=kelvin_from_degc(60.0))

    assert cold.verdict is Verdict.NO
    assert cold.inlet_pa is not None
    assert warm.inlet_pa is not None
    assert warm.inlet_pa > cold.inlet_pa
    assert cold.from_k is not None
    assert cold.from_k > kelvin_from_degc(-15.0)


def test_a_motor_of_one_speed_has_no_raised_speed() -> None:
    """The scissor lift is checked as it runs."""
    found = function_check(built_in("scissor-lift"), temperature_k=kelvin_from_degc(20.0))

    assert found.rev_s == built_in("scissor-lift").pump.idle_rev_s
    assert "one-speed" in {finding.code for finding in found.findings}


def test_what_is_drawn_off_first_is_used_fluid_undiluted_on_the_loader() -> None:
    """Common practice, no source: judge the drawn-off fluid, the waste can holds a mixture."""
    recipe = Recipe(
        name="draw, fill, divert",
        steps=(DrawOff(), Fill(), Exchange(litres_m3=30e-3), Circulate(duration_s=10.0)),
    )
    run = simulate(built_in("compact-loader"), recipe, bracket=False)
    drawn, exchanged = run.steps[0], run.steps[2]
    share = float(exchanged.waste_old_m3[0] / exchanged.waste_m3[0])
    waste = sum(float(step.waste_m3[0]) for step in run.steps)
    old = sum(float(step.waste_old_m3[0]) for step in run.steps)

    assert float(drawn.waste_old_m3[0] / drawn.waste_m3[0]) == pytest.approx(1.0, abs=1e-12)
    assert share < 0.6
    assert 0.3 < old / waste < 0.9


def test_a_filter_that_opens_at_the_raised_speed_is_told() -> None:
    """The van's filter at four times its idle flow, cold: what the check stirs up goes past it."""
    van = built_in("levelling-van")
    cold = function_check(van, temperature_k=kelvin_from_degc(5.0))
    warm = function_check(van, temperature_k=kelvin_from_degc(60.0))

    assert "bypass-opens" in {finding.code for finding in cold.findings}
    assert "bypass-opens" not in {finding.code for finding in warm.findings}
    assert cold.filter_drop_pa is not None
    assert warm.filter_drop_pa is not None
    assert cold.filter_drop_pa > 4.0 * warm.filter_drop_pa


def test_no_speed_no_check() -> None:
    """A pump by hand is checked as it is."""
    brakes = built_in("wheel-brakes")
    found = function_check(brakes, temperature_k=kelvin_from_degc(20.0))

    assert found.flow_m3_s == pytest.approx(exact(0.3e-3 / 60.0).best)
    assert found.inlet_pa is None
