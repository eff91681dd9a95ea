"""``ullage serve``: it says where it is, answers there, and ends when somebody ends it."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from ullage.cli.entry import main


@contextmanager
def _served(*options: str) -> Iterator[subprocess.Popen[str]]:
    """Run the command in a process of its own, and end it whatever happens."""
    process = subprocess.Popen(
        [sys.executable, "-m", "ullage", "serve", "--port", "0", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    with process:
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


def test_it_answers_where_it_says_and_ends_by_ctrl_c(tmp_path: Path) -> None:
    """One object says where; the end is clean and takes no traceback."""
    with _served("--json", "--data", str(tmp_path)) as process:
        assert process.stdout is not None
        said = json.loads(process.stdout.readline())
        with urllib.request.urlopen(said["url"], timeout=10) as answer:
            page = answer.read().decode()
        process.send_signal(signal.SIGINT)
        _, complaint = process.communicate(timeout=20)

    assert "New job" in page
    assert (said["lan_url"], said["data"]) == (None, str(tmp_path))
    assert (process.returncode, complaint.strip()) == (0, "ullage: stopped")


def test_a_port_in_use_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """In a sentence, with what to do."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]

        code = main(["serve", "--port", str(port), "--data", str(tmp_path)])

    said = capsys.readouterr().err
    assert (code, "in use" in said, "--port 0" in said) == (2, True, True)


@pytest.mark.parametrize(
    ("address", "part"),
    [
        ("0.0.0.0", "one address of this computer"),
        ("8.8.8.8", "never open this to the internet"),
        ("bay.local", "an IP address"),
        ("10.255.255.254", "an address that this computer has"),
    ],
)
def test_an_address_that_cannot_be_opened_is_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, address: str, part: str
) -> None:
    """All at once, the internet, names, and addresses of others."""
    code = main(["serve", "--port", "0", "--lan", address, "--data", str(tmp_path)])

    assert (code, part in capsys.readouterr().err) == (2, True)
