"""What stands on the shelf: sheets of fluids and filters, and stock by lot with its expiry.

A sheet is kept as the table that a circuit file has for it ([fluid], or the element keys of a
[[node]]). Stock is a sum of movements; a movement is never changed, a wrong one is put right by
another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any


class SheetOf(StrEnum):
    """What a sheet describes."""

    FLUID = "fluid"
    FILTER = "filter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The properties of a fluid or a filter, under the name that the garage gives it."""

    id: str
    of: SheetOf
    name: str
    table: Mapping[str, Any]
    version: int = 1
    saved_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Containers or elements of one delivery: which sheet, how it is marked, and until when."""

    id: str
    sheet_id: str
    mark: str
    container_m3: float | None = None
    expires_on: date | None = None
    received_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Something that went onto the shelf (positive) or off it, and why.

    ``count`` is in whole containers or elements, fractions allowed for an opened container.
    """

    uid: str
    lot_id: str
    count: float
    why: str
    moved_at: datetime
    job_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A lot with its sheet's name and what is left of it."""

    lot: Lot
    sheet: Sheet
    left: float
