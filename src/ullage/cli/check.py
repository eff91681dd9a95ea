"""``ullage check``: say whether files are right, alone and together, and show the sanity figures.

Faults go to standard error, one sentence each; what can be shown goes to standard output. Several
files are also held against each other: recipes against the circuit, readings against both.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from ullage.circuit.doubts import doubts
from ullage.circuit.network import Circuit
from ullage.circuit.sanity import Sanity, sanity
from ullage.errors import Fault, FileFaults, UllageError
from ullage.evidence.observation import Evidence
from ullage.evidence.refusals import evidence_faults
from ullage.formats import document
from ullage.formats.circuit_file import circuit_from_table
from ullage.formats.circuit_keys import CIRCUIT
from ullage.formats.evidence_file import evidence_from_table
from ullage.formats.evidence_keys import EVIDENCE
from ullage.formats.recipe_file import recipe_from_table
from ullage.formats.recipe_keys import RECIPE
from ullage.formats.result_json import note_to_json
from ullage.formats.sanity_json import fault_to_json, sanity_to_json
from ullage.transport.recipe import Recipe
from ullage.transport.refusals import refusals, warnings
from ullage.transport.result import Note

SUCCESS = 0
BAD_INPUT = 2

_KINDS = (CIRCUIT, RECIPE, EVIDENCE)


@dataclass(kw_only=True)
class _Checked:
    """What was found about one file."""

    file: str
    kind: str | None = None
    content: Circuit | Recipe | Evidence | None = None
    faults: list[Fault] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    figures: Sanity | None = None


def run(files: list[Path], *, as_json: bool) -> int:
    """Carry out one ``ullage check`` and return the exit code: 0, or 2 where a file has a fault."""
    checked = [_read(path) for path in files]
    _hold_together(checked)
    if as_json:
        print(json.dumps(_as_table(checked), allow_nan=False))
    else:
        shown = "\n\n".join(_screen(one) for one in checked if not one.faults)
        if shown:
            print(shown)
    for one in checked:
        if one.faults:
            sys.stderr.write(f"ullage check: {FileFaults(one.file, one.faults)}\n")
    return BAD_INPUT if any(one.faults for one in checked) else SUCCESS


def _read(path: Path) -> _Checked:
    """Return one file, read or with the faults that it has."""
    one = _Checked(file=str(path))
    try:
        raw = document.raw_table(document.read_text(path), path.name)
        kind = document.kind_of(raw) or _kind_by_ending(path)
        one.kind = kind
        match kind:
            case "circuit":
                circuit = circuit_from_table(raw, path.name)
                one.content = circuit
                one.notes = [Note(code=d.code, text=d.text) for d in doubts(circuit)]
                one.figures = sanity(circuit)
            case "recipe":
                one.content = recipe_from_table(raw, path.name)
            case "evidence":
                one.content = evidence_from_table(raw, path.name)
            case _:
                known = " or ".join(f'"{known.format}"' for known in _KINDS)
                one.faults.append(
                    Fault(
                        key="format",
                        value=raw.get("format"),
                        problem="is missing, so nobody can tell what the file is"
                        if "format" not in raw
                        else "is no format that can be checked",
                        allowed=known,
                        advice="write it as the first line",
                    )
                )
    except FileFaults as error:
        one.faults = list(error.faults)
    except UllageError as error:
        one.faults.append(Fault(key="file", value=path.name, problem=str(error)))
    return one


def _kind_by_ending(path: Path) -> str | None:
    """Return the kind of file that the name's ending promises, if any."""
    return next((kind.word for kind in _KINDS if path.name.endswith(kind.ending)), None)


def _hold_together(checked: Iterable[_Checked]) -> None:
    """Hold recipes against the circuit, and readings against both, where one of each is there."""
    rows = list(checked)
    circuits = [one.content for one in rows if isinstance(one.content, Circuit)]
    recipes = [one.content for one in rows if isinstance(one.content, Recipe)]
    if len(circuits) != 1:
        return
    circuit = circuits[0]
    told = {doubt.code for doubt in doubts(circuit)}
    for one in rows:
        if isinstance(one.content, Recipe):
            one.faults += refusals(circuit, one.content)
            if not one.faults:
                # What is doubtful about the circuit itself stands beside the circuit.
                one.notes += [n for n in warnings(circuit, one.content) if n.code not in told]
        elif isinstance(one.content, Evidence):
            recipe = recipes[0] if len(recipes) == 1 else None
            one.faults += evidence_faults(one.content, circuit, recipe)


def _as_table(checked: list[_Checked]) -> dict[str, object]:
    """Return everything as one JSON object."""
    return {
        "format": "ullage-check/1",
        "ok": not any(one.faults for one in checked),
        "files": [
            {
                "file": one.file,
                "kind": one.kind,
                "faults": [fault_to_json(fault) for fault in one.faults],
                "warnings": [note_to_json(note) for note in one.notes],
                "sanity": None if one.figures is None else sanity_to_json(one.figures),
            }
            for one in checked
        ],
    }


def _screen(one: _Checked) -> str:
    """Return what a person sees of a file without faults."""
    what = {
        "circuit": "a circuit file",
        "recipe": "a recipe file",
        "evidence": "an evidence file",
    }
    rows = [f"{one.file}: {what.get(one.kind or '', 'a file')}, no faults"]
    if one.figures is not None:
        rows += _figures(one.figures)
    if isinstance(one.content, Recipe):
        rows.append(f"  {len(one.content.steps)} steps")
    if isinstance(one.content, Evidence):
        rows.append(f"  {_readings(one.content)}")
    if one.notes:
        rows.append("  look again at:")
        rows += [f"    - {note.text}" for note in one.notes]
    return "\n".join(rows)


def _readings(evidence: Evidence) -> str:
    """Return how many readings of each sort there are."""
    counts = (
        ("sample", "samples", len(evidence.samples)),
        ("volume", "volumes", len(evidence.volumes)),
        ("level", "levels", len(evidence.levels)),
        ("flow", "flows", len(evidence.flows)),
        ("turn of colour", "turns of colour", len(evidence.turns)),
        ("travel", "travels", len(evidence.travels)),
        ("count of cycles", "counts of cycles", len(evidence.cycles)),
    )
    shown = [f"{n} {one if n == 1 else more}" for one, more, n in counts if n]
    return ", ".join(shown) or "no readings"


def _figures(figures: Sanity) -> list[str]:
    """Return the screen of sanity figures."""
    names = [share.name for share in figures.shares] + [flow.line for flow in figures.line_flows]
    width = max(len(name) for name in names)
    rows = [
        f"  holds {figures.total_m3 * 1e3:.2f} L ({figures.total_low_m3 * 1e3:.1f} to "
        f"{figures.total_high_m3 * 1e3:.1f} L in nine of ten simulated machines)"
    ]
    parts = {"reservoir", "loop", "legs"}
    rows += [
        f"    {'  ' if share.name not in parts else ''}{share.name:<{width}}"
        f"{'' if share.name not in parts else '  '}{share.volume_m3 * 1e3:8.3f} L"
        f"{share.share * 100:6.1f} %"
        for share in figures.shares
    ]
    if figures.seconds_to_minimum is not None and figures.seconds_to_minimum_sure is not None:
        rows.append(
            f"  pump at idle {figures.idle_flow_m3_s * 60e3:.2f} L/min, "
            f"{figures.usable_m3 * 1e3:.2f} L above the minimum: reached after "
            f"{figures.seconds_to_minimum:.0f} s, in the worst case after "
            f"{figures.seconds_to_minimum_sure:.0f} s"
        )
    if figures.reaches:
        rows.append("  line against stroke")
        rows += [
            f"    {reach.leg}: line {reach.line_m3 * 1e3:.3f} L, stroke in use "
            f"{reach.window_m3 * 1e3:.3f} L; {reach.sentence}"
            for reach in figures.reaches
        ]
    if figures.line_flows:
        rows.append("  Reynolds numbers at idle, at 20 and 60 degC (turbulent above 4000)")
        rows += [
            f"    {flow.line:<{width}}  {_reynolds(flow.re_cool, flow.regime_cool):>21}  "
            f"{_reynolds(flow.re_warm, flow.regime_warm):>21}"
            for flow in figures.line_flows
        ]
    return rows


def _reynolds(re: float | None, regime: str) -> str:
    """Return a Reynolds number with its regime."""
    return "plug, no bore known" if re is None else f"{re:.0f} {regime}"
