"""How large is everything in a drawing, upright for a phone and wide for a laptop?

All in drawing units, which are about one pixel where the drawing is shown at its own width.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.drawing.placed import Shape

PHONE_PX, LAPTOP_PX = 360, 900  # common widths of a page on either
SHEET_PX = 1120  # a drawing that stands alone: the wide shape at its own size


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """The measures of one shape.

    ``symbol`` is the side of pump, filter and cooler; ``leg_line`` the drawn length of a leg's
    line; ``column_label`` the room for words beside a rising or falling part. ``is_banded`` adds
    a row for the band to every figure."""

    shape: Shape
    width: float
    margin: float
    title_size: float
    name_size: float
    figure_size: float
    small_size: float
    row: float
    symbol: float
    gallery: float
    leg_line: float
    cylinder: float
    column_label: float
    item_label: float
    thinnest: float
    thickest: float
    is_banded: bool

    @property
    def side_rows(self) -> int:
        """Return the rows of figures beside a symbol: share and litres, then the band."""
        return 2 if self.is_banded else 1

    @property
    def stacked_rows(self) -> int:
        """Return the rows of figures where there is little room: share, litres, band."""
        return 3 if self.is_banded else 2

    @property
    def item_rows(self) -> int:
        """Return the rows of figures under an item of a storey."""
        return self.stacked_rows if self.shape is Shape.UPRIGHT else self.side_rows

    @property
    def track(self) -> float:
        """Return the distance of wires that run side by side."""
        return 9.0


def measures(shape: Shape, *, is_banded: bool) -> Measures:
    """Return the measures of a shape."""
    if shape is Shape.UPRIGHT:
        return Measures(
            shape=shape,
            width=348.0,
            margin=4.0,
            title_size=18.0,
            name_size=12.0,
            figure_size=12.0,
            small_size=11.0,
            row=15.0,
            symbol=36.0,
            gallery=80.0,
            leg_line=80.0,
            cylinder=50.0,
            column_label=105.0,
            item_label=74.0,
            thinnest=5.5,
            thickest=15.0,
            is_banded=is_banded,
        )
    return Measures(
        shape=shape,
        width=1120.0,
        margin=10.0,
        title_size=25.0,
        name_size=14.5,
        figure_size=15.0,
        small_size=13.0,
        row=18.5,
        symbol=46.0,
        gallery=116.0,
        leg_line=140.0,
        cylinder=66.0,
        column_label=136.0,
        item_label=124.0,
        thinnest=6.5,
        thickest=20.0,
        is_banded=is_banded,
    )
