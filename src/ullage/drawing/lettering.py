"""How much room does a text take, and how is it fitted into less?

Nobody knows the reader's typeface, so widths are those of DejaVu Sans, the widest of the faces that
``theme`` names: a text that fits here fits with any of them.
"""

from __future__ import annotations

import unicodedata

# Advance widths of DejaVu Sans over its size, measured on the font and rounded up.
_ADVANCES = {
    0.30: "ijlIJ'",
    0.35: " ,./:;\\|f",
    0.40: "()[]t-!",
    0.50: 'r"*_`–·',
    0.60: "sz?cLFkvxyPTYao",
    0.65: "eESbdghnpqu$0123456789{}",
    0.70: "KAVBRXZC",
    0.80: "UHNDG&OQw",
    0.90: "#+<=>^~M",
    1.00: "%mW@…",
}
_ADVANCE = {char: advance for advance, chars in _ADVANCES.items() for char in chars}
_OTHER = 0.80
_WIDE = 1.05
_BOLD = 1.12
#: How much wider than these the strong letters of titles are (DejaVu Serif Bold).
SERIF_BOLD = 1.22
ELLIPSIS = "…"


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the room that a text of that size takes at most."""
    ems = sum(_advance(char) for char in text)
    return ems * size * (_BOLD if bold else 1.0)


def _advance(char: str) -> float:
    """Return the advance of one character over the size."""
    char = " " if char == "\u00a0" else char
    if char in _ADVANCE:
        return _ADVANCE[char]
    return _WIDE if unicodedata.east_asian_width(char) in "WF" else _OTHER


def shortened(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return the text, or as much of its beginning as fits with an ellipsis.

    >>> shortened("front-left", 200.0, 12.0), shortened("front-left", 40.0, 12.0)
    ('front-left', 'fron…')
    """
    if text_width(text, size, bold=bold) <= room:
        return text
    kept = text
    while kept and text_width(kept + ELLIPSIS, size, bold=bold) > room:
        kept = kept[:-1]
    return kept.rstrip(" -") + ELLIPSIS


def folded(
    text: str, room: float, size: float, *, most: int = 2, bold: bool = False
) -> tuple[str, ...]:
    """Return the text in at most ``most`` rows, broken behind hyphens and at spaces.

    >>> folded("rear-left-lower-chamber", 90.0, 12.0)
    ('rear-left-', 'lower-cham…')
    """
    rows: list[str] = []
    rest = text.strip()
    while rest and len(rows) < most - 1 and text_width(rest, size, bold=bold) > room:
        breaks = [i + 1 for i, char in enumerate(rest[:-1]) if char in " -"]
        fitting = [i for i in breaks if text_width(rest[:i].rstrip(), size, bold=bold) <= room]
        if not fitting:
            break
        rows.append(rest[: fitting[-1]].rstrip())
        rest = rest[fitting[-1] :].lstrip()
    return (*rows, shortened(rest, room, size, bold=bold)) if rest else tuple(rows)
