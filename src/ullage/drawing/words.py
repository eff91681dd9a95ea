"""How are labels written on a drawing?

Each label of the layout gets its words and its figures, row by row: names plain, the share
strong, the band small and grey; on fluid in whichever ink can be read there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ullage.drawing import figures, ramp
from ullage.drawing.held import Contents
from ullage.drawing.lettering import folded
from ullage.drawing.placed import Anchor, Label, Role
from ullage.drawing.svg import escaped, tag
from ullage.drawing.theme import DAYLIGHT, SERIF

_STRONG = 600
_LEADING = 1.3
_BASELINE = 0.76
_SMALLER = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One row of text; ``is_strong`` holds for the part before a dot in the middle."""

    text: str
    is_strong: bool = False
    is_small: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Writes the labels of one drawing. ``row`` is the distance of rows."""

    contents: Contents
    row: float

    def written(self, label: Label, *, tells_waste: bool) -> Iterator[str]:
        """Yield the rows of a label from the top down, as markup."""
        if label.role in (Role.TITLE, Role.SUMMARY):
            yield from self._heading(label)
            return
        fill = DAYLIGHT.grey if label.role is Role.CAPTION else self._ink(label)
        rows = [_Row(text=text) for text in label.rows]
        if label.role is Role.WASTE:
            rows += self._waste() if tells_waste else []
        elif label.role in (Role.FIGURES, Role.STACKED):
            rows += self._figures(label)
        is_centred = label.role in (Role.FIGURES, Role.WASTE) or bool(label.on)
        spare = label.box.height - self.row * len(rows)
        top = label.box.y + (spare / 2.0 if is_centred else 0.0)
        for i, row in enumerate(rows):
            shade = DAYLIGHT.grey if row.is_small and not label.on else fill
            yield _text(label, row, top + self.row * (i + _BASELINE), shade)

    def _heading(self, label: Label) -> Iterator[str]:
        """Yield the title, or the sentence under it."""
        is_title = label.role is Role.TITLE
        rows = (
            label.rows
            if is_title
            else folded(self.contents.sentence(), label.box.width, label.size, most=3)
        )
        for i, row in enumerate(rows):
            y = label.box.y + label.size * (1.0 + _LEADING * i)
            yield _text(
                label,
                _Row(text=row, is_strong=is_title),
                y,
                DAYLIGHT.ink,
                family=SERIF if is_title else None,
            )

    def _ink(self, label: Label) -> str:
        """Return the ink of a label: on fluid, whichever can be read there."""
        held = self.contents.parts.get(label.on)
        if held is None or held.old is None:
            return DAYLIGHT.ink
        return ramp.ink_on(held.old.middle)

    def _figures(self, label: Label) -> list[_Row]:
        """Return the figures of a part."""
        held = self.contents.parts.get(label.part)
        if held is None:
            return []
        rows = held.rows()
        is_known = len(rows) > 1
        if label.role is Role.STACKED:
            band = [row.removesuffix(" %") if label.on else row for row in rows[2:]]
            return [
                _Row(text=rows[0], is_strong=is_known),
                *(_Row(text=row) for row in rows[1:2]),
                *(_Row(text=row, is_small=True) for row in band),
            ]
        first = _Row(text=" · ".join(rows[:2]), is_strong=is_known)
        return [first, *(_Row(text=row, is_small=True) for row in rows[2:])]

    def _waste(self) -> list[_Row]:
        """Return litres and old share of all that went to waste."""
        share = self.contents.waste_old_share
        if share is None:
            return []
        return [
            _Row(text=figures.litres(self.contents.waste_m3), is_strong=True),
            _Row(text=f"{figures.percent(share)} old", is_small=True),
        ]


def _text(label: Label, row: _Row, y: float, fill: str, *, family: str | None = None) -> str:
    """Return one row of a label as markup."""
    strong, dot, rest = row.text.partition(" · ")
    weight = _STRONG if row.is_strong else None
    content = [escaped(row.text)]
    if dot and weight is not None:
        content = [tag("tspan", [escaped(strong)], font_weight=weight), escaped(dot + rest)]
        weight = None
    return text(
        content,
        x={
            Anchor.START: label.box.x,
            Anchor.MIDDLE: label.box.middle.x,
            Anchor.END: label.box.right,
        }[label.anchor],
        y=y,
        anchor=label.anchor,
        size=label.size - _SMALLER if row.is_small else label.size,
        fill=fill,
        weight=weight,
        family=family,
    )


def text(
    content: list[str],
    *,
    x: float,
    y: float,
    anchor: Anchor,
    size: float,
    fill: str,
    weight: int | None = None,
    family: str | None = None,
) -> str:
    """Return a row of text; ``content`` is finished markup."""
    return tag(
        "text",
        content,
        x=x,
        y=y,
        text_anchor=None if anchor is Anchor.START else anchor.value,
        font_size=size,
        font_weight=weight,
        font_family=family,
        fill=fill,
    )
