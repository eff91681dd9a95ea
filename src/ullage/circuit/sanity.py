"""Do the numbers of a circuit make sense? One screen of figures to compare with the machine.

How much it holds and where, how long the pump may run before it draws air, what each stroke can
renew, and how the flow in each line stands between laminar and turbulent. All at the best values,
with the sure ends where they change the verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg, Line, Path
from ullage.circuit.uncertain import Uncertain
from ullage.circuit.volumes import Numbers, content_m3, line_volume_m3, pump_flow_m3_s
from ullage.fluids.pipe_flow import regime_of, reynolds
from ullage.units.convert import kelvin_from_degc

COOL_DEGC, WARM_DEGC = 20.0, 60.0
_STROKES_SHOWN = 5


class Renewal(StrEnum):
    """What exercising can do for a leg."""

    RENEWS = "renews"
    MAY_SHUTTLE = "may-shuttle"
    SHUTTLES = "shuttles"
    BLEED_ONLY = "bleed-only"
    GAS_ONLY = "gas-only"
    FLOOR = "floor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What a part of the circuit holds, and its share of the whole."""

    name: str
    volume_m3: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Line against stroke of one leg, and what that means; ``window_m3`` is the stroke in use."""

    leg: str
    line_m3: float
    window_m3: float
    dead_m3: float
    gas_m3: float
    renewal: Renewal
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFlow:
    """Reynolds number of one line at idle, cool and warm; None where no bore is known."""

    line: str
    flow_m3_s: float
    re_cool: float | None
    re_warm: float | None
    regime_cool: str
    regime_warm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sanity:
    """The whole screen. Seconds are None where nothing drains the reservoir."""

    total_m3: float
    total_low_m3: float
    total_high_m3: float
    shares: tuple[Share, ...]
    idle_flow_m3_s: float
    usable_m3: float
    seconds_to_minimum: float | None
    seconds_to_minimum_sure: float | None
    reaches: tuple[Reach, ...]
    line_flows: tuple[LineFlow, ...]


def sanity(circuit: Circuit) -> Sanity:
    """Return the screen of figures of a circuit."""
    content = {name: float(value[0]) for name, value in content_m3(circuit, Numbers()).items()}
    total = sum(content.values())
    tank = circuit.reservoir
    flow = float(pump_flow_m3_s(circuit, Numbers())[0])
    usable = tank.start_m3.best - tank.minimum_m3.best
    surely = tank.start_m3.low - tank.minimum_m3.high
    fast = _fastest_flow_m3_s(circuit)
    low, high = _ends(circuit)
    return Sanity(
        total_m3=total,
        total_low_m3=low,
        total_high_m3=high,
        shares=_shares(circuit, content, total),
        idle_flow_m3_s=flow,
        usable_m3=usable,
        seconds_to_minimum=max(usable, 0.0) / flow if flow > 0.0 else None,
        seconds_to_minimum_sure=max(surely, 0.0) / fast if fast > 0.0 else None,
        reaches=tuple(_reach(leg) for leg in circuit.legs),
        line_flows=_line_flows(circuit, flow),
    )


def _ends(circuit: Circuit) -> tuple[float, float]:
    """Return a low and a high total that nine of ten simulated machines lie between [m3]."""
    drawn = Numbers(count=2000, seed=0, is_best=False)
    totals = np.sum(list(content_m3(circuit, drawn).values()), axis=0)
    low, high = np.quantile(totals, [0.05, 0.95])
    return float(low), float(high)


def _fastest_flow_m3_s(circuit: Circuit) -> float:
    """Return the highest flow at idle that the spreads allow [m3/s]."""
    pump = circuit.pump
    if pump.hand_flow_m3_s is not None:
        return pump.hand_flow_m3_s.high
    if pump.displacement_m3_rev is None:
        return 0.0
    turn = pump.displacement_m3_rev.high * pump.efficiency.high * pump.speed_ratio
    flow = turn * pump.idle_rev_s
    return flow if pump.limit_m3_s is None else min(flow, pump.limit_m3_s.high)


def _shares(circuit: Circuit, content: dict[str, float], total: float) -> tuple[Share, ...]:
    """Return what reservoir, loop and each leg hold."""
    legs = {
        leg.id: content[f"{leg.id}.line"] + content[f"{leg.id}.chamber"] for leg in circuit.legs
    }
    loop = total - content["reservoir"] - sum(legs.values())
    rows = {"reservoir": content["reservoir"], "loop": loop, "legs": sum(legs.values()), **legs}
    if not legs:
        del rows["legs"]
    return tuple(Share(name=n, volume_m3=v, share=v / total) for n, v in rows.items())


def _window(leg: Leg) -> tuple[float, float]:
    """Return the stroke in use, and what stays in the chamber at its lower end [m3]."""
    use = min(leg.stroke_use_share.best, 1.0)
    lowest = min(max(leg.start_share.best - 0.5 * use, 0.0), 1.0 - use)
    return leg.stroke_m3.best * use, leg.stroke_m3.best * lowest


def _line_ends(line: Line) -> tuple[float, float]:
    """Return the least and the most that a line may hold [m3]."""

    def end(number: Uncertain | None, which: str) -> Uncertain | None:
        if number is None:
            return None
        value = number.low if which == "low" else number.high
        return Uncertain(best=value, low=value, high=value)

    found = [
        float(
            line_volume_m3(
                Line(
                    id=line.id,
                    volume_m3=end(line.volume_m3, which),
                    bore_m=end(line.bore_m, which),
                    length_m=end(line.length_m, which),
                ),
                Numbers(),
            )[0]
        )
        for which in ("low", "high")
    ]
    return found[0], found[1]


def _reach(leg: Leg) -> Reach:
    """Return line against stroke of one leg, with what it means.

    Source
    ------
    Derived: a mixed chamber behind a plug line keeps ((Vd + VL) / (Vd + Vs))^n after n strokes.
    """
    line = float(line_volume_m3(leg.line, Numbers())[0])
    window, below = _window(leg)
    gas = 0.0
    if leg.gas is not None and leg.gas.working_pa > leg.gas.precharge_pa:
        gas = leg.gas.volume_m3.best * (1.0 - leg.gas.precharge_pa / leg.gas.working_pa)
    dead = leg.dead_m3.best + below + gas
    renewal, sentence = _verdict(leg, line=line, window=window, dead=dead)
    return Reach(
        leg=leg.id,
        line_m3=line,
        window_m3=window,
        dead_m3=leg.dead_m3.best,
        gas_m3=gas,
        renewal=renewal,
        sentence=sentence,
    )


def _verdict(leg: Leg, *, line: float, window: float, dead: float) -> tuple[Renewal, str]:
    """Return what exercising can do for a leg, and say it."""
    bleed = "bleed it" if leg.bleed else "it has no bleed point either, so it is a floor"
    if leg.held_by is HeldBy.CONTROLLER:
        return Renewal.FLOOR, "held by a controller: nobody moves it, what it holds is a floor"
    if window <= 0.0 and leg.gas is not None:
        return (
            Renewal.GAS_ONLY,
            "no stroke: only releasing and charging its gas volume moves what it holds",
        )
    if window <= 0.0:
        return Renewal.BLEED_ONLY, f"no stroke: pouring never reaches it; {bleed}"
    if line >= window:
        return (
            Renewal.SHUTTLES,
            f"the line holds more than the stroke moves: old fluid only shuttles and no amount of "
            f"pouring renews it; {bleed}",
        )
    line_high = _line_ends(leg.line)[1]
    window_low = leg.stroke_m3.low * min(leg.stroke_use_share.low, 1.0)
    after = ((dead + line) / (dead + window)) ** _STROKES_SHOWN
    left = "less than 1 %" if after < 0.01 else f"{after * 100:.0f} %"
    each = f"each whole stroke brings {(window - line) * 1e3:.2f} L of other fluid"
    tail = f"after {_STROKES_SHOWN} strokes {left} of the chamber is still old, in plug flow"
    if line_high >= window_low:
        return (
            Renewal.MAY_SHUTTLE,
            f"{each}; {tail}; within the spreads the line may hold more than the stroke moves: "
            "measure its bore and length first",
        )
    return Renewal.RENEWS, f"{each}; {tail}"


def _line_flows(circuit: Circuit, flow: float) -> tuple[LineFlow, ...]:
    """Return Reynolds numbers of all lines; legs share the flow of their path with their group."""
    flowing = [path for path in circuit.paths if not path.dead_end] or list(circuit.paths)
    always = [path for path in flowing if path.opens_above_k is None]
    found: list[LineFlow] = []
    for line in circuit.lines:
        share = _share_of_flow(flowing, always, line.id)
        found.append(_line_flow(circuit, line, flow * share))
    for leg in circuit.legs:
        path = circuit.path_of_node[leg.at]
        share = path.share.best / sum(p.share.best for p in flowing) if path in flowing else 1.0
        together = [other for other in circuit.legs if leg.group and other.group == leg.group]
        drivers = len([other for other in together if other.id != circuit.partner.get(leg.id)])
        moving = drivers if leg.stroke_m3.best > 0.0 and drivers else 1
        found.append(_line_flow(circuit, leg.line, flow * share / moving))
    return tuple(found)


def _share_of_flow(flowing: list[Path], always: list[Path], line: str) -> float:
    """Return the share of the pump's flow in a line, thermostats open where it needs them."""
    mine = [path for path in flowing if line in path.through]
    among = flowing if any(path not in always for path in mine) else (always or flowing)
    whole = sum(path.share.best for path in among)
    return sum(path.share.best for path in mine if path in among) / whole if whole else 0.0


def _line_flow(circuit: Circuit, line: Line, flow: float) -> LineFlow:
    """Return the figures of one line."""
    found: dict[float, float | None] = {}
    for degc in (COOL_DEGC, WARM_DEGC):
        nu = circuit.fluid.nu_m2_s(kelvin_from_degc(degc))
        found[degc] = (
            None
            if line.bore_m is None
            else reynolds(flow_m3_s=flow, bore_m=line.bore_m.best, nu_m2_s=nu)
        )
    words = {d: "plug" if re is None else regime_of(re).value for d, re in found.items()}
    return LineFlow(
        line=line.id,
        flow_m3_s=flow,
        re_cool=found[COOL_DEGC],
        re_warm=found[WARM_DEGC],
        regime_cool=words[COOL_DEGC],
        regime_warm=words[WARM_DEGC],
    )
