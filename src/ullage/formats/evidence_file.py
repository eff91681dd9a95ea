"""Reads evidence files into observations."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ullage.circuit.parts import State
from ullage.errors import Fault, FileFaults
from ullage.evidence.observation import (
    Counted,
    CyclesMade,
    Evidence,
    FlowReading,
    LevelReading,
    Place,
    Sample,
    Travel,
    Turn,
    VolumeReading,
)
from ullage.formats import document, evidence_keys
from ullage.formats.reader import Reader, Values

_GRAM_KG = 1e-3

# What holds where a file is silent about the uncertainty; the schema says the same in words.
_SAMPLE_U = 0.05
_JUG_U_M3, _SCALE_U_M3 = 0.05e-3, 0.02e-3
_LEVEL_U_M, _LEVEL_U_M3 = 3e-3, 0.05e-3
_FLOW_U = 0.04
_TURN_U_M3 = 0.2e-3
_TRAVEL_U = 0.05


def read_evidence(path: Path) -> Evidence:
    """Return the readings that a file holds.

    Raises
    ------
    FileFaults
        With everything that is wrong with the file.
    """
    return parse_evidence(document.read_text(path), path.name)


def parse_evidence(text: str, name: str) -> Evidence:
    """Return the readings that a text holds; ``name`` is the file's name in sentences."""
    return evidence_from_table(document.raw_table(text, name), name)


def evidence_from_table(raw: Mapping[str, Any], file: str) -> Evidence:
    """Return the readings that a table of tables holds."""
    reader = Reader(file=file)
    if reader.top_level(raw, evidence_keys.EVIDENCE) is None:
        raise FileFaults(file, reader.faults)
    evidence = Evidence(
        samples=tuple(_sample(v) for v in reader.many(raw, evidence_keys.SAMPLE)),
        volumes=tuple(_volume(reader, v) for v in reader.many(raw, evidence_keys.VOLUME)),
        levels=tuple(_level(reader, v) for v in reader.many(raw, evidence_keys.LEVEL)),
        flows=tuple(_flow(v) for v in reader.many(raw, evidence_keys.FLOW)),
        turns=tuple(_turn(v) for v in reader.many(raw, evidence_keys.TURN)),
        travels=tuple(_travel(v) for v in reader.many(raw, evidence_keys.TRAVEL)),
        cycles=tuple(_cycles(v) for v in reader.many(raw, evidence_keys.CYCLES)),
    )
    if reader.faults:
        raise FileFaults(file, reader.faults)
    return evidence


def _sample(v: Values) -> Sample:
    """Return one sample."""
    where, _, leg = v.text("where").partition(":")
    known = {place.value for place in Place}
    return Sample(
        place=Place(where) if where in known else Place.OUTFLOW,  # a stand-in's text is empty
        leg=leg or None,
        after_step=v.whole("after_step", 0),
        at_step_m3=v.maybe_real("at_step_l"),
        old_vfrac=v.real("old_pct"),
        u_vfrac=v.real("u_pct", _SAMPLE_U),
        reference=v.text("ref", "reservoir"),
        shares=v.maybe_text("shares"),
    )


def _one_of_two(reader: Reader, v: Values, first: str, second: str) -> None:
    """Note where not exactly one of two keys is there."""
    if any(reader.stands_in(f"{v.place}.{key}") for key in (first, second)):
        return
    if first in v and second in v:
        problem, advice = f"stands beside {second}", "keep the one that was read"
    elif first not in v and second not in v:
        problem, advice = "is missing", f"add {first} or {second}"
    else:
        return
    reader.faults.append(
        Fault(
            key=f"{v.place}.{first}",
            value=None,
            problem=problem,
            allowed=f"either {first} or {second}",
            advice=advice,
        )
    )


def _volume(reader: Reader, v: Values) -> VolumeReading:
    """Return one volume."""
    _one_of_two(reader, v, "litres", "grams")
    grams = v.maybe_real("grams")
    return VolumeReading(
        what=Counted(v.text("what")),
        step=v.maybe_whole("step"),
        volume_m3=v.maybe_real("litres"),
        mass_kg=None if grams is None else grams * _GRAM_KG,
        at_k=v.maybe_real("at_degc"),
        u_m3=v.real("u_l", _SCALE_U_M3 if "grams" in v else _JUG_U_M3),
        shares=v.maybe_text("shares"),
    )


def _level(reader: Reader, v: Values) -> LevelReading:
    """Return one level."""
    _one_of_two(reader, v, "mm", "litres")
    return LevelReading(
        after_step=v.whole("after_step", 0),
        state=State(v.text("state", State.CHARGED.value)),
        height_m=v.maybe_real("mm"),
        u_height_m=v.real("u_mm", _LEVEL_U_M) if "mm" in v else None,
        volume_m3=v.maybe_real("litres"),
        u_m3=v.real("u_l", _LEVEL_U_M3) if "litres" in v else None,
        at_k=v.maybe_real("at_degc"),
    )


def _flow(v: Values) -> FlowReading:
    """Return one timed container."""
    return FlowReading(
        volume_m3=v.real("litres"),
        duration_s=v.real("seconds"),
        u_share=v.real("u_pct", _FLOW_U),
        rev_s=v.maybe_real("rev_min"),
    )


def _turn(v: Values) -> Turn:
    """Return one change of colour."""
    return Turn(step=v.whole("step", 1), at_m3=v.real("at_l"), u_m3=v.real("u_l", _TURN_U_M3))


def _travel(v: Values) -> Travel:
    """Return one observed stroke."""
    return Travel(leg=v.text("leg"), share=v.real("pct"), u_share=v.real("u_pct", _TRAVEL_U))


def _cycles(v: Values) -> CyclesMade:
    """Return one count of cycles."""
    return CyclesMade(step=v.whole("step", 1), group=v.text("group"), count=v.whole("count", 0))
