"""What programs may send in more than one place: names, figures, times and tables, each checked."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Annotated, Any

from fastapi import Path
from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    JsonValue,
    StrictInt,
)

_ID = r"^[0-9A-Za-z_-]{1,80}$"


class Sent(BaseModel):
    """Something that a program sends: a key that is not known is a mistake, not a remark."""

    model_config = ConfigDict(extra="forbid")


def _storable(table: dict[str, Any]) -> dict[str, Any]:
    """Refuse what can't be written down: half a character, a number that is none."""
    try:
        json.dumps(table, ensure_ascii=False, allow_nan=False).encode()
    except (ValueError, RecursionError) as error:
        raise ValueError("only text, finite numbers, lists and tables can be kept") from error
    return table


def _text_only(value: object) -> object:
    if not isinstance(value, str):
        raise ValueError("must be text as ISO 8601 has it")
    return value


def _in_utc(at: datetime) -> datetime:
    try:
        return at.astimezone(UTC)
    except OverflowError as error:
        raise ValueError("must lie within the years 1 to 9999") from error


#: The id of something that is kept, in an address.
IdInPath = Annotated[str, Path(pattern=_ID)]
#: The id of something that is kept, in what is sent.
Id = Annotated[str, Field(pattern=_ID)]
#: A name that the sender makes up, unique over all senders: sent twice, it counts once.
Uid = Annotated[
    str,
    Field(
        pattern=r"^[a-z0-9-]{8,64}$",
        description="Made up by the sender and never used for anything else; sent again, it "
        "counts once.",
    ),
]
Version = Annotated[StrictInt, Field(ge=1, le=1_000_000)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Instant = Annotated[
    AwareDatetime,
    BeforeValidator(_text_only),
    AfterValidator(_in_utc),
    Field(description="ISO 8601, with its zone."),
]
Day = Annotated[date, BeforeValidator(_text_only), Field(description="ISO 8601, a day.")]
#: A table of one of our files. What it may hold is said by the reference of the files.
Table = Annotated[dict[str, JsonValue], AfterValidator(_storable)]
