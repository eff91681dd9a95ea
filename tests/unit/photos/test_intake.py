"""Photos come in upright, bounded and without a place; nothing else comes in."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from tests.fakes.garage import photo
from ullage.errors import Contradiction, NotFound, OutOfRange
from ullage.photos import intake
from ullage.photos.files import FolderPictures
from ullage.photos.intake import PREVIEW_EDGE_PX, taken_in

AT = datetime(2026, 5, 4, tzinfo=UTC)
_ORIENTATION, _GPS = 0x0112, 0x8825


def _as(kind: str, size: tuple[int, int] = (40, 30), **more: object) -> bytes:
    written = io.BytesIO()
    Image.new("RGB", size, (90, 60, 20)).save(written, kind, **more)
    return written.getvalue()


@pytest.mark.parametrize(
    ("kind", "media_type"),
    [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp")],
)
def test_three_formats_come_in(kind: str, media_type: str) -> None:
    """Told by content; what is shown is always a JPEG."""
    taken = taken_in(_as(kind))

    assert (taken.media_type, taken.width, taken.height) == (media_type, 40, 30)
    assert Image.open(io.BytesIO(taken.preview)).format == "JPEG"


def test_a_photo_is_shown_upright_and_without_its_place() -> None:
    """The camera lay on its side and knew where it was; the preview stands and does not."""
    exif = Image.Exif()
    exif[_ORIENTATION] = 6
    exif.get_ifd(_GPS)[1] = "N"
    taken = taken_in(_as("JPEG", exif=exif))
    shown = Image.open(io.BytesIO(taken.preview))

    assert (taken.width, taken.height) == (30, 40)
    assert shown.size == (30, 40)
    assert dict(shown.getexif()) == {}
    assert b"Exif" not in taken.preview


def test_a_photo_with_others_behind_it_is_its_first() -> None:
    """Many phones put a smaller picture or a depth map into the same file."""
    written = io.BytesIO()
    second = Image.new("RGB", (20, 10))
    Image.new("RGB", (40, 30), (90, 60, 20)).save(
        written, "MPO", save_all=True, append_images=[second]
    )
    taken = taken_in(written.getvalue())

    assert (taken.media_type, taken.width, taken.height) == ("image/jpeg", 40, 30)


def test_a_grey_photo_of_sixteen_bits_keeps_its_greys() -> None:
    """Half of full is shown as half."""
    written = io.BytesIO()
    Image.new("I;16", (40, 30), 32768).save(written, "PNG")
    shown = Image.open(io.BytesIO(taken_in(written.getvalue()).preview))

    assert shown.getpixel((20, 15)) == pytest.approx((127, 127, 127), abs=2)


def test_a_large_photo_gets_a_smaller_preview() -> None:
    """The long edge fits a screen."""
    taken = taken_in(_as("JPEG", size=(4000, 1000)))

    assert Image.open(io.BytesIO(taken.preview)).size == (PREVIEW_EDGE_PX, 400)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a",
        _as("GIF"),
        _as("BMP"),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%PDF-1.7",
        _as("JPEG", size=(600, 600))[:900],
        _as("PNG")[:40],
    ],
    ids=["nothing", "gif head", "gif", "bmp", "svg", "pdf", "cut jpeg", "cut png"],
)
def test_anything_else_gets_its_sentence(data: bytes) -> None:
    """What is allowed stands in it."""
    with pytest.raises(OutOfRange, match="a JPEG, PNG or WebP picture"):
        taken_in(data)


def test_too_many_pixels_or_bytes_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before they fill the memory."""
    monkeypatch.setattr(intake, "LARGEST_PIXELS", 1000)
    with pytest.raises(OutOfRange, match="million pixels"):
        taken_in(_as("PNG"))
    monkeypatch.setattr(intake, "LARGEST_BYTES", 100)
    with pytest.raises(OutOfRange, match="MB"):
        taken_in(_as("PNG"))


def test_files_bear_their_content_as_name(tmp_path: Path) -> None:
    """Kept twice is kept once; the original comes back to the byte."""
    files = FolderPictures(tmp_path)
    kept = files.keep(photo(), at=AT)
    again = files.keep(photo(), at=AT)

    assert kept == again
    assert files.original(kept.sha256) == photo()
    assert len(list(tmp_path.rglob("*.original"))) == 1
    assert list(tmp_path.rglob(".part-*")) == []


def test_a_photo_that_the_disk_changed_is_not_passed_off_as_the_one_kept(tmp_path: Path) -> None:
    """The hash tells."""
    files = FolderPictures(tmp_path)
    kept = files.keep(photo(), at=AT)
    path = next(tmp_path.rglob("*.original"))
    path.write_bytes(photo(shade=91))

    with pytest.raises(Contradiction, match="not what was kept"):
        files.original(kept.sha256)


@pytest.mark.parametrize("name", ["../../etc/passwd", "ab", "AB" * 32, "", "ab" * 32])
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    """What is no hash, and what is not kept, is not found."""
    with pytest.raises(NotFound):
        FolderPictures(tmp_path).original(name)
