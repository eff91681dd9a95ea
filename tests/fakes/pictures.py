"""Pictures kept in memory, by the same intake as the real ones."""

from __future__ import annotations

from datetime import datetime

from ullage.errors import NotFound
from ullage.jobs.ports import Picture
from ullage.photos.intake import taken_in


class MemoryPictures:
    """A ``PictureFiles`` without files."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[bytes, bytes]] = {}

    def keep(self, data: bytes, *, at: datetime) -> Picture:
        """Keep the bytes and a preview."""
        taken = taken_in(data)
        self._kept[taken.sha256] = (data, taken.preview)
        return taken.picture(at=at)

    def original(self, sha256: str) -> bytes:
        """Return the bytes as they came."""
        return self._of(sha256)[0]

    def preview(self, sha256: str) -> bytes:
        """Return the upright preview."""
        return self._of(sha256)[1]

    def _of(self, sha256: str) -> tuple[bytes, bytes]:
        if sha256 not in self._kept:
            raise NotFound("photo", sha256)
        return self._kept[sha256]
