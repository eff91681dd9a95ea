"""Keep a photo with a job: the bytes as they came, a row for them, and an event that names them."""

from __future__ import annotations

from dataclasses import dataclass

from ullage.jobs.event import Event, Kind
from ullage.jobs.log import load_job, log
from ullage.jobs.ports import Desk
from ullage.jobs.stage import Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What a photo shows: of which stage and step, under which name, with which remark."""

    stage: Stage | None = None
    step: int | None = None
    name: str = ""
    note: str = ""


def keep_photo(
    desk: Desk, job_id: str, data: bytes, about: About, *, uid: str | None = None
) -> Event:
    """Keep a photo with a job. ``uid`` given: told once, however often it is sent.

    Raises
    ------
    NotFound
        If there is no such job.
    OutOfRange
        If the bytes are no picture that is taken here.
    """
    load_job(desk, job_id)
    picture = desk.pictures.keep(data, at=desk.now())
    desk.store.add_picture(picture)
    payload = {
        "sha256": picture.sha256,
        **({"stage": about.stage.value} if about.stage else {}),
        **({"step": about.step} if about.step is not None else {}),
        **({"name": about.name} if about.name else {}),
        **({"note": about.note} if about.note else {}),
    }
    return log(desk, job_id, Kind.PHOTO, payload, uid=uid)
