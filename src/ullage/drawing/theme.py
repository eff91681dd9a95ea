"""What do paper and ink look like, by daylight and in the dark?

One small set of colours for drawings, charts and pages. They are quiet on purpose: the only
strong colour is that of the fluid (``ramp``). ``dark_rules`` lets one picture serve both schemes:
colours are written for daylight, and a rule per colour swaps them where the reader's device asks
for dark."""

from __future__ import annotations

from dataclasses import dataclass

SANS = "'Source Sans 3', 'Source Sans Pro', system-ui, 'DejaVu Sans', sans-serif"
SERIF = "'Source Serif 4', Charter, 'Iowan Old Style', Georgia, 'DejaVu Serif', serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """Colours of one scheme: paper, ink for what is read first, grey for the rest, hairlines."""

    paper: str
    ink: str
    grey: str
    hairline: str
    wash: str


DAYLIGHT = Scheme(
    paper="#f8f5ee", ink="#211c16", grey="#5f574b", hairline="#b9b0a0", wash="#ece6d9"
)
DARK = Scheme(paper="#191613", ink="#efe9dd", grey="#b3aa9a", hairline="#5d564a", wash="#28241f")


def dark_rules(within: str) -> str:
    """Return the style rules that turn a picture dark, for elements inside ``within``.

    They match presentation attributes by value, so a program that knows no such rules (a PDF
    writer) shows daylight."""
    pairs = (
        (DAYLIGHT.paper, DARK.paper),
        (DAYLIGHT.ink, DARK.ink),
        (DAYLIGHT.grey, DARK.grey),
        (DAYLIGHT.hairline, DARK.hairline),
        (DAYLIGHT.wash, DARK.wash),
    )
    rules = [
        f'{within} [{attribute}="{day}"]{{{attribute}:{night}}}'
        for day, night in pairs
        for attribute in ("fill", "stroke")
    ]
    return f"@media (prefers-color-scheme:dark){{{''.join(rules)}}}"
