"""A page shows all that it is given and asks for nothing else; every place answers."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
import subprocess
import sys
import typing
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from jinja2 import nodes
from starlette.testclient import TestClient

import ullage.web
from tests.fakes.desk import memory_desk
from ullage.jobs.prices import PRICES
from ullage.web.app import create_app
from ullage.web.desk import PLACES, templates
from ullage.web.door import Door
from ullage.web.forms import Field, Typed
from ullage.web.shown import CHOICES, Units
from ullage.wiring import App

#: What forms are made of is shown by macros, not by the page's own template.
_OF_FORMS = (Field, Typed, Units)
_NAMES = [
    name
    for name in sorted(templates().list_templates(extensions=["html"]))
    if not name.rpartition("/")[2].startswith("_") and name != "base.html"
]


@cache
def _classes() -> dict[str, type]:
    """Return every dataclass of the web floor by name."""
    found: dict[str, type] = {}
    for info in pkgutil.walk_packages(ullage.web.__path__, "ullage.web."):
        module = importlib.import_module(info.name)
        for name, thing in vars(module).items():
            if dataclasses.is_dataclass(thing) and isinstance(thing, type):
                found[name] = thing
    return found


def _class_of(template: str) -> type:
    """Return the class that a template is given, by the name it must have."""
    folder, _, file = template.rpartition("/")
    words = file.removesuffix(".html").split("_")
    name = "".join(word.capitalize() for word in words) + ("Section" if folder else "Page")
    assert name in _classes(), f"{template} is given a dataclass called {name}, and there is none"
    return _classes()[name]


def _syntax(template: str) -> Iterator[nodes.Template]:
    """Go through a template and all that it includes or imports by name."""
    seen, waiting = set(), [template]
    loader = templates().loader
    assert loader is not None
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        source, _, _ = loader.get_source(templates(), name)
        tree = templates().parse(source)
        yield tree
        for node in tree.find_all((nodes.Include, nodes.FromImport, nodes.Import)):
            if isinstance(node.template, nodes.Const):
                waiting.append(node.template.value)


def _asked(template: str, of: str) -> set[str]:
    """Return the attributes of a variable that a template asks for."""
    return {
        node.attr
        for tree in _syntax(template)
        for node in tree.find_all(nodes.Getattr)
        if isinstance(node.node, nodes.Name) and node.node.name == of
    }


def _attributes(template: str) -> set[str]:
    """Return every attribute that a template asks for, of whatever."""
    return {node.attr for tree in _syntax(template) for node in tree.find_all(nodes.Getattr)}


def _inside(kind: object) -> Iterator[type]:
    """Go through the dataclasses of the web floor that a field's type names."""
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        if kind.__module__.startswith("ullage.web") and kind not in _OF_FORMS:
            yield kind
        return
    for part in typing.get_args(kind):
        yield from _inside(part)


@pytest.mark.parametrize("template", _NAMES)
def test_a_template_asks_for_what_its_page_has(template: str) -> None:
    """No name is misspelt in a branch that no test renders."""
    given = _class_of(template)
    has = {name for name in dir(given) if not name.startswith("_")}
    has |= {field.name for field in dataclasses.fields(given)}

    assert _asked(template, "section" if "/" in template else "page") - has == set()


def _given_to(template: str) -> set[type]:
    """Return the class of a template's page and all those that it holds."""
    waiting, seen = [_class_of(template)], set()
    while waiting:
        given = waiting.pop()
        if given in seen:
            continue
        seen.add(given)
        hints = typing.get_type_hints(given, vars(sys.modules[given.__module__]))
        waiting += [
            one for field in dataclasses.fields(given) for one in _inside(hints[field.name])
        ]
    return seen


def test_a_page_shows_all_that_it_is_given() -> None:
    """No field is worked out for nobody, in a page or in what it holds."""
    unseen: dict[type, set[str]] = {}
    for template in _NAMES:
        shown = _attributes(template)
        for given in _given_to(template):
            # What several pages hold may be shown in part by each.
            names = {field.name for field in dataclasses.fields(given)}
            unseen[given] = unseen.get(given, names) - shown

    assert {given.__name__: names for given, names in unseen.items() if names} == {}


def test_a_page_is_never_changed() -> None:
    """What a template is given is frozen."""
    loose = [
        name
        for name, given in _classes().items()
        if name.endswith(("Page", "Section")) and not given.__dataclass_params__.frozen  # type: ignore[attr-defined]
    ]

    assert loose == []


@pytest.mark.parametrize("place", [path for path, _ in PLACES])
def test_every_place_answers(place: str, tmp_path: Path) -> None:
    """With nothing kept yet, too."""
    web = create_app(App(desk=memory_desk(), data=tmp_path), Door(port=80))
    with TestClient(web, base_url="http://127.0.0.1", client=("127.0.0.1", 1)) as client:
        assert client.get(place).status_code == 200


def test_the_first_page_does_not_wait_for_the_solver() -> None:
    """Putting the app together loads nothing that reckons."""
    heavy = "numpy scipy numba pint"
    code = f"import sys, ullage.cli.serve; print(*set({heavy.split()}) & set(sys.modules))"

    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )

    assert answer.stdout.strip() == ""


@pytest.mark.parametrize("template", [*_NAMES, "base.html"])
def test_a_template_has_no_script_or_style_of_its_own(template: str) -> None:
    """The policy of the pages would refuse them: they stand in files."""
    loader = templates().loader
    assert loader is not None
    source = loader.get_source(templates(), template)[0].lower()

    assert [
        sign for sign in (" style=", "<style", " onclick=", "javascript:") if sign in source
    ] == []
    assert source.count("<script") == source.count('<script type="module" src=')


def test_places_and_settings_are_described() -> None:
    """Whoever looks for an address or a setting finds it in the reference."""
    described = (Path(__file__).parents[2] / "docs" / "reference" / "pages.md").read_text("utf-8")
    settings = [*(f"units.{key}" for key in CHOICES), *(f"costs.{key}" for key in PRICES)]

    names = [*(path for path, _ in PLACES), *settings, "costs.currency"]
    assert [name for name in names if f"| `{name}` |" not in described] == []
