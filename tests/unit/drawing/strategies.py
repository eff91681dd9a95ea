"""Random circuits for drawings: anything that the rules of a circuit file let through."""

from __future__ import annotations

from hypothesis import strategies as st

from tests.unit.drawing.circuits import circuit, leg, line, node
from ullage.circuit.network import Circuit
from ullage.circuit.parts import HeldBy, Leg, Line, Node, Path
from ullage.circuit.uncertain import exact

_WORDS = ("a", "valve", "cooler", "pump", "left", "right", "rear", "hose", "gallery", "w" * 24)


@st.composite
def circuits(draw: st.DrawFn) -> Circuit:
    """Draw a circuit: a common order of parts, paths that pick from it, legs on private nodes."""
    count = draw(st.integers(1, 9))
    names = [f"{draw(st.sampled_from(_WORDS))}-{i}" for i in range(count)]
    parts: list[Line | Node] = []
    for i, name in enumerate(names):
        if draw(st.booleans()):
            parts.append(line(name, draw(st.sampled_from((0.02, 0.2, 3.0)))))
        else:
            parts.append(node(name, element=draw(st.booleans()) and i > 0))
    dead_end = draw(st.booleans())
    paths: list[Path] = []
    chosen: set[str] = set()
    for number in range(draw(st.integers(1, 3))):
        picked = [name for name in names if draw(st.booleans())] or [names[0]]
        if number == 0:
            picked = list(names) if draw(st.booleans()) else picked
        divert = draw(st.sampled_from((None, *picked)))
        paths.append(
            Path(
                id=f"path-{number}",
                through=tuple(picked),
                divert_after=None if dead_end else divert,
                dead_end=dead_end,
                opens_above_k=draw(st.sampled_from((None, 340.0))),
            )
        )
        chosen.update(picked)
    share = exact(1.0 / len(paths))
    finished = tuple(
        Path(
            id=path.id,
            through=path.through,
            share=share,
            divert_after=path.divert_after,
            dead_end=path.dead_end,
            opens_above_k=path.opens_above_k,
        )
        for path in paths
    )
    parts = [part for part in parts if part.id in chosen]
    legs = draw(_legs(finished, tuple(part for part in parts if isinstance(part, Node))))
    return circuit(
        draw(
            st.sampled_from(
                ("Van", "A machine with a name that is far too long for any title, or two")
            )
        ),
        tuple(part for part in parts if isinstance(part, Line)),
        tuple(part for part in parts if isinstance(part, Node)),
        finished,
        legs,
    )


@st.composite
def _legs(draw: st.DrawFn, paths: tuple[Path, ...], nodes: tuple[Node, ...]) -> tuple[Leg, ...]:
    """Draw legs on nodes that stand on exactly one path, some of them opposed in pairs."""
    legs: list[Leg] = []
    for bearing in nodes:
        on = [path for path in paths if bearing.id in path.through]
        if len(on) != 1:
            continue
        behind = on[0].through[on[0].through.index(bearing.id) :]
        returns = [
            other.id
            for other in nodes
            if other.id in behind and sum(other.id in path.through for path in paths) == 1
        ]
        for i in range(draw(st.integers(0, 3))):
            word = draw(st.sampled_from(("left", "leg", "a-very-long-name-of-a-leg")))
            name = f"{word}-{bearing.id}-{i}"
            stroke = draw(st.sampled_from((0.0, 0.24)))
            returns_to = draw(st.sampled_from(returns))
            legs.append(
                leg(
                    name,
                    bearing.id,
                    returns_to=returns_to,
                    stroke_l=stroke,
                    bleed=draw(st.booleans()),
                    gas=draw(st.booleans()),
                    held_by=draw(st.sampled_from(tuple(HeldBy))),
                )
            )
            if stroke > 0.0 and draw(st.booleans()):
                legs.append(
                    leg(
                        f"{name}-rod",
                        bearing.id,
                        returns_to=returns_to,
                        opposes=name,
                        gas=draw(st.booleans()),
                    )
                )
    return tuple(legs)
