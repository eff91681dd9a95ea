"""The verdict as a value: bands per part, whether the target is met, and how far to trust it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from ullage.evidence.dilution import Dilution
from ullage.evidence.mass_balance import MassBalance
from ullage.evidence.misfit import Fit
from ullage.evidence.next_step import NextStep
from ullage.evidence.reading import Reading


class Met(StrEnum):
    """Whether a target is met, as far as the readings can tell."""

    YES = "yes"
    NO = "no"
    NOT_SHOWN = "not shown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A share of old fluid: the middle, and the ends that nine in ten machines lie between."""

    p05: float
    p50: float
    p95: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartBand:
    """A part of the circuit: its old share before and after the readings, and how much it holds."""

    before: Band
    after: Band
    old_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """How far to trust the figures: shape and size of the weights, and what the emulator missed."""

    k_hat: float
    effective: float
    rounds: int
    emulator_u: float
    is_final: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What is left where, given what was measured.

    ``remaining`` and ``parts`` hold the prior where ``fit.fits`` is false. ``p_met`` is None
    without a target or where the readings do not fit; ``if_named`` is the remainder were the named
    hypothesis true."""

    remaining: Band
    remaining_before: Band
    parts: Mapping[str, PartBand]
    target_share: float | None
    p_met: float | None
    met: Met | None
    fit: Fit
    if_named: Band | None
    next: tuple[NextStep, ...]
    balance: MassBalance
    dilution: tuple[Dilution, ...]
    readings: tuple[Reading, ...]
    trust: Trust
    sentences: tuple[str, str, str]
