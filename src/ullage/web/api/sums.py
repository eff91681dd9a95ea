"""The bench sums: what each takes and gives, and its answer. A bare number is in its key's unit."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from ullage.errors import NotFound, OutOfRange
from ullage.sums.bench_sum import BenchSum
from ullage.sums.key import Kind
from ullage.sums.registry import bench_sum, bench_sums
from ullage.web.api.given import Number, Sent
from ullage.web.api.problems import TAKING_IN, refusals

router = APIRouter(prefix="/sums", tags=["sums"])

Name = Annotated[str, Path(pattern=r"^[a-z0-9-]{1,40}$")]


class KeyTold(BaseModel):
    """One thing that a sum takes."""

    name: str
    meaning: str
    kind: Kind
    unit: str
    limits: str
    choices: list[str]
    is_required: bool
    default: str | None


class OutputTold(BaseModel):
    """One thing that a sum gives."""

    name: str
    meaning: str
    unit: str


class SumTold(BaseModel):
    """A sum: what it takes and gives, and what stands behind it."""

    name: str
    purpose: str
    keys: list[KeyTold]
    outputs: list[OutputTold]
    formula: str
    source: str
    validity: str
    example: dict[str, str]


class SumAsked(Sent):
    """Values by key: a number in the key's own unit, or a text with a unit of its own."""

    keys: dict[str, Number | Annotated[str, Field(max_length=4000)]] = Field(max_length=40)


class CaveatTold(BaseModel):
    """What to beware of."""

    code: str
    text: str


class SumAnswer(BaseModel):
    """The results by name, in the units of their names, and the answer in a sentence."""

    values: dict[str, float | int | str | list[float] | dict[str, str] | None]
    sentence: str
    caveats: list[CaveatTold]


def _told(found: BenchSum) -> SumTold:
    return SumTold(
        name=found.name,
        purpose=found.purpose,
        keys=[
            KeyTold(
                name=key.name,
                meaning=key.meaning,
                kind=key.kind,
                unit=key.shown_unit,
                limits=key.limits_in_words(),
                choices=list(key.choices),
                is_required=key.is_required,
                default=key.default,
            )
            for key in found.keys
        ],
        outputs=[
            OutputTold(
                name=output.name,
                meaning=output.meaning,
                unit="" if output.unit is None else output.unit.shown,
            )
            for output in found.outputs
        ],
        formula=found.formula,
        source=found.source,
        validity=found.validity,
        example=dict(pair.split("=", 1) for pair in found.example),
    )


@router.get("")
def list_sums() -> list[SumTold]:
    """Return every sum."""
    return [_told(one) for one in bench_sums()]


@router.get("/{name}", responses=refusals(404))
def one_sum(name: Name) -> SumTold:
    """Return what a sum takes and gives."""
    return _told(bench_sum(name))


@router.post("/{name}", responses={**TAKING_IN, **refusals(404)})
def work_out(name: Name, sent: SumAsked) -> SumAnswer:
    """Work a sum out. Nothing is kept."""
    found = bench_sum(name)
    texts = {key: one if isinstance(one, str) else repr(one) for key, one in sent.keys.items()}
    try:
        answer = found.answer(texts)
    except NotFound as error:
        allowed = f"one of {', '.join(error.known)}"
        raise OutOfRange("keys", repr(error.name), allowed) from None
    return SumAnswer(
        values=dict(answer.values),
        sentence=answer.sentence,
        caveats=[CaveatTold(code=one.code, text=one.text) for one in answer.caveats],
    )
