"""Which module shows a stage of a job?

A module of a stage has ``section_of(desk, job, typed)``, which returns a frozen dataclass of texts
ready to be shown, the template ``sections/<stage>.html``, which is given it as ``section``, and
``router`` with the routes ``/jobs/{job_id}/<stage>/...``. Its line in ``MODULES`` is all that the
app needs.

Modules are loaded when the first page asks for them, because what they work with loads the solver.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, Protocol, cast

if TYPE_CHECKING:
    from fastapi import APIRouter

    from ullage.jobs.job import Job
    from ullage.jobs.ports import Desk
    from ullage.web.forms import Typed

from ullage.jobs.stage import Stage

MODULES: Mapping[Stage, str] = {
    Stage.ASSESS: "ullage.web.sections.assess",
    Stage.PLAN: "ullage.web.sections.plan",
    Stage.PREPARE: "ullage.web.sections.prepare",
    Stage.EXCHANGE: "ullage.web.sections.exchange",
    Stage.REFIT: "ullage.web.sections.refit",
    Stage.PROVE: "ullage.web.sections.prove",
    Stage.RECORD: "ullage.web.sections.record",
}


class SectionModule(Protocol):
    """What a module of a stage must have."""

    router: APIRouter

    def section_of(self, desk: Desk, job: Job, typed: Typed | None) -> Any:
        """Return what the template of the stage shows."""
        ...


def module_of(stage: Stage) -> SectionModule | None:
    """Return the module of a stage, loaded; None while a stage has none."""
    name = MODULES.get(stage)
    return None if name is None else cast(SectionModule, import_module(name))


def template_of(stage: Stage) -> str:
    """Return the template of a stage."""
    return f"sections/{stage.value}.html"
