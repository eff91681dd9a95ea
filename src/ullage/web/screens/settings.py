"""Settings: units, prices, devices that were let in, and the backup of everything."""

from __future__ import annotations

from dataclasses import dataclass

import segno
from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from ullage.errors import UllageError
from ullage.jobs.ports import Desk, Device
from ullage.jobs.prices import LONGEST_CURRENCY, PRICES, keep_prices, kept_currency, kept_prices
from ullage.web.desk import Filled, Here, InUnits, render
from ullage.web.door import OPEN_TO_THE_NETWORK, Door, is_at_the_machine, only_at_the_machine
from ullage.web.forms import Field, Typed, filled, read
from ullage.web.pairing import Pairing
from ullage.web.shown import CHOICES, Units, moment

router = APIRouter()

UNIT_FIELDS: tuple[Field, ...] = tuple(
    Field(key, label, "choice", choices=choices, required=True)
    for key, (label, choices) in CHOICES.items()
)
_PRICE_LABELS = {
    "fluid_per_litre": "New fluid, a litre",
    "filter_each": "Filter element with its sealing ring, each",
    "rings_per_bleed_point": "Cap or ring of a bleed screw, each",
    "diverter_once": "Clips and hose of the diverter, each job",
    "waste_per_litre": "Waste handed over, a litre",
    "labour_per_hour": "Labour, an hour for everybody together",
}
PRICE_FIELDS: tuple[Field, ...] = (
    Field("currency", "Currency", "text", required=True, longest=LONGEST_CURRENCY),
    *(Field(key, _PRICE_LABELS[key], "number", required=True, low=0.0, high=1e6) for key in PRICES),
)
_AT_THE_MACHINE = [Depends(only_at_the_machine)]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceLine:
    """A device that was let in; a struck out one stays in the list."""

    id: str
    name: str
    told: str
    is_in: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCode:
    """The code that counts at the moment, for people and for a phone's camera."""

    digits: str
    told: str
    picture: Markup


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsPage:
    """All settings, with the forms to change them."""

    unit_fields: tuple[Field, ...]
    unit_typed: Typed
    price_fields: tuple[Field, ...]
    price_typed: Typed
    is_at_the_machine: bool
    lan_url: str
    warning: str
    devices: tuple[DeviceLine, ...]
    code: ShownCode | None


@router.get("/settings")
def show_settings(request: Request, desk: Here, units: InUnits) -> Response:
    """Show all settings."""
    return _settings_page(request, desk, units)


@router.post("/settings/units")
def save_units(request: Request, desk: Here, units: InUnits, form: Filled) -> Response:
    """Keep the units that pages are read and filled in with."""
    typed = read(UNIT_FIELDS, form, units)
    if not typed.is_good:
        return _settings_page(request, desk, units, unit_typed=typed, status=422)
    for key, value in typed.values.items():
        desk.store.set_setting(f"units.{key}", value)
    return RedirectResponse("/settings#units", status_code=303)


@router.post("/settings/prices")
def save_prices(request: Request, desk: Here, units: InUnits, form: Filled) -> Response:
    """Keep the prices that methods are compared with."""
    typed = read(PRICE_FIELDS, form, units)
    if typed.is_good:
        prices = {key: typed.values[key] for key in PRICES}
        try:
            keep_prices(desk, prices, typed.values["currency"])
            return RedirectResponse("/settings#prices", status_code=303)
        except UllageError as error:
            typed = typed.with_error(error)
    return _settings_page(request, desk, units, price_typed=typed, status=422)


@router.post("/settings/code", dependencies=_AT_THE_MACHINE)
def make_code(request: Request) -> Response:
    """Make a code that lets one device in."""
    _pairing(request).new_code()
    return RedirectResponse("/settings#devices", status_code=303)


@router.post("/settings/devices/{device_id}/strike-out", dependencies=_AT_THE_MACHINE)
def strike_out(request: Request, device_id: str) -> Response:
    """Take the pass of a device away."""
    _pairing(request).strike_out(device_id)
    return RedirectResponse("/settings#devices", status_code=303)


def _pairing(request: Request) -> Pairing:
    """Return the codes and passes of the app that was asked."""
    pairing: Pairing = request.app.state.pairing
    return pairing


def _settings_page(
    request: Request,
    desk: Desk,
    units: Units,
    *,
    unit_typed: Typed | None = None,
    price_typed: Typed | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Return the page of all settings, with the forms that have to be shown again."""
    settings = desk.store.settings()
    door: Door = request.app.state.door
    is_here = is_at_the_machine(request.scope)
    chosen = {key: getattr(units, key) for key in CHOICES}
    prices = {"currency": kept_currency(settings), **kept_prices(settings)}
    page = SettingsPage(
        unit_fields=UNIT_FIELDS,
        unit_typed=unit_typed or filled(UNIT_FIELDS, chosen, units),
        price_fields=PRICE_FIELDS,
        price_typed=price_typed or filled(PRICE_FIELDS, prices, units),
        is_at_the_machine=is_here,
        lan_url=door.lan_url,
        warning=OPEN_TO_THE_NETWORK,
        devices=tuple(_line(device) for device in desk.store.devices()),
        code=_shown_code(_pairing(request), door) if is_here else None,
    )
    return render(request, "settings.html", page, status=status)


def _line(device: Device) -> DeviceLine:
    """Return a device as its line shows it."""
    is_in = device.revoked_at is None
    seen = (
        f"let in {moment(device.paired_at)}, last seen {moment(device.seen_at)}"
        if device.revoked_at is None
        else f"struck out {moment(device.revoked_at)}"
    )
    return DeviceLine(id=device.id, name=device.name, told=seen, is_in=is_in)


def _shown_code(pairing: Pairing, door: Door) -> ShownCode | None:
    """Return the code that counts, with a picture of the address that brings it along."""
    code = pairing.current()
    if code is None:
        return None
    picture = segno.make(f"{door.lan_url}/pair?code={code.digits}", error="m")
    return ShownCode(
        digits=f"{code.digits[:4]} {code.digits[4:]}",
        told=f"It counts for one device, until {code.counts_until().astimezone():%H:%M:%S}, with "
        f"{code.tries_left} {'try' if code.tries_left == 1 else 'tries'} left.",
        # Made of digits and our own address alone; quiet zone and colours as scanners want them.
        picture=Markup(picture.svg_inline(omitsize=True, border=4, dark="#000", light="#fff")),
    )
