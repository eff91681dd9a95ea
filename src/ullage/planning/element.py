"""What does a filter element hold back at a size, and how sure is that?

A tested ratio holds at the size that the papers give. At other sizes it is drawn on by a rule of
ours, and never above what was tested. A nominal rating comes from no agreed test: it is worth a
ratio of two at its size, perhaps more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ullage.circuit.parts import Node
from ullage.fluids.filter_drop import FilterDrop
from ullage.fluids.filtration import LARGEST_TESTED_RATIO
from ullage.planning.suction import data_sheet
from ullage.units.bounds import bounded

#: What a nominal rating is worth at its own size: half of what arrives. Common practice, no source.
NOMINAL_RATIO = 2.0
#: Sizes of the particle code.
CODE_SIZES_UM = (4.0, 6.0, 14.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """A filter element as its box or its papers describe it.

    ``ratio`` is the tested filtration ratio at ``size_um``, None for a nominal rating. ``size_um``
    None: nothing is printed at all. ``sheet`` is its clean pressure drop, ``bypass_pa`` where the
    housing's by-pass opens.
    """

    size_um: float | None
    ratio: float | None
    sheet: FilterDrop | None = None
    bypass_pa: float | None = None

    def __post_init__(self) -> None:
        """Refuse sizes and ratios that are none."""
        if self.size_um is not None:
            bounded("size_um", self.size_um, low=0.5, high=500.0, unit="um")
        if self.ratio is not None:
            bounded("ratio", self.ratio, low=1.0, high=1e6)

    @property
    def is_nominal(self) -> bool:
        """Tell whether no test stands behind the rating."""
        return self.ratio is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """A filtration ratio between its ends; equal ends where it was tested."""

    low: float
    high: float

    @property
    def passes_low(self) -> float:
        """Least share that passes."""
        return 1.0 / self.high

    @property
    def passes_high(self) -> float:
        """Most that passes."""
        return 1.0 / self.low


def element_of(node: Node) -> Element:
    """Return the element that a circuit's filter housing holds."""
    nominal = node.is_nominal or node.beta is None
    return Element(
        size_um=node.beta_um,
        ratio=None if nominal else node.beta,
        sheet=data_sheet(node),
        bypass_pa=node.bypass_pa,
    )


def ratio_at(element: Element, *, size_um: float) -> Ratio:
    """Return the filtration ratio of an element for particles of a size and larger.

    Parameters
    ----------
    element : Element
        With its rating.
    size_um : scalar
        Size, above 0. [um]

    Returns
    -------
    ratio : Ratio
        The ends between which the ratio lies. [-]

    Raises
    ------
    OutOfRange
        If the size is not positive.

    Validity
    --------
    Below the rated size the logarithm of the ratio falls in proportion to the size, so that nothing
    is held back at no size. Above it the tested ratio is the low end, and the same line, cut off
    at 1000, the high one. Nominal ratings begin at a ratio of 2, untested ones of no size at 1.

    Source
    ------
    Ratio at the rated size: ``iso-16889-2022``. Elsewhere common practice, no source: a rule of
    ours that rises with size as curves of tested elements do.

    Examples
    --------
    >>> tested = Element(size_um=10.0, ratio=75.0)
    >>> round(ratio_at(tested, size_um=5.0).low, 2), ratio_at(tested, size_um=20.0).low
    (8.66, 75.0)
    """
    bounded("size_um", size_um, above=0.0, unit="um")
    if element.size_um is None:
        return Ratio(low=1.0, high=NOMINAL_RATIO)
    rated = NOMINAL_RATIO if element.ratio is None else element.ratio
    most = max(rated, LARGEST_TESTED_RATIO)
    drawn_on = min(math.exp(min(math.log(rated) * size_um / element.size_um, 700.0)), most)
    if size_um <= element.size_um:
        # A nominal rating may be worth nothing below its size.
        return Ratio(low=1.0 if element.is_nominal else drawn_on, high=drawn_on)
    return Ratio(low=rated, high=drawn_on)
