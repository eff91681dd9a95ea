"""The page about the JSON API, made of its own description, so that it can't say something else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response

from ullage.web.desk import render

router = APIRouter()


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationShown:
    """One thing that can be asked: method, address, what it does, takes and answers."""

    method: str
    path: str
    about: str
    takes: tuple[str, ...]
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupShown:
    """Things that can be asked about one subject."""

    name: str
    heading: str
    operations: tuple[OperationShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeShown:
    """What is sent or answered: its keys, each with its kind and whether it must be there."""

    name: str
    about: str
    keys: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiPage:
    """Everything that programs can ask."""

    sentences: tuple[str, ...]
    groups: tuple[GroupShown, ...]
    shapes: tuple[ShapeShown, ...]


@router.get("/api")
def show_api(request: Request) -> Response:
    """Show what programs can ask."""
    return render(request, "api.html", api_page(request.app.openapi()))


def api_page(table: Mapping[str, Any]) -> ApiPage:
    """Return a description as its page shows it."""
    groups: dict[str, list[OperationShown]] = {}
    for path, methods in table["paths"].items():
        for method, told in methods.items():
            tag = told["tags"][0]
            groups.setdefault(tag, []).append(_operation(method.upper(), path, told))
    return ApiPage(
        sentences=tuple(_plain(one) for one in table["info"]["description"].split("\n\n")),
        groups=tuple(
            GroupShown(
                name=name.replace(" ", "-"),
                heading=name[:1].upper() + name[1:],
                operations=tuple(found),
            )
            for name, found in groups.items()
        ),
        shapes=tuple(
            _shape(name, schema) for name, schema in sorted(table["components"]["schemas"].items())
        ),
    )


def _operation(method: str, path: str, told: Mapping[str, Any]) -> OperationShown:
    """Return an operation ready to be shown."""
    takes = [
        f"{one['name']}: {kind_of(one['schema'])}{'' if one['required'] else ', may be left out'}"
        for one in told.get("parameters", ())
        if one["in"] == "query"
    ]
    for kind, content in told.get("requestBody", {}).get("content", {}).items():
        takes.append(f"{kind_of(content['schema'])}, as {kind}")
    return OperationShown(
        method=method,
        path=path,
        about=_plain(told["description"]),
        takes=tuple(takes),
        answers=tuple(_answer(status, one) for status, one in sorted(told["responses"].items())),
    )


def _answer(status: str, told: Mapping[str, Any]) -> str:
    """Return one answer in a line."""
    content = told.get("content", {})
    shown = [kind_of(one["schema"]) for one in content.values() if one.get("schema")]
    if status.startswith("2"):
        return f"{status}: {shown[0] if shown else 'nothing'}"
    return f"{status}: {told['description']}"


def kind_of(schema: Mapping[str, Any]) -> str:
    """Return what stands at a key in a few words.

    >>> kind_of({"type": "array", "items": {"$ref": "#/components/schemas/JobTold"}})
    'list of JobTold'
    >>> kind_of({"anyOf": [{"type": "number"}, {"type": "null"}]})
    'number or null'
    """
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    for several in ("anyOf", "oneOf"):
        if several in schema:
            return " or ".join(dict.fromkeys(kind_of(one) for one in schema[several]))
    if "allOf" in schema:
        return kind_of(schema["allOf"][0])
    if "enum" in schema:
        return " or ".join(f"\u201c{word}\u201d" for word in schema["enum"])
    if "const" in schema:
        return f"\u201c{schema['const']}\u201d"
    match schema.get("type"):
        case "array":
            return f"list of {kind_of(schema['items'])}"
        case "object":
            inner = schema.get("additionalProperties")
            held = kind_of(inner) if isinstance(inner, Mapping) and inner else "anything"
            return f"table of {held}"
        case "string":
            form = schema.get("format")
            words = {"date-time": "time", "date": "day", "binary": "bytes"}
            return words.get(str(form), "text")
        case "boolean":
            return "true or false"
        case "integer":
            return "whole number"
        case None:
            return "anything"
        case other:
            return str(other)


def _plain(text: str) -> str:
    """Return a text without the signs that set off what is code."""
    return " ".join(text.replace("`", "").split())


def _shape(name: str, schema: Mapping[str, Any]) -> ShapeShown:
    """Return a shape ready to be shown; one of words has one line."""
    required = set(schema.get("required", ()))
    keys = tuple(
        (
            key,
            kind_of(one) + ("" if key in required else ", may be left out"),
            _plain(one.get("description", "")),
        )
        for key, one in schema.get("properties", {}).items()
    )
    return ShapeShown(
        name=name,
        about=_plain(schema.get("description", "")),
        keys=keys or (("", kind_of(schema), ""),),
    )
