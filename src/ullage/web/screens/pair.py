"""Where a device asks to be let in: it gives the code that the computer shows, and its name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import RedirectResponse

from ullage.errors import UllageError
from ullage.jobs.machine import LONGEST_NAME
from ullage.web.desk import Filled, InUnits, render
from ullage.web.forms import Field, Typed, blank, read
from ullage.web.pairing import DIGITS, Pairing, pass_cookie

router = APIRouter()

FIELDS: tuple[Field, ...] = (
    Field(
        "code",
        "Code",
        "text",
        required=True,
        longest=20,
        hint=f"The {DIGITS} digits that the computer shows under Settings.",
    ),
    Field(
        "name",
        "Name of this device",
        "text",
        required=True,
        longest=LONGEST_NAME,
        hint="Such as bay phone: it stands in the list of devices.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairPage:
    """The form for a code."""

    fields: tuple[Field, ...]
    typed: Typed


@router.get("/pair")
def ask_for_code(
    request: Request, code: Annotated[str, Query(pattern=r"^\d{0,20}$")] = ""
) -> Response:
    """Show the form; a picture code brings the digits along, but only a tap sends them."""
    typed = blank() if not code else Typed(texts={"code": code}, uid=blank().uid)
    return render(request, "pair.html", PairPage(fields=FIELDS, typed=typed))


@router.post("/pair")
def let_in(request: Request, units: InUnits, form: Filled) -> Response:
    """Let the device in if the code is right."""
    typed = read(FIELDS, form, units)
    if typed.is_good:
        pairing: Pairing = request.app.state.pairing
        try:
            given = pairing.let_in(typed.values["code"], typed.values["name"])
            answer = RedirectResponse("/", status_code=303)
            answer.set_cookie(**pass_cookie(given))
            return answer
        except UllageError as error:
            typed = typed.with_error(error)
    return render(request, "pair.html", PairPage(fields=FIELDS, typed=typed), status=422)
