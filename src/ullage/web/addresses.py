"""Where things stand on the site, for pages that lead to them."""

from __future__ import annotations

from ullage.web.work import Piece


def photo_url(sha256: str) -> str:
    """Return the address of the upright preview of a photo."""
    return f"/photos/{sha256}"


def work_url(piece: Piece) -> str:
    """Return the page of a piece."""
    return f"/waiting/{piece.id}"
