"""Photos: sent as bytes with a job, handed out as they came or upright and small."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from ullage.jobs.event import Event
from ullage.jobs.keep_photo import About, keep_photo
from ullage.jobs.stage import Stage
from ullage.web.api.given import IdInPath
from ullage.web.api.problems import TAKING_IN, refusals
from ullage.web.desk import Here
from ullage.web.screens.photos import hand_out_original, show_photo

router = APIRouter(tags=["photos"])

KINDS = ("image/jpeg", "image/png", "image/webp")
Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]
_BYTES: dict[str, Any] = {"schema": {"type": "string", "format": "binary"}}
_TAKEN = {"requestBody": {"required": True, "content": {kind: _BYTES for kind in KINDS}}}


class PhotoTold(BaseModel):
    """A photo as it is kept; ``size`` in bytes, width and height upright in pixels."""

    sha256: str
    media_type: str
    size: int
    width: int
    height: int
    kept_at: datetime


class PhotoKept(BaseModel):
    """The entry that names a photo that was sent, and the photo."""

    uid: str
    seq: int
    photo: PhotoTold


async def picture_of(request: Request) -> bytes:
    """Return the bytes that were sent, if they were sent as a picture."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in KINDS:
        raise HTTPException(415, f"a photo is sent as one of {', '.join(KINDS)}")
    return await request.body()


def _told(desk: Here, sha256: str) -> PhotoTold:
    picture = desk.store.picture(sha256)
    return PhotoTold(
        sha256=picture.sha256,
        media_type=picture.media_type,
        size=picture.size,
        width=picture.width,
        height=picture.height,
        kept_at=picture.kept_at,
    )


@router.post(
    "/jobs/{job_id}/photos",
    status_code=201,
    responses={**TAKING_IN, **refusals(404, 409)},
    openapi_extra=_TAKEN,
)
def send_photo(
    desk: Here,
    job_id: IdInPath,
    data: Annotated[bytes, Depends(picture_of)],
    uid: Annotated[str, Query(pattern=r"^[a-z0-9-]{8,64}$")],
    stage: Stage | None = None,
    step: Annotated[int | None, Query(ge=0, le=1_000_000)] = None,
    name: Annotated[str, Query(max_length=120, pattern=r"^[ -~]*$")] = "",
    note: Annotated[str, Query(max_length=500, pattern=r"^[^\x00]*$")] = "",
) -> PhotoKept:
    """Keep a photo with a job, once for a ``uid``."""
    event: Event = keep_photo(
        desk, job_id, data, About(stage=stage, step=step, name=name, note=note), uid=uid
    )
    return PhotoKept(uid=event.uid, seq=event.seq, photo=_told(desk, event.payload["sha256"]))


@router.get("/photos/{sha256}", responses=refusals(404))
def one_photo(desk: Here, sha256: Sha256) -> PhotoTold:
    """Return what is known of a photo."""
    return _told(desk, sha256)


@router.get(
    "/photos/{sha256}/preview",
    response_class=Response,
    responses={200: {"content": {"image/jpeg": _BYTES}}, **refusals(404)},
)
def preview(desk: Here, sha256: Sha256) -> Response:
    """Return a photo upright and small, without the place where it was taken."""
    return show_photo(desk, sha256)


@router.get(
    "/photos/{sha256}/original",
    response_class=Response,
    responses={200: {"content": {kind: _BYTES for kind in KINDS}}, **refusals(404)},
)
def original(desk: Here, sha256: Sha256) -> Response:
    """Return the bytes of a photo as they came."""
    return hand_out_original(desk, sha256)
