"""Which recipes are built in, and for which circuit? Their names begin with the circuit's."""

from __future__ import annotations

from ullage.circuit.catalogue import Template, built_in
from ullage.errors import NotFound

_ENDING = ".recipe.toml"


def recipe_templates(circuit: str | None = None) -> tuple[Template, ...]:
    """Return all built-in recipes, or those for one built-in circuit.

    >>> [template.name for template in recipe_templates("wheel-brakes")]
    ['wheel-brakes-bleed']
    """
    found = built_in("ullage.transport", _ENDING).values()
    return tuple(t for t in found if circuit is None or t.name.startswith(f"{circuit}-"))


def recipe_template(name: str) -> Template:
    """Return one built-in recipe.

    Raises
    ------
    NotFound
        If none bears the name.
    """
    known = built_in("ullage.transport", _ENDING)
    if name not in known:
        raise NotFound("built-in recipe", name, known)
    return known[name]
