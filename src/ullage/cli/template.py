"""``ullage template``: print a built-in circuit or recipe to start from, or name them all."""

from __future__ import annotations

import json

from ullage.circuit.catalogue import Template, circuit_templates
from ullage.errors import NotFound
from ullage.transport.examples import recipe_templates

SUCCESS = 0


def run(name: str | None, *, list_all: bool, as_json: bool) -> int:
    """Carry out one ``ullage template`` and return the exit code."""
    circuits, recipes = circuit_templates(), recipe_templates()
    if list_all or name is None:
        print(_listed_as_json(circuits, recipes) if as_json else _listed(circuits, recipes))
        return SUCCESS
    found = {t.name: ("circuit", t) for t in circuits} | {t.name: ("recipe", t) for t in recipes}
    plain = name.removesuffix(".toml").removesuffix(".circuit").removesuffix(".recipe")
    if plain not in found:
        raise NotFound("built-in circuit or recipe", name, found)
    kind, template = found[plain]
    if as_json:
        print(json.dumps({"format": "ullage-template/1", **_as_table(template, kind)}))
    else:
        print(template.text, end="")
    return SUCCESS


def _listed(circuits: tuple[Template, ...], recipes: tuple[Template, ...]) -> str:
    """Return all names with what each is for."""
    width = max(len(template.name) for template in (*circuits, *recipes))
    rows = ["circuits"]
    rows += [f"  {t.name:<{width}}  {t.purpose}" for t in circuits]
    rows += ["recipes"]
    rows += [f"  {t.name:<{width}}  {t.purpose}" for t in recipes]
    rows += [
        "",
        "`ullage template NAME` prints one; write it to a file and replace what you know better,",
        "for example: ullage template levelling-van > my.circuit.toml",
    ]
    return "\n".join(rows)


def _listed_as_json(circuits: tuple[Template, ...], recipes: tuple[Template, ...]) -> str:
    """Return all names with what each is for, as one JSON object."""
    return json.dumps(
        {
            "format": "ullage-templates/1",
            "circuits": [{"name": t.name, "purpose": t.purpose} for t in circuits],
            "recipes": [{"name": t.name, "purpose": t.purpose} for t in recipes],
        }
    )


def _as_table(template: Template, kind: str) -> dict[str, str]:
    """Return a template with its text."""
    return {
        "kind": kind,
        "name": template.name,
        "purpose": template.purpose,
        "text": template.text,
    }
