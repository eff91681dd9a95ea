"""What leaves the reservoir for good while the pump runs, and how sure is that?

The pump's flow at idle and in the flare of a start, less what paths without a diverter give back.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.parts import Path, PumpKind
from ullage.circuit.uncertain import Uncertain, exact
from ullage.planning.crew import Crew
from ullage.planning.saw_tooth import Draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Outflow:
    """What leaves the reservoir for good while the pump runs: steady, and in the start flare."""

    steady_m3_s: Uncertain
    flare_m3_s: Uncertain
    flare_s: Uncertain

    @property
    def best(self) -> Draw:
        """Draw at the best values."""
        return Draw(
            steady_m3_s=self.steady_m3_s.best,
            flare_m3_s=self.flare_m3_s.best,
            flare_s=self.flare_s.best,
        )

    @property
    def fastest(self) -> Draw:
        """Draw at the ends that empty the reservoir soonest."""
        flares = self.flare_m3_s.high > self.steady_m3_s.high
        return Draw(
            steady_m3_s=self.steady_m3_s.high,
            flare_m3_s=self.flare_m3_s.high,
            flare_s=self.flare_s.high if flares else self.flare_s.low,
        )


def outflow_of(circuit: Circuit, crew: Crew) -> Outflow:
    """Return what the pump takes out of the reservoir for good, with its sure ends.

    Parameters
    ----------
    circuit : Circuit
        Its pump and its paths.
    crew : Crew
        How fast and how long the engine flares at a start.

    Returns
    -------
    found : Outflow
        Flows of the diverted paths.

    Validity
    --------
    Paths without a diverter give back what they take. A thermostat counts as whichever of open and
    shut draws more, at the sure end. A pressure-held pump may be asked for its full flow any time,
    which is its sure end, and its best value where it idles at nothing.

    Source
    ------
    Continuity.
    """
    pump = circuit.pump
    share = diverted_share(circuit)
    idle = _flow(circuit, exact(pump.idle_rev_s))
    if pump.hand_flow_m3_s is not None:
        flare, flare_s = idle, exact(0.0)
    else:
        flare, flare_s = _flow(circuit, crew.start_rev_s), crew.start_s
    held = pump.idle_flow_share
    if pump.kind is PumpKind.PRESSURE_HELD and held.best > 0.0:
        idle = Uncertain(best=idle.best * held.best, low=idle.low * held.low, high=idle.high)
        flare = Uncertain(best=flare.best * held.best, low=flare.low * held.low, high=flare.high)
    return Outflow(
        steady_m3_s=_times(idle, share), flare_m3_s=_times(flare, share), flare_s=flare_s
    )


def diverted_share(circuit: Circuit) -> Uncertain:
    """Return the share of the pump's flow that does not come back to the reservoir.

    Without any diverter all of it counts: somebody has taken the return hose off, or bleeds.
    """
    flowing = [path for path in circuit.paths if not path.dead_end]
    sent = [path for path in flowing if path.divert_after is not None]
    if not sent:
        return exact(1.0)

    def share(of: list[Path], among: list[Path], end: str) -> float:
        mine = sum(getattr(path.share, end) for path in of)
        other_end = {"best": "best", "low": "high", "high": "low"}[end]
        rest = sum(getattr(path.share, other_end) for path in among if path not in of)
        return float(mine / (mine + rest)) if mine + rest > 0.0 else 0.0

    shut = [path for path in flowing if path.opens_above_k is None]
    sent_when_shut = [path for path in sent if path in shut]
    settings = [(sent, flowing)]
    if len(shut) < len(flowing) and sent_when_shut:
        settings.append((sent_when_shut, shut))
    best = share(sent, flowing, "best")
    return Uncertain(
        best=best,
        low=min(best, *(share(of, among, "low") for of, among in settings)),
        high=max(best, *(share(of, among, "high") for of, among in settings)),
    )


def _flow(circuit: Circuit, rev_s: Uncertain) -> Uncertain:
    """Return the pump's full flow at an engine speed, with its sure ends [m3/s]."""
    pump = circuit.pump
    if pump.hand_flow_m3_s is not None:
        return pump.hand_flow_m3_s
    if pump.displacement_m3_rev is None:
        return exact(0.0)
    turn = _times(pump.displacement_m3_rev, pump.efficiency).scaled(max(pump.speed_ratio, 1e-12))
    flow = _times(turn, rev_s)
    limit = pump.limit_m3_s
    if limit is None:
        return flow
    return Uncertain(
        best=min(flow.best, limit.best),
        low=min(flow.low, limit.low),
        high=min(flow.high, limit.high),
    )


def _times(a: Uncertain, b: Uncertain) -> Uncertain:
    """Return the product of two numbers that are not negative."""
    return Uncertain(best=a.best * b.best, low=a.low * b.low, high=a.high * b.high)
