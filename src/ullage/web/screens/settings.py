"""Settings: units, prices, devices that were let in, and the backup of everything."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated
from urllib.parse import urlencode

import segno
from fastapi import APIRouter, Depends, File, Query, Request, Response, UploadFile
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse
from markupsafe import Markup
from starlette.background import BackgroundTask

from ullage.errors import UllageError
from ullage.jobs.ports import Desk, Device
from ullage.jobs.prices import LONGEST_CURRENCY, PRICES, keep_prices, kept_currency, kept_prices
from ullage.records.backup import restore_backup, write_backup
from ullage.web.desk import Filled, Here, InUnits, render
from ullage.web.door import OPEN_TO_THE_NETWORK, Door, is_at_the_machine, only_at_the_machine
from ullage.web.forms import WHOLE_FORM, Field, Typed, as_sentence, blank, filled, read
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
RESTORE_FIELDS: tuple[Field, ...] = (
    Field("sure", "Replace everything that is here by the backup", "flag", required=True),
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
    restore_fields: tuple[Field, ...]
    restore_typed: Typed
    restored: str


@router.get("/settings")
def show_settings(
    request: Request,
    desk: Here,
    units: InUnits,
    jobs: Annotated[int | None, Query(ge=0)] = None,
    photos: Annotated[int | None, Query(ge=0)] = None,
    kept: Annotated[str, Query(pattern=r"^[\w.-]{0,80}$")] = "",
) -> Response:
    """Show all settings; after a restore also what came, and where what was here before went."""
    if jobs is None or photos is None:
        return _settings_page(request, desk, units)
    came = (
        f"Restored: {jobs} {'job' if jobs == 1 else 'jobs'} and "
        f"{photos} {'photo' if photos == 1 else 'photos'}. What was here before is kept in the "
        f"data folder as {kept}."
    )
    return _settings_page(request, desk, units, restored=came)


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


@router.post("/settings/backup", dependencies=_AT_THE_MACHINE)
def hand_out_backup(request: Request, desk: Here) -> Response:
    """Hand out everything as one file.

    Sent as a form, so that no other site can make this computer write it again and again.
    """
    data: Path = request.app.state.ullage.data
    room = Path(tempfile.mkdtemp(prefix=".hand-out-", dir=data))
    try:
        file = write_backup(data, room / "backup")
    except BaseException:
        shutil.rmtree(room, ignore_errors=True)
        raise
    return FileResponse(
        file,
        filename=f"{desk.now().astimezone():%Y-%m-%d-%H%M}.ullage-backup",
        media_type="application/octet-stream",
        background=BackgroundTask(shutil.rmtree, room, ignore_errors=True),
    )


@router.post("/settings/restore", dependencies=_AT_THE_MACHINE)
def restore(
    request: Request,
    desk: Here,
    units: InUnits,
    form: Filled,
    backup: Annotated[UploadFile | None, File()] = None,
) -> Response:
    """Put the content of a backup in the place of everything, once it was checked whole."""
    data: Path = request.app.state.ullage.data
    typed = read(RESTORE_FIELDS, form, units)
    if backup is None or not backup.filename:
        typed = typed.with_fault(WHOLE_FORM, "Choose the file of a backup first.")
    elif typed.is_good:
        with tempfile.TemporaryDirectory(prefix=".restore-", dir=data) as room:
            file = Path(room) / "The file"
            with file.open("wb") as target:
                shutil.copyfileobj(backup.file, target)
            try:
                done = restore_backup(file, data)
            except UllageError as error:
                told = str(error).replace(str(file), file.name)
                typed = typed.with_fault(WHOLE_FORM, as_sentence(told))
            else:
                came = {"jobs": done.jobs, "photos": done.photos, "kept": done.kept_before.name}
                return RedirectResponse(f"/settings?{urlencode(came)}#backup", status_code=303)
    return _settings_page(request, desk, units, restore_typed=typed, status=422)


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
    restore_typed: Typed | None = None,
    restored: str = "",
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
        code=_shown_code(_pairing(request), door) if is_here and door.lan else None,
        restore_fields=RESTORE_FIELDS,
        restore_typed=restore_typed or blank(),
        restored=restored,
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
