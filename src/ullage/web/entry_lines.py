"""An entry of a job as a line on a page: what was read, in the person's units, and its check."""

from __future__ import annotations

from dataclasses import dataclass

from ullage.jobs.event import Event, Kind
from ullage.jobs.forecast import Band, Check
from ullage.web.addresses import photo_url
from ullage.web.shown import EN_DASH, NBSP, Units, amount, amount_si, figure, pct

STATES = {
    "charged": "pressure up, standing as found",
    "released": "pressure let go",
    "retracted": "everything lowered",
    "extended": "everything raised",
}
PLACES = {
    "outflow": "outflow",
    "reservoir": "reservoir",
    "bucket": "waste can, mixed",
}
_VOLUMES = {
    "drawn-off": "drawn off",
    "waste": "to waste",
    "poured": "poured",
    "left-over": "left over",
}
_CHECKED_UNITS = {"volume": "l", "turn": "l", "flow": "l_min"}


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryLine:
    """One entry: what it says, whether it is as expected, a remark, the name to take it back by.

    ``check`` is empty where nothing was foretold; ``is_outside`` tells a reading that does not fit.
    ``url`` leads to a photo.
    """

    uid: str
    text: str
    check: str = ""
    is_outside: bool = False
    note: str = ""
    url: str = ""


def entry_line(event: Event, check: Check | None, units: Units) -> EntryLine:
    """Return an entry as a line."""
    note = event.payload.get("note", "")
    return EntryLine(
        uid=event.uid,
        text=entry_text(event, units),
        check="" if check is None else check_text(check, units),
        is_outside=check is not None and not check.is_within,
        note="" if event.kind is Kind.NOTE else note,
        url=photo_url(event.payload["sha256"]) if event.kind is Kind.PHOTO else "",
    )


def entry_text(event: Event, units: Units) -> str:
    """Return what an entry says, without its remark."""
    p = event.payload
    match event.kind:
        case Kind.POURED:
            return f"{_litres(p['litres'], units)} poured"
        case Kind.VOLUME:
            read = _litres(p["litres"], units) if "litres" in p else f"{p['grams']:.0f}{NBSP}g"
            return f"{read} {_VOLUMES[p['what']]}{_at(p.get('at_degc'), units)}"
        case Kind.LEVEL:
            read = level_text(p["mm"]) if "mm" in p else _litres(p["litres"], units)
            return f"level {read}, {STATES[p['state']]}{_at(p.get('at_degc'), units)}"
        case Kind.TURN:
            return f"outflow turned at {_litres(p['at_l'], units)} of the step"
        case Kind.CYCLES:
            return f"{p['group']} moved {p['count']} times"
        case Kind.TEMPERATURE:
            return amount(p["degc"], "degc", units, digits=0)
        case Kind.SAMPLE:
            return f"sample {p['name']}: {place_text(p['where'])}{_into(p.get('at_step_l'), units)}"
        case Kind.READING:
            return f"sample {p['sample']}: {p['old_pct']:.0f} ± {p['u_pct']:.0f}{NBSP}% old"
        case Kind.FLOW:
            return f"{_litres(p['litres'], units)} in {figure(p['seconds'], 1)}{NBSP}s"
        case Kind.TRAVEL:
            return f"{p['leg']} moved {p['pct']:.0f}{NBSP}% of its stroke"
        case Kind.PHOTO:
            return f"photo {p.get('name', '')}".strip()
        case Kind.NOTE:
            return str(p["note"])
        case _:
            return event.kind.value


def level_text(mm: float) -> str:
    """Return a height as above or below the mark.

    >>> level_text(-12.0).replace(NBSP, " "), level_text(0.2).replace(NBSP, " ")
    ('12 mm below the mark', 'at the mark')
    """
    whole = round(mm)
    if whole == 0:
        return "at the mark"
    return f"{abs(whole)}{NBSP}mm {'above' if whole > 0 else 'below'} the mark"


def levels_text(low_mm: float, high_mm: float) -> str:
    """Return a band of heights; the sides are named once where they are the same.

    >>> levels_text(-15.0, -3.0).replace(NBSP, " ")
    '3 to 15 mm below the mark'
    """
    low, high = round(low_mm), round(high_mm)
    if low == high:
        return level_text(low)
    if low >= 0:
        return f"{low} to {high}{NBSP}mm above the mark"
    if high <= 0:
        return f"{-high} to {-low}{NBSP}mm below the mark"
    return f"{-low}{NBSP}mm below to {high}{NBSP}mm above the mark"


def place_text(where: str) -> str:
    """Return where a sample was drawn.

    >>> place_text("leg:rear-left")
    'bleed point of rear-left'
    """
    place, _, leg = where.partition(":")
    return f"bleed point of {leg}" if leg else PLACES.get(place, place)


def band_text(band: Band, unit: str, units: Units, *, digits: int = 1) -> str:
    """Return a band in the person's unit; ``unit`` is the suffix that our files would use."""
    low = amount_si(band.low, unit, units, digits=digits)
    high = amount_si(band.high, unit, units, digits=digits)
    if low == high:
        return high
    ends = [text.split(NBSP)[0] for text in (low, high)]
    if "." in "".join(ends):
        # Both ends are as exact as each other, and are written so.
        places = max(len(end.partition(".")[2]) for end in ends)
        ends = [end if "." in end else f"{end}.{'0' * places}" for end in ends]
    return high.replace(high.split(NBSP)[0], EN_DASH.join(ends), 1)


def check_text(check: Check, units: Units) -> str:
    """Say whether a reading is as expected, and what was."""
    word = "as expected" if check.is_within else "not as expected"
    return f"{word} ({expected_text(check, units)})"


def expected_text(check: Check, units: Units) -> str:
    """Return the band of a reading, in the words of its kind."""
    band = check.band
    if check.kind in _CHECKED_UNITS:
        return band_text(band, _CHECKED_UNITS[check.kind], units)
    if check.kind == "level":
        if check.is_height:
            return levels_text(1e3 * band.low, 1e3 * band.high)
        return band_text(band, "l", units)
    low, high = (min(max(100.0 * v, 0.0), 100.0) for v in (band.low, band.high))
    return f"{low:.0f}{EN_DASH}{pct(high)}"


def _litres(litres: float, units: Units) -> str:
    return amount(litres, "l", units, digits=2)


def _at(degc: float | None, units: Units) -> str:
    return "" if degc is None else f", at {amount(degc, 'degc', units, digits=0)}"


def _into(litres: float | None, units: Units) -> str:
    return "" if litres is None else f", {_litres(litres, units)} into the step"
