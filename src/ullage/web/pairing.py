"""How is a device let in, and how is it known again?

At the computer somebody asks for a code: eight digits that count for five minutes and five tries,
once. The device that sends the code gets a signed pass in a cookie that no script can read and no
other site can send. A pass names a device of the store; whoever strikes the device out takes its
pass away. Leaves out where the code is shown (``screens.settings``) and asked for
(``screens.pair``).
"""

from __future__ import annotations

import hashlib
import os
import secrets
import threading
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from hmac import compare_digest
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from typing import Any

from itsdangerous import BadSignature, Signer

from ullage.errors import NotFound, OutOfRange
from ullage.jobs.machine import named
from ullage.jobs.ports import Desk, Device

COOKIE = "ullage_device"
DIGITS = 8
CODE_COUNTS_FOR = timedelta(minutes=5)
TRIES = 5
#: How long a device is remembered, in seconds; it can be struck out at any time.
PASS_MAX_AGE_S = 365 * 24 * 3600
#: "Last seen" is kept to the minute, so that a busy device does not write at every request.
_SEEN_EVERY = timedelta(minutes=1)
_SECRET_BYTES = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """A code that lets one device in."""

    digits: str
    made_at: datetime
    tries_left: int = TRIES

    def counts_until(self) -> datetime:
        """Return when it stops counting."""
        return self.made_at + CODE_COUNTS_FOR


class Pairing:
    """The code that counts at the moment, if one does, and the passes that were given out."""

    def __init__(self, desk: Desk, secret: bytes) -> None:
        self._desk = desk
        self._signer = Signer(
            secret, salt="ullage.device", key_derivation="hmac", digest_method=hashlib.sha256
        )
        self._code: Code | None = None
        self._lock = threading.Lock()

    def new_code(self) -> Code:
        """Return a new code; an older one stops counting."""
        digits = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
        with self._lock:
            self._code = Code(digits=digits, made_at=self._desk.now())
            return self._code

    def current(self) -> Code | None:
        """Return the code that counts now."""
        with self._lock:
            return self._counting()

    def let_in(self, digits: str, name: str) -> str:
        """Let a device in and return its pass; the code is used up.

        Raises
        ------
        OutOfRange
            If the code is wrong, no longer counts or never did, or the name is none.
        """
        name = named(name, "name")
        typed = "".join(digit for digit in digits if digit.isascii() and digit.isdigit())
        with self._lock:
            code = self._counting()
            if code is None:
                raise OutOfRange(
                    "code", "", "a code that counts", "ask for a new one at the computer"
                )
            if not compare_digest(typed, code.digits):
                left = code.tries_left - 1
                self._code = replace(code, tries_left=left) if left else None
                advice = (
                    f"{left} {'try is' if left == 1 else 'tries are'} left"
                    if left
                    else "it no longer counts: ask for a new one at the computer"
                )
                raise OutOfRange("code", "", "the code that the computer shows", advice)
            self._code = None
        now = self._desk.now()
        device = Device(id=self._desk.new_id(), name=name, paired_at=now, seen_at=now)
        self._desk.store.add_device(device)
        return self._signer.sign(device.id).decode()

    def device_of(self, cookies: str) -> Device | None:
        """Return the device that a cookie header names; None for a pass that does not count."""
        given = _cookie(cookies)
        if given is None:
            return None
        try:
            device_id = self._signer.unsign(given).decode()
        except (BadSignature, UnicodeDecodeError):
            return None
        known = {device.id: device for device in self._desk.store.devices()}
        device = known.get(device_id)
        now = self._desk.now()
        if device is None or device.revoked_at is not None:
            return None
        if now - device.paired_at > timedelta(seconds=PASS_MAX_AGE_S):
            return None
        if now - device.seen_at > _SEEN_EVERY:
            device = replace(device, seen_at=now)
            self._desk.store.change_device(device)
        return device

    def strike_out(self, device_id: str) -> None:
        """Take the pass of a device away; a second time is no fault.

        Raises
        ------
        NotFound
            If no such device was let in.
        """
        known = {device.id: device for device in self._desk.store.devices()}
        if device_id not in known:
            raise NotFound("device", device_id)
        if known[device_id].revoked_at is None:
            gone = replace(known[device_id], revoked_at=self._desk.now())
            self._desk.store.change_device(gone)

    def _counting(self) -> Code | None:
        """Return the code if it still counts, and forget it if not; the lock is held."""
        if self._code is not None and self._desk.now() >= self._code.counts_until():
            self._code = None
        return self._code


def pass_cookie(value: str) -> dict[str, Any]:
    """Return how the pass of a device is kept: out of reach of scripts and of other sites."""
    return {
        "key": COOKIE,
        "value": value,
        "max_age": PASS_MAX_AGE_S,
        "path": "/",
        "httponly": True,
        "samesite": "strict",
    }


def new_secret() -> bytes:
    """Return a secret that signs passes until the program ends."""
    return secrets.token_bytes(_SECRET_BYTES)


def kept_secret(data: Path) -> bytes:
    """Return the secret of a data folder, made at the first time; only its owner can read it.

    Raises
    ------
    OutOfRange
        If the file was cut short or can be read by others.
    """
    path = data / "secret"
    try:
        number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        secret = path.read_bytes()
        if len(secret) != _SECRET_BYTES:
            raise OutOfRange(
                str(path),
                f"{len(secret)} bytes",
                f"{_SECRET_BYTES} bytes",
                "delete it; every device has to be paired again",
            ) from None
        if os.name == "posix" and path.stat().st_mode & 0o077:
            path.chmod(0o600)
        return secret
    secret = new_secret()
    with os.fdopen(number, "wb") as file:
        file.write(secret)
        file.flush()
        os.fsync(file.fileno())
    return secret


def _cookie(header: str) -> str | None:
    """Return our cookie of a cookie header."""
    try:
        found = SimpleCookie(header).get(COOKIE)
    except CookieError:
        return None
    return None if found is None else found.value
