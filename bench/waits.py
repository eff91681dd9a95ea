"""How long does a person wait for a plan, or a verdict, that a page has asked for?

Serves the example from this process and asks as a page does: the work goes to the worker process,
the answer is kept with the job, and the wait ends when the piece of work says that it is done. The
first question of each kind finds the worker just started, as a person does who has opened the app
and read a page; the others find it warm. Goals: 5 s for a plan, 2 s for a verdict, on two cores.
"""

from __future__ import annotations

import json
import os
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.error import HTTPError

from bench.pages import asked, serving
from ullage.jobs.log import line_from_events
from ullage.records.example import fill_example
from ullage.wiring import open_app

JOB = "van-2-third"
TARGETS_PCT = (20.0, 40.0, 30.0, 10.0, 5.0)
GOALS_S = {"plan": 5.0, "verdict": 2.0}
#: What is read of the reservoir and of a leg, one question after the other [%].
READINGS_PCT = ((60.0, 90.0), (65.0, 95.0), (55.0, 85.0))
# A person reads the page before asking.
_READS_S = 3.0


def sent(url: str, table: Mapping[str, Any]) -> Any:
    """Return what an address answers to a table."""
    origin = url.split("/api/")[0]
    headers = {"content-type": "application/json", "origin": origin}
    request = urllib.request.Request(url, json.dumps(table).encode(), headers)
    try:
        with urllib.request.urlopen(request) as answer:
            return json.loads(answer.read())
    except HTTPError as refusal:
        raise SystemExit(f"{url}: {refusal.read().decode()}") from refusal


def entered(api: str, *entries: tuple[str, Mapping[str, Any]]) -> None:
    """Add entries to the job, as a device would."""
    now = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())
    sent(
        f"{api}/jobs/{JOB}/entries",
        {
            "entries": [
                {
                    "uid": f"bench-{time.monotonic_ns()}",
                    "device": "bench",
                    "device_seq": number,
                    "kind": kind,
                    "device_at": now,
                    "payload": payload,
                }
                for number, (kind, payload) in enumerate(entries)
            ]
        },
    )


def waited_s(api: str, of: str) -> float:
    """Return how long an answer took."""
    began = time.perf_counter()
    work = sent(f"{api}/jobs/{JOB}/work", {"of": of})["work"]
    while work["state"] not in ("done", "failed", "cancelled"):
        time.sleep(0.02)
        work = json.loads(asked(f"{api}/waiting/{work['id']}"))
    if work["state"] != "done":
        raise SystemExit(f"{of}: {work['state']} {work['why']}")
    return time.perf_counter() - began


def waits(url: str) -> Iterator[tuple[str, str, float]]:
    """Yield what was asked, about what, and how long it took."""
    api = f"{url}/api/v1"
    asked(f"{url}/jobs/{JOB}")
    time.sleep(_READS_S)
    samples = [
        {"name": "bench reservoir", "where": "reservoir", "after_step": 4},
        {"name": "bench leg", "where": "leg:rear-left", "after_step": 4},
    ]
    for target in TARGETS_PCT:
        entered(api, ("goal", {"target_pct": target}))
        yield "plan", f"{target:g} % on the van", waited_s(api, "plan")
    entered(api, *(("sample", sample) for sample in samples))
    for read in READINGS_PCT:
        both = zip(samples, read, strict=True)
        entered(
            api,
            *(
                ("reading", {"sample": sample["name"], "old_pct": pct, "u_pct": 3.0})
                for sample, pct in both
            ),
        )
        what = " and ".join(f"{pct:g} %" for pct in read)
        yield "verdict", f"reservoir and a leg, {what}", waited_s(api, "verdict")


def main() -> None:
    """Print a line for each question."""
    load = os.getloadavg()
    print(f"{os.cpu_count()} cores, load {load[0]:.2f} {load[1]:.2f} {load[2]:.2f}")
    print(f"{'':<48}{'waited':>9}{'goal':>8}{'ratio':>9}")
    with tempfile.TemporaryDirectory() as name:
        data = Path(name)
        with open_app(data) as app:
            fill_example(app.desk, line_from_events)
        with serving(data) as url:
            for of, what, took in waits(url):
                goal = GOALS_S[of]
                print(f"{f'{of}: {what}':<48}{took:>7.2f} s{goal:>6.0f} s{goal / took:>8.2f}x")


if __name__ == "__main__":
    main()
