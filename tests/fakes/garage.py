"""A desk with something on it: the van, its leveller, a job with entries, an answer and a photo."""

from __future__ import annotations

import io

from PIL import Image

from ullage.circuit.catalogue import circuit_template
from ullage.formats.document import raw_table
from ullage.jobs.answer import Answer, Of, fingerprint_of
from ullage.jobs.event import Kind
from ullage.jobs.job import JobHead, folded
from ullage.jobs.log import log
from ullage.jobs.machine import CircuitVersion, CounterReading, Machine
from ullage.jobs.next_thing import line_of
from ullage.jobs.ports import Desk


def photo(shade: int = 90, size: tuple[int, int] = (40, 30)) -> bytes:
    """Return the bytes of a small JPEG."""
    written = io.BytesIO()
    Image.new("RGB", size, (shade, shade // 2, 10)).save(written, "JPEG")
    return written.getvalue()


def fill(desk: Desk, *, template: str = "levelling-van", job: str = "job1") -> str:
    """Put a machine with one job in hand on a desk and return the job's id."""
    machine = Machine(id="van2", name="Library van 2", marks="green stripe", added_at=desk.now())
    text = circuit_template(template).text
    version = CircuitVersion(
        id="leveller-1",
        circuit_id="leveller",
        machine_id=machine.id,
        number=1,
        name="Four-corner leveller",
        table=raw_table(text, template),
        saved_at=desk.now(),
    )
    head = JobHead(
        id=job,
        machine_id=machine.id,
        circuit_id=version.circuit_id,
        circuit_version_id=version.id,
        title="Leveller exchange",
        opened_at=desk.now(),
    )
    desk.store.add_machine(machine)
    desk.store.add_circuit_version(version)
    desk.store.open_job(head, line_of(folded(head, ())))
    log(desk, job, Kind.AS_FOUND, {"level_mm": -6.0, "state": "charged", "leaks": "none seen"})
    log(desk, job, Kind.USE, {"distance_km": 84_000.0, "since_km": 61_000.0})
    picture = desk.pictures.keep(photo(), at=desk.now())
    desk.store.add_picture(picture)
    log(desk, job, Kind.PHOTO, {"sha256": picture.sha256, "name": "reservoir.jpg"})
    desk.store.add_counter_reading(
        CounterReading(machine_id="van2", job_id=job, read_at=desk.now(), distance_m=8.4e7)
    )
    inputs = {"circuit": dict(version.table), "target_pct": 10.0}
    desk.store.keep_answer(
        Answer(
            id=f"{job}-due",
            job_id=job,
            of=Of.DUE,
            made_at=desk.now(),
            code=desk.code,
            seed=0,
            inputs=inputs,
            fingerprint=fingerprint_of(inputs),
            body={"answer": "due"},
        )
    )
    return job
