"""May this photo come in, and what is shown of it?

Formats are told by content, not by name. The original bytes are kept as they came; what is shown is
a fresh JPEG, upright and without any of the camera's notes, so that no place leaves with it.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from datetime import datetime

from PIL import Image, ImageOps, UnidentifiedImageError

from ullage.errors import OutOfRange
from ullage.jobs.ports import Picture

LARGEST_BYTES = 25_000_000
LARGEST_PIXELS = 60_000_000
PREVIEW_EDGE_PX = 1600
_READERS = ("JPEG", "PNG", "WEBP")
# MPO is what the reader of JPEG calls one with further pictures behind the first, as many phones
# write them; the first is the photo.
_FORMATS = {
    "JPEG": "image/jpeg",
    "MPO": "image/jpeg",
    "PNG": "image/png",
    "WEBP": "image/webp",
}
_ALLOWED = "a JPEG, PNG or WebP picture"
_ADVICE = "set the camera to JPEG, or send a picture of the screen"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A photo that was let in: its hash, kind and upright size, and a preview as JPEG."""

    sha256: str
    media_type: str
    size: int
    width: int
    height: int
    preview: bytes

    def picture(self, *, at: datetime) -> Picture:
        """Return the row that a store keeps."""
        return Picture(
            sha256=self.sha256,
            media_type=self.media_type,
            size=self.size,
            width=self.width,
            height=self.height,
            kept_at=at,
        )


def taken_in(data: bytes) -> Taken:
    """Return a photo that may be kept.

    Raises
    ------
    OutOfRange
        If it is none of the formats allowed, damaged, or too large in bytes or pixels.
    """
    if len(data) > LARGEST_BYTES:
        raise OutOfRange(
            "photo", f"{len(data) / 1e6:.0f} MB", f"at most {LARGEST_BYTES / 1e6:.0f} MB", _ADVICE
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=_READERS) as image:
                kind = _FORMATS[image.format or ""]
                if image.width * image.height > LARGEST_PIXELS:
                    raise _too_many(image.width * image.height)
                upright = ImageOps.exif_transpose(image)
                width, height = upright.size
                preview = _preview(upright)
    except UnidentifiedImageError:
        raise OutOfRange("photo", "something else", _ALLOWED, _ADVICE) from None
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise _too_many(None) from None
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        raise OutOfRange("photo", f"a damaged one ({error})", _ALLOWED, "take it again") from None
    return Taken(
        sha256=hashlib.sha256(data).hexdigest(),
        media_type=kind,
        size=len(data),
        width=width,
        height=height,
        preview=preview,
    )


def _too_many(pixels: int | None) -> OutOfRange:
    found = "more" if pixels is None else f"{pixels / 1e6:.0f} million"
    return OutOfRange(
        "photo", f"{found} pixels", f"at most {LARGEST_PIXELS / 1e6:.0f} million pixels", _ADVICE
    )


def _preview(upright: Image.Image) -> bytes:
    """Return a JPEG of at most ``PREVIEW_EDGE_PX`` with nothing but the picture in it."""
    if upright.mode.startswith("I"):  # 16 bits of grey, of which a screen shows the upper 8
        upright = upright.convert("F").point(lambda value: value / 257).convert("L")
    shown = upright.convert("RGB")
    shown.thumbnail((PREVIEW_EDGE_PX, PREVIEW_EDGE_PX), Image.Resampling.LANCZOS)
    bare = Image.new("RGB", shown.size)
    bare.paste(shown)
    written = io.BytesIO()
    bare.save(written, "JPEG", quality=85)
    return written.getvalue()
