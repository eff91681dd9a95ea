"""Keeps the bytes of photos as files whose names are their content.

``ab/abcd....original`` is what came, ``ab/abcd....jpg`` what is shown. A file is written beside its
place and renamed into it once it is safely on the disk, so a name never stands for half a photo.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from datetime import datetime
from pathlib import Path

from ullage.errors import Contradiction, NotFound
from ullage.jobs.ports import Picture
from ullage.photos.intake import taken_in

_HASH = re.compile(r"[0-9a-f]{64}")


class FolderPictures:
    """A ``PictureFiles`` in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, data: bytes, *, at: datetime) -> Picture:
        """Keep the original bytes and a preview, once; one that the disk changed is put right."""
        taken = taken_in(data)
        written(self._path(taken.sha256, "jpg"), taken.preview)
        written(self._path(taken.sha256, "original"), data)
        return taken.picture(at=at)

    def original(self, sha256: str) -> bytes:
        """Return the bytes as they came, or raise ``Contradiction`` if the disk changed them."""
        data = self._read(sha256, "original")
        if hashlib.sha256(data).hexdigest() != sha256:
            raise Contradiction(
                f"photo {sha256[:12]} is not what was kept: the file was changed or the disk is "
                "failing; restore it from a backup"
            )
        return data

    def preview(self, sha256: str) -> bytes:
        """Return an upright JPEG without notes of the camera."""
        return self._read(sha256, "jpg")

    def _read(self, sha256: str, ending: str) -> bytes:
        try:
            return self._path(sha256, ending).read_bytes()
        except FileNotFoundError:
            raise NotFound("photo", sha256) from None

    def _path(self, sha256: str, ending: str) -> Path:
        """Return where a photo lies; what is no hash names no file."""
        if not _HASH.fullmatch(sha256):
            raise NotFound("photo", sha256)
        return self.folder / sha256[:2] / f"{sha256}.{ending}"


def written(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, also after a power cut.

    One that holds just that already stays; one that the disk changed is put right.
    """
    if path.exists() and path.read_bytes() == data:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
