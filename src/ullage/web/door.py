"""Who may ask for what: hosts, origins, sizes, and devices that were let in."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import FastAPI


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """Where the app listens: at ``port`` of this computer, and at ``lan`` where that is open."""

    port: int
    lan: str | None = None

    def guard(self, web: FastAPI) -> None:
        """Put the door around an app."""
