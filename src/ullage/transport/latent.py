"""Runs machines that somebody chose, in place of machines that a seed draws.

Every uncertain number of a circuit, and of its mixing, is one uniform number behind which the
value stands at its quantile. Here those uniforms are named, put in rows and turned into values, so
that what is learnt about a machine can be said in their terms. The draws of ``values_of`` and
``structure.draw_classes`` are the special case in which the uniforms come from a seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ullage.circuit.network import Circuit
from ullage.circuit.uncertain import Uncertain, stream
from ullage.circuit.volumes import Numbers
from ullage.transport import structure
from ullage.transport.values import Values, values_of

Floats = NDArray[np.float64]

#: The uniform that says to which class of ``structure.CLASSES`` a machine belongs.
CLASS = "structure.class"
_AREA = "reservoir.area"


def _key(number: Uncertain, name: str) -> str:
    """Return the name under which a number is drawn."""
    return f"shared:{number.shared}" if number.shared else name


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked(Numbers):
    """Answers with best values and remembers which numbers were asked for that are not exact."""

    seen: dict[str, Uncertain] = field(default_factory=dict)

    def of(self, number: Uncertain, name: str) -> Floats:
        if not number.is_exact:
            self.seen.setdefault(_key(number, name), number)
        return np.full(self.count, number.best)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen(Numbers):
    """Looks the quantile of each number up by name; ``uniforms`` are (count,) each, in (0, 1)."""

    uniforms: Mapping[str, Floats]

    def of(self, number: Uncertain, name: str) -> Floats:
        """Return the values of one number for all members, (count,)."""
        if number.is_exact:
            return np.full(self.count, number.best)
        return number.at_quantile(self.uniforms[_key(number, name)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Latents:
    """The names of everything that is unknown about a circuit, the class of structure last.

    ``unknowns`` are the numbers behind the names, without the class."""

    circuit: Circuit
    names: tuple[str, ...]
    unknowns: tuple[Uncertain, ...]

    def drawn(self, *, seed: int, count: int) -> Floats:
        """Return the uniforms that a seed draws, (names, count)."""
        return np.array([stream(seed, name, count) for name in self.names])

    def numbers(self, uniforms: Floats) -> Chosen:
        """Return the numbers of machines with these uniforms, (names, count)."""
        named = dict(zip(self.names, uniforms, strict=True))
        return Chosen(count=uniforms.shape[1], is_best=False, uniforms=named)

    def values(self, uniforms: Floats) -> Values:
        """Return the values of machines with these uniforms; column 0 holds the best values."""
        return values_of(self.circuit, drawn=self.numbers(uniforms))

    def classes(self, uniforms: Floats) -> NDArray[np.intp]:
        """Return the class of structure of each machine, (count,)."""
        return structure.classes_at(uniforms[self.names.index(CLASS)])


def latents_of(circuit: Circuit) -> Latents:
    """Return what is unknown about a circuit."""
    asked = _Asked(is_best=False)
    values_of(circuit, drawn=asked)
    if circuit.reservoir.area_m2 is not None:
        asked.of(circuit.reservoir.area_m2, _AREA)
    return Latents(circuit=circuit, names=(*asked.seen, CLASS), unknowns=tuple(asked.seen.values()))


def area_m2(circuit: Circuit, numbers: Numbers) -> Floats | None:
    """Return the reservoir's free surface for all members, (count,) [m2]; None where unknown."""
    area = circuit.reservoir.area_m2
    return None if area is None else numbers.of(area, _AREA)
