"""What holds for the whole garage: settings, and the devices that were let in."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field

from ullage.errors import NotFound
from ullage.jobs.ports import Desk, Device
from ullage.jobs.prices import (
    LONGEST_CURRENCY,
    PRICES,
    keep_prices,
    kept_currency,
    kept_prices,
)
from ullage.web.api.given import IdInPath, Sent
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here
from ullage.web.door import only_at_the_machine
from ullage.web.shown import CHOICES, units_of

router = APIRouter(tags=["garage"])

Price = Annotated[float, Field(strict=True, ge=0.0, le=1e6, allow_inf_nan=False)]


class UnitsChosen(Sent):
    """The units in which pages show and take figures. This API has those of its keys alone."""

    volume: Literal["l", "us_qt", "imp_qt"]
    temperature: Literal["degc", "degf"]
    pressure: Literal["bar", "psi"]
    distance: Literal["km", "mile"]


class PricesKept(Sent):
    """What things cost in this garage."""

    fluid_per_litre: Price
    filter_each: Price
    rings_per_bleed_point: Price
    diverter_once: Price
    waste_per_litre: Price
    labour_per_hour: Price


class SettingsKept(Sent):
    """All settings."""

    units: UnitsChosen
    prices: PricesKept
    currency: str = Field(min_length=1, max_length=LONGEST_CURRENCY)


class DeviceTold(BaseModel):
    """A device that was let in; ``revoked_at`` is when it was struck out."""

    id: str
    name: str
    paired_at: datetime
    seen_at: datetime
    revoked_at: datetime | None


def _settings(desk: Desk) -> SettingsKept:
    settings = desk.store.settings()
    units = units_of(settings)
    chosen: dict[str, Any] = {key: getattr(units, key) for key in CHOICES}
    return SettingsKept(
        units=UnitsChosen(**chosen),
        prices=PricesKept(**kept_prices(settings)),
        currency=kept_currency(settings),
    )


def _device(device: Device) -> DeviceTold:
    return DeviceTold(
        id=device.id,
        name=device.name,
        paired_at=device.paired_at,
        seen_at=device.seen_at,
        revoked_at=device.revoked_at,
    )


@router.get("/settings")
def read_settings(desk: Here) -> SettingsKept:
    """Return all settings."""
    return _settings(desk)


@router.put("/settings", responses=TAKING_IN)
def save_settings(desk: Here, sent: SettingsKept) -> SettingsKept:
    """Keep all settings."""
    keep_prices(desk, {key: getattr(sent.prices, key) for key in PRICES}, sent.currency)
    for key in CHOICES:
        desk.store.set_setting(f"units.{key}", getattr(sent.units, key))
    return _settings(desk)


@router.get("/devices")
def list_devices(desk: Here) -> list[DeviceTold]:
    """Return all devices that were let in, the newest first."""
    return [_device(device) for device in desk.store.devices()]


@router.post(
    "/devices/{device_id}/strike-out",
    responses={**TAKING_IN, **refusals(404)},
    dependencies=[Depends(only_at_the_machine)],
)
def strike_out(request: Request, desk: Here, device_id: IdInPath) -> DeviceTold:
    """Take the pass of a device away; only at the computer itself."""
    request.app.state.pairing.strike_out(device_id)
    for device in desk.store.devices():
        if device.id == device_id:
            return _device(device)
    raise NotFound("device", device_id)
