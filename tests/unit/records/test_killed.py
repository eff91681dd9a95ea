"""Whoever pulls the plug loses nothing that was acknowledged."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

from ullage.records.database import open_database
from ullage.records.store import SqlStore

_TAPPER = """
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from ullage.jobs.event import Draft, Kind
from ullage.jobs.log import line_from_events
from ullage.records.database import open_database
from ullage.records.store import SqlStore

with open_database(Path(sys.argv[1])) as engine:
    store = SqlStore(engine)
    for number in range(100000):
        uid = f"{sys.argv[2]}-{number}"
        draft = Draft(uid=uid, device=sys.argv[2], device_seq=number, kind=Kind.NOTE,
                      device_at=datetime.now(UTC), payload={"note": "tap"})
        store.append("job1", [draft], line_from_events, at=datetime.now(UTC))
        print(uid, flush=True)
        time.sleep(0.002)  # let the other device have its turn
"""


def test_a_killed_program_loses_nothing_acknowledged(tmp_path: Path) -> None:
    """Two devices tap, the program is killed in between, several times over."""
    path = tmp_path / "store.sqlite3"
    with open_database(path):
        pass
    with closing(sqlite3.connect(path)) as base:
        base.executescript(
            """
            INSERT INTO machine VALUES ('m1','Van','van','van','','distance',1,'2026-01-01');
            INSERT INTO circuit_version VALUES ('c1','c','m1',1,'Leveller','{}','2026-01-01');
            INSERT INTO job VALUES ('job1','m1','c','c1','Exchange','2026-01-01T00:00:00+00:00');
            INSERT INTO job_line VALUES ('job1','m1','x','x','assess','n','w',6,1,'2026','2026');
            """
        )
    chance = random.Random(5)
    acknowledged: list[str] = []
    for round_ in range(3):
        tappers = [
            subprocess.Popen(
                [sys.executable, "-c", _TAPPER, str(path), f"r{round_}d{device}"],
                stdout=subprocess.PIPE,
                text=True,
            )
            for device in range(2)
        ]
        for tapper in tappers:
            assert tapper.stdout is not None
            acknowledged.append(tapper.stdout.readline().strip())
        time.sleep(chance.uniform(0.02, 0.3))
        for tapper in tappers:
            tapper.send_signal(signal.SIGKILL)
        for tapper in tappers:
            out, _ = tapper.communicate()
            # The last line may have been cut off in the middle of being told.
            acknowledged += [line for line in out.splitlines(keepends=True) if line.endswith("\n")]
    said = {uid.strip() for uid in acknowledged}
    with open_database(path) as engine:
        events = SqlStore(engine).events("job1")

    assert said <= {event.uid for event in events}
    assert [event.seq for event in events] == list(range(1, len(events) + 1))
    assert len(said) > 10
    with closing(sqlite3.connect(path)) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
