"""Photos: taken with a job, shown upright and small, handed out as they came.

A section shows a photo by ``photo_url`` and asks for one with the macro ``photo_form``.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, File, Form, Path, Response, UploadFile

from ullage.errors import OutOfRange
from ullage.jobs.keep_photo import About, keep_photo
from ullage.jobs.stage import Stage
from ullage.web.desk import Here, Uid
from ullage.web.job_page import back_to

router = APIRouter()

Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]

#: A picture is named by its content, so it never changes; it is nobody's but this browser's.
_KEEP = {"cache-control": "private, max-age=31536000, immutable"}
_ALONE = {"content-security-policy": "default-src 'none'; sandbox"}


@router.post("/jobs/{job_id}/photos")
def take_photo(
    desk: Here,
    job_id: str,
    photo: Annotated[UploadFile, File()],
    uid: Uid,
    stage: Annotated[Stage | None, Form()] = None,
    step: Annotated[int | None, Form(ge=0)] = None,
    note: Annotated[str, Form(max_length=500)] = "",
) -> Response:
    """Keep a photo with a job."""
    data = photo.file.read()
    if not data:
        raise OutOfRange("photo", "nothing", "a picture", "choose a file or take a photo first")
    name = "".join(sign for sign in photo.filename or "" if sign.isprintable())[:120]
    about = About(stage=stage, step=step, name=name, note=note.strip())
    keep_photo(desk, job_id, data, about, uid=uid)
    return back_to(job_id, stage)


@router.get("/photos/{sha256}")
def show_photo(desk: Here, sha256: Sha256) -> Response:
    """Show a photo upright, without the place where it was taken."""
    return Response(
        desk.pictures.preview(sha256), media_type="image/jpeg", headers={**_KEEP, **_ALONE}
    )


@router.get("/photos/{sha256}/original")
def hand_out_original(desk: Here, sha256: Sha256) -> Response:
    """Hand out the bytes of a photo as they came, to be kept as a file and not to be opened."""
    picture = desk.store.picture(sha256)
    ending = picture.media_type.rpartition("/")[2]
    return Response(
        desk.pictures.original(sha256),
        media_type=picture.media_type,
        headers={
            **_KEEP,
            **_ALONE,
            "content-disposition": f'attachment; filename="photo-{sha256[:12]}.{ending}"',
        },
    )
