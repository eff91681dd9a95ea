"""``ullage jobs``: list, show, hand on, back up and restore what is kept of jobs."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ullage.errors import NotFound
from ullage.jobs.job import Job
from ullage.jobs.log import line_from_events, load_job
from ullage.jobs.next_thing import JobLine, next_thing
from ullage.jobs.ports import Desk
from ullage.jobs.stage import STAGES
from ullage.records.backup import restore_backup, write_backup
from ullage.records.job_file import job_to_table, merge_job, read_job
from ullage.wiring import default_data, open_app

SUCCESS = 0
_MOST = 1000


def run(asked: Namespace) -> int:
    """Carry out one ``ullage jobs`` and return the exit code."""
    data: Path = asked.data or default_data()
    match asked.act:
        case "backup":
            file = write_backup(data, asked.file)
            _say(asked, {"format": "ullage-backup/1", "file": str(file)}, f"{file} holds it all.")
            return SUCCESS
        case "restore":
            done = restore_backup(asked.file, data)
            told = {
                "format": "ullage-restored/1",
                "jobs": done.jobs,
                "photos": done.photos,
                "lost_photos": done.lost,
                "made_at": done.made_at,
                "kept_before": str(done.kept_before),
            }
            text = (
                f"{done.jobs} jobs and {done.photos} photos of {done.made_at} are back. What was "
                f"here before lies in {done.kept_before}."
            )
            if done.lost:
                text += f" {done.lost} more photos were lost or damaged when it was made."
            _say(asked, told, text)
            return SUCCESS
    with open_app(data) as app:
        return _with_desk(asked, app.desk)


def _with_desk(asked: Namespace, desk: Desk) -> int:
    """Carry out what needs the store."""
    match asked.act:
        case "list":
            is_open = None if asked.all_ else True
            lines = desk.store.job_lines(is_open=is_open, search=asked.search, limit=_MOST)
            rows = [_line(desk, line) for line in lines]
            _say(asked, {"format": "ullage-jobs/1", "jobs": rows}, _listed(rows))
        case "show":
            job = load_job(desk, _job_id(desk, asked.job))
            table = _job(desk, job)
            _say(asked, {"format": "ullage-job-shown/1", **table}, _shown(table))
        case "export":
            table = job_to_table(desk, _job_id(desk, asked.job))
            with asked.file.open("x", encoding="utf-8") as file:
                json.dump(table, file, ensure_ascii=False, indent=1)
            _say(
                asked,
                {"format": "ullage-exported/1", "job": table["job"]["id"], "file": str(asked.file)},
                f"{asked.file} holds the job with {len(table['events'])} entries.",
            )
        case "import":
            job_id = merge_job(desk, read_job(asked.file), line_from_events, file=str(asked.file))
            count = len(desk.store.events(job_id))
            _say(
                asked,
                {"format": "ullage-imported/1", "job": job_id, "entries": count},
                f"Job {job_id} is here, with {count} entries.",
            )
    return SUCCESS


def _say(asked: Namespace, table: Mapping[str, Any], text: str) -> None:
    """Print an answer for a program or for a person."""
    print(json.dumps(table, ensure_ascii=False, allow_nan=False) if asked.as_json else text)


def _job_id(desk: Desk, given: str) -> str:
    """Return the id of the one job that a person means."""
    known = [line.job_id for line in desk.store.job_lines(limit=1_000_000)]
    meant = [one for one in known if one == given] or [
        one for one in known if one.startswith(given)
    ]
    if len(meant) != 1:
        raise NotFound("job", given, meant or known[:10])
    return meant[0]


def _line(desk: Desk, line: JobLine) -> dict[str, Any]:
    return {
        "id": line.job_id,
        "machine": desk.store.machine(line.machine_id).name,
        "title": line.title,
        "stage": "filed" if line.stage is None else line.stage.value,
        "next": line.next.sentence,
        "who": line.next.who,
    }


def _listed(rows: list[dict[str, Any]]) -> str:
    if not rows:
        return "No job. `ullage serve` opens the app, where one is begun."
    widths = {key: max(len(row[key]) for row in rows) for key in ("id", "machine", "stage")}
    return "\n".join(
        "  ".join([*(f"{row[key]:<{width}}" for key, width in widths.items()), row["next"]])
        for row in rows
    )


def _job(desk: Desk, job: Job) -> dict[str, Any]:
    coming = next_thing(job)
    return {
        "id": job.head.id,
        "machine": desk.store.machine(job.head.machine_id).name,
        "title": job.head.title,
        "opened_at": job.head.opened_at.isoformat(timespec="seconds"),
        "next": coming.sentence,
        "who": coming.who,
        "stages": [
            {
                "stage": stage.value,
                "state": job.state_of(stage).value,
                "result": job.finished.get(stage, ""),
            }
            for stage in STAGES
        ],
        "entries": len(job.entries),
    }


def _shown(table: Mapping[str, Any]) -> str:
    lines = [f"{table['machine']}: {table['title']} ({table['id']})", f"Next: {table['next']}"]
    lines += [
        f"  {one['stage']:<9} {one['state']:<9} {one['result']}".rstrip() for one in table["stages"]
    ]
    return "\n".join([*lines, f"{table['entries']} entries"])
