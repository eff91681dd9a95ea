"""A circuit's form as it was sent: some thousand fields at most, and a file that may come along."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import UploadFile

#: A circuit of hundreds of parts has thousands of fields; most of them are sent empty.
MOST_FIELDS = 50_000
#: A file larger than this is no circuit.
LARGEST_BYTES = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A form as it was sent: texts by field, and the bytes of a file that came with it."""

    texts: Mapping[str, str]
    file: bytes | None = None

    def __getitem__(self, name: str) -> str:
        """Return a text, empty where the field was not sent."""
        return self.texts.get(name, "")


async def sent_form(request: Request) -> Sent:
    """Return the form of a request; no more of a file is read than a circuit can need."""
    async with request.form(max_fields=MOST_FIELDS, max_files=1) as form:
        texts = {name: value for name, value in form.items() if isinstance(value, str)}
        upload = form.get("file")
        data = None
        if isinstance(upload, UploadFile) and upload.filename:
            data = await upload.read(LARGEST_BYTES + 1)
        return Sent(texts=texts, file=data)


#: The form, as a parameter of a route.
Form = Annotated[Sent, Depends(sent_form)]
