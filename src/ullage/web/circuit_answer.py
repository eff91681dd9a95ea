"""What a circuit answers while its table is edited: the drawing, and figures to check it by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request

from ullage.circuit.doubts import doubts
from ullage.circuit.network import Circuit
from ullage.circuit.sanity import COOL_DEGC, WARM_DEGC, Reach, Sanity, sanity
from ullage.web.drawn import drawings
from ullage.web.forms import as_sentence
from ullage.web.shown import EN_DASH, NBSP, Units, amount_si, figure, own_value, pct, span, word_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareLine:
    """What a part of the circuit holds."""

    name: str
    volume: str
    share: str
    is_within: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LegLine:
    """Line against stroke of one leg, and what that means."""

    leg: str
    line: str
    stroke: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowLine:
    """The flow in a line at idle: its Reynolds numbers with the word for each."""

    line: str
    flow: str
    cool: str
    warm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The drawing and the figures of one circuit."""

    drawn: str
    wide_url: str
    upright_url: str
    alt: str
    total: str
    seconds: str
    shares: tuple[ShareLine, ...]
    legs: tuple[LegLine, ...]
    cool: str
    warm: str
    flows: tuple[FlowLine, ...]
    doubts: tuple[str, ...]


def answer_of(request: Request, circuit: Circuit, table: Mapping[str, Any], units: Units) -> Answer:
    """Return what a circuit answers."""
    drawn = drawings(request).keep(circuit, table)
    found = sanity(circuit)
    return Answer(
        drawn=drawn,
        wide_url=f"/circuits/drawn/{drawn}/wide.svg",
        upright_url=f"/circuits/drawn/{drawn}/upright.svg",
        alt=_alt(circuit),
        total=_total(found, units),
        seconds=_seconds(found, units),
        shares=tuple(
            ShareLine(
                name=one.name,
                volume=amount_si(one.volume_m3, "l", units, digits=2),
                share=pct(100.0 * one.share),
                is_within=one.name not in ("reservoir", "loop", "legs"),
            )
            for one in found.shares
        ),
        legs=tuple(_leg(one, units) for one in found.reaches),
        cool=amount_si(COOL_DEGC + 273.15, "degc", units),
        warm=amount_si(WARM_DEGC + 273.15, "degc", units),
        flows=tuple(
            FlowLine(
                line=one.line,
                flow=amount_si(one.flow_m3_s, "l_min", units),
                cool=_reynolds(one.re_cool, one.regime_cool),
                warm=_reynolds(one.re_warm, one.regime_warm),
            )
            for one in found.line_flows
        ),
        doubts=tuple(as_sentence(one.text) for one in doubts(circuit)),
    )


def _alt(circuit: Circuit) -> str:
    """Return the drawing in a sentence."""
    counts = (
        (len(circuit.lines), "line"),
        (len(circuit.nodes), "node"),
        (len(circuit.paths), "path"),
        (len(circuit.legs), "leg"),
    )
    parts = [f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts]
    legs = ", ".join(leg.id for leg in circuit.legs)
    tail = f": {legs}" if legs else ""
    return f"Drawing of {circuit.name}: reservoir, pump, {', '.join(parts)}{tail}."


def _total(found: Sanity, units: Units) -> str:
    """Return what the circuit holds, with the band that nine of ten machines lie in."""
    low, high = (
        figure(own_value(1e3 * end, "l", units), 1)
        for end in (found.total_low_m3, found.total_high_m3)
    )
    best = figure(own_value(1e3 * found.total_m3, "l", units), 1)
    band = f" ({low}{EN_DASH}{high})" if low != high else ""
    return f"{best}{band}{NBSP}{word_of('l', units)}"


def _seconds(found: Sanity, units: Units) -> str:
    """Return how long the pump may run from the level as found, at idle."""
    if found.seconds_to_minimum is None:
        return "Nothing drains the reservoir."
    draws = amount_si(found.idle_flow_m3_s, "l_min", units)
    usable = amount_si(found.usable_m3, "l", units, digits=2)
    text = (
        f"At idle the pump draws {draws}; the {usable} above the minimum last "
        f"{span(found.seconds_to_minimum)}"
    )
    if found.seconds_to_minimum_sure is not None:
        text += f", at worst {span(found.seconds_to_minimum_sure)}"
    return f"{text}."


def _leg(one: Reach, units: Units) -> LegLine:
    """Return one leg."""
    return LegLine(
        leg=one.leg,
        line=amount_si(one.line_m3, "l", units, digits=2),
        stroke=amount_si(one.window_m3, "l", units, digits=2),
        sentence=as_sentence(one.sentence),
    )


def _reynolds(value: float | None, regime: str) -> str:
    """Return a Reynolds number with its regime; without a bore there is only plug flow."""
    return f"{regime}, no bore known" if value is None else f"{figure(value, 0)}, {regime}"
