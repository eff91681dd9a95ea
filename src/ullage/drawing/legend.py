"""How is the colour of fluid explained? By the ramp itself, with the whole circuit marked on it."""

from __future__ import annotations

from ullage.drawing import figures, ramp
from ullage.drawing.lettering import text_width
from ullage.drawing.placed import Anchor, Box
from ullage.drawing.svg import escaped, points, tag
from ullage.drawing.theme import DAYLIGHT
from ullage.drawing.words import text

_STOPS = 24
_BAR = 11.0
_ABOVE = 15.0


def legend(box: Box, *, key: str, size: float, remaining: float | None) -> str:
    """Return the ramp from new to old; ``remaining`` is the share to be marked on it.

    ``key`` keeps names unique where several drawings stand on one page.
    """
    bar = Box(x=box.x + 0.5, y=box.y + _ABOVE, width=box.width - 1.0, height=_BAR)
    stops = [
        tag("stop", offset=f"{i / _STOPS:.4f}", stop_color=ramp.fluid_colour(i / _STOPS))
        for i in range(_STOPS + 1)
    ]
    drawn = [
        tag("defs", [tag("linearGradient", stops, id=f"{key}-ramp")]),
        tag(
            "rect",
            x=bar.x,
            y=bar.y,
            width=bar.width,
            height=bar.height,
            fill=f"url(#{key}-ramp)",
            stroke=DAYLIGHT.ink,
            stroke_width=1.0,
        ),
    ]
    for share, anchor, words in (
        (0.0, Anchor.START, "0 %, all new"),
        (0.5, Anchor.MIDDLE, "50 % old"),
        (1.0, Anchor.END, "100 %, all old"),
    ):
        drawn.append(
            text(
                [escaped(words)],
                x=bar.x + share * bar.width,
                y=bar.bottom + size + 3.0,
                anchor=anchor,
                size=size,
                fill=DAYLIGHT.grey,
            )
        )
    if remaining is not None:
        drawn += _mark(bar, size, remaining)
    return tag("g", drawn)


def _mark(bar: Box, size: float, remaining: float) -> list[str]:
    """Return the mark above the ramp that says where the whole circuit stands."""
    x = bar.x + remaining * bar.width
    mark = ((x, bar.y - 1.0), (x - 4.5, bar.y - 9.0), (x + 4.5, bar.y - 9.0))
    words = f"{figures.percent(remaining)} in all"
    is_right = x + 9.0 + text_width(words, size) < bar.right
    return [
        tag("polygon", points=points(mark), fill=DAYLIGHT.ink),
        text(
            [escaped(words)],
            x=x + (9.0 if is_right else -9.0),
            y=bar.y - 3.0,
            anchor=Anchor.START if is_right else Anchor.END,
            size=size,
            fill=DAYLIGHT.ink,
        ),
    ]
