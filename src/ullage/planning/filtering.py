"""How clean does a circuit become: by a recipe, and by letting it filter itself?

Three sizes of particles and water ride along with the fluid through the solver; elements keep what
their ratio says. Beside it stands the closed form of one mixed loop, which is quick and knows about
ingress. Leaves out settling, shedding and whatever an element lets by when its by-pass is open.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ullage.circuit.network import Circuit
from ullage.circuit.volumes import Numbers, content_m3, pump_flow_m3_s
from ullage.errors import OutOfRange
from ullage.fluids.cleanliness import CleanlinessCode, code_from_counter, parse_code
from ullage.fluids.filtration import FilterLoop, time_to_concentration
from ullage.fluids.tables import load_table
from ullage.planning.element import CODE_SIZES_UM, Element, element_of, ratio_at
from ullage.planning.finding import OURS, PRACTICE
from ullage.transport.recipe import Circulate, Recipe
from ullage.transport.species import Carried, CarriedRun, carry
from ullage.units.bounds import bounded
from ullage.units.caveat import Caveat

_ML_M3 = 1e-6
_SLICES = 24
WATER = "water"


@dataclass(frozen=True, slots=True, kw_only=True)
class DirtAfter:
    """How clean everything is after a step; ``code`` and ``parts`` None where nothing was counted.

    ``water_wfrac`` is the mean of the circuit, None where nobody measured it.
    """

    step: int
    do: str
    code: CleanlinessCode | None
    parts: Mapping[str, CleanlinessCode]
    water_wfrac: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Dirt:
    """Particles and water through a recipe; ``runs`` are the solver's own answers, sizes first."""

    steps: tuple[DirtAfter, ...]
    runs: tuple[CarriedRun, ...]
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CleaningTime:
    """How long closed filtering takes to a code, and at which size it takes longest.

    ``time_s`` None: the ingress keeps it dirtier than that for good. ``steady`` is the code that it
    settles at in the end.
    """

    time_s: float | None
    slowest_um: float
    steady: CleanlinessCode
    caveats: tuple[Caveat, ...]


def dirt(
    circuit: Circuit, recipe: Recipe, *, elements: Mapping[str, Element] | None = None
) -> Dirt:
    """Return how clean a circuit is after each step of a recipe.

    Parameters
    ----------
    circuit : Circuit
        Particles and water of its fluids count.
    recipe : Recipe
        What is done.
    elements : mapping
        Other elements than those of the circuit, by node.

    Returns
    -------
    found : Dirt
        Codes of the circuit and its parts, water, caveats.

    Raises
    ------
    NotConverged
        If the solver's books do not close.

    Validity
    --------
    Nothing gets in or settles while the recipe runs. Elements hold back the least that their ratio
    promises, so the answer is on the dirty side.

    Source
    ------
    ``iso-16889-2022`` for elements, ``iso-4406-2017`` for codes; the rest as ``species.carry``.
    """
    old, new = circuit.fluid, circuit.new_fluid
    things: list[Carried] = []
    caveats: list[Caveat] = []
    counted = old.particles_per_m3 is not None and new.particles_per_m3 is not None
    if old.particles_per_m3 is not None and new.particles_per_m3 is not None:
        sizes = zip(CODE_SIZES_UM, old.particles_per_m3, new.particles_per_m3, strict=True)
        for size_um, first, fresh in sizes:
            things.append(
                Carried(
                    name=f"{size_um:g} um",
                    first=first,
                    new=fresh,
                    passes=_passes(circuit, size_um, elements or {}),
                )
            )
    else:
        caveats.append(
            Caveat(
                code="particles-unknown",
                text="Particles of the old and the new fluid are not both known, so nothing can be "
                "said about cleanliness; a count of the new one is cheap.",
            )
        )
    wet = old.water_wfrac is not None and new.water_wfrac is not None
    if old.water_wfrac is not None and new.water_wfrac is not None:
        things.append(Carried(name=WATER, first=old.water_wfrac, new=new.water_wfrac))
    runs = carry(circuit, recipe, things) if things else ()
    steps = len(runs[0].steps) if runs else 0
    particles = runs[:3] if counted else ()
    return Dirt(
        steps=tuple(_after(particles, runs[-1] if wet else None, i) for i in range(steps)),
        runs=runs,
        caveats=tuple(caveats),
    )


def _passes(circuit: Circuit, size_um: float, elements: Mapping[str, Element]) -> dict[str, float]:
    """Return which share each element lets through, at the most."""
    found = {}
    for node in circuit.nodes:
        if node.element:
            element = elements.get(node.id) or element_of(node)
            found[node.id] = ratio_at(element, size_um=size_um).passes_high
    return found


def _after(particles: Sequence[CarriedRun], water: CarriedRun | None, i: int) -> DirtAfter:
    """Return the state after one step from the runs of all sizes."""
    some = particles[0] if particles else water
    if some is None:
        raise ValueError("nothing was carried")
    code = None
    parts: dict[str, CleanlinessCode] = {}
    if particles:
        code = _code([run.steps[i].mean for run in particles])
        for name in some.steps[i].concentration:
            parts[name] = _code([run.steps[i].concentration[name] for run in particles])
    return DirtAfter(
        step=some.steps[i].step,
        do=some.steps[i].do,
        code=code,
        parts=parts,
        water_wfrac=None if water is None else water.steps[i].mean,
    )


def _code(per_m3: Sequence[float]) -> CleanlinessCode:
    """Return the code of three concentrations; rounding never makes larger particles more."""
    four, six, fourteen = (value * _ML_M3 for value in per_m3)
    six = min(four, six)
    return code_from_counter(four, six, min(six, fourteen))


def cleaned_share(
    circuit: Circuit, *, size_um: float, elements: Mapping[str, Element] | None = None
) -> float:
    """Return the share of the pump's flow that is cleared of a size in one round.

    Parameters
    ----------
    circuit : Circuit
        Its paths and elements count.
    size_um : scalar
        Size of the particles. [um]
    elements : mapping
        Other elements than those of the circuit, by node.

    Returns
    -------
    share : scalar
        Cleared over pumped, 0 to 1. [m3/m3]

    Raises
    ------
    OutOfRange
        If the size is not positive.

    Validity
    --------
    At the least that each ratio promises; by-passes shut; thermostats open.

    Source
    ------
    ``iso-16889-2022``, definitions.
    """
    passes = _passes(circuit, size_um, elements or {})
    flowing = [path for path in circuit.paths if not path.dead_end]
    whole = sum(path.share.best for path in flowing)
    return sum(
        path.share.best * (1.0 - math.prod(passes.get(part, 1.0) for part in path.through))
        for path in flowing
    ) / (whole or 1.0)


def loop_volume_m3(circuit: Circuit) -> float:
    """Return what circulates without any actuator moving, at best values [m3]."""
    held = content_m3(circuit, Numbers())
    return float(held["reservoir"][0] + sum(held[part][0] for part in circuit.flow_order))


def ingress_per_s(circuit: Circuit, *, size_um: float) -> float | None:
    """Return how many particles of a size and larger get into a circuit, from how dirty it is.

    Parameters
    ----------
    circuit : Circuit
        Particles of its old fluid count, and its present elements.
    size_um : scalar
        4, 6 or 14. [um]

    Returns
    -------
    rate_per_s : scalar
        Particles per second of running; None where they were not counted or nothing filters. [1/s]

    Validity
    --------
    The old fluid has run long with these elements, at idle flow, so that what gets in is what they
    take out. Nothing settles. Within a factor of two at best.

    Source
    ------
    Steady state of a mixed loop (``fitch-1988``).
    """
    if circuit.fluid.particles_per_m3 is None or size_um not in CODE_SIZES_UM:
        return None
    counted = circuit.fluid.particles_per_m3[CODE_SIZES_UM.index(size_um)]
    flow = float(pump_flow_m3_s(circuit, Numbers())[0])
    cleaned = flow * cleaned_share(circuit, size_um=size_um)
    return counted * cleaned if cleaned > 0.0 else None


def bound_per_m3(scale: int) -> float:
    """Return the most particles that a scale number covers.

    Parameters
    ----------
    scale : scalar
        Scale number. [-]

    Returns
    -------
    bound_per_m3 : scalar
        Upper bound of the class. [1/m3]

    Raises
    ------
    NotFound
        If the table ends before it.

    Validity
    --------
    0 to 28.

    Source
    ------
    ``iso-4406-2017``, table 1.
    """
    return (
        float(load_table("iso4406").row("scale_number", str(scale))["upper_bound_per_ml"]) / _ML_M3
    )


def target_of(circuit: Circuit) -> tuple[CleanlinessCode, str]:
    """Return the code that a circuit is held to, and whose word that is."""
    if circuit.limits.target_code is not None:
        return parse_code(circuit.limits.target_code), "papers of the machine"
    return parse_code("18/16/13"), PRACTICE


def cleaning_time(
    circuit: Circuit,
    *,
    target: CleanlinessCode | None = None,
    start_per_m3: tuple[float, float, float] | None = None,
    with_ingress: bool = False,
) -> CleaningTime:
    """Return how long a circuit must filter itself until it meets a code.

    Parameters
    ----------
    circuit : Circuit
        Its loop, pump at idle and elements.
    target : CleanlinessCode
        Code wanted; None takes that of the circuit, else what is usual.
    start_per_m3 : (3,)
        Particles at the start; None takes those of the old fluid. [1/m3]
    with_ingress : value
        Whether dirt goes on getting in as it does at work; in the bay little does.

    Returns
    -------
    found : CleaningTime
        The longest of the three sizes; None where it never gets there.

    Raises
    ------
    OutOfRange
        If particles are not known, or no element stands in a path that comes back.

    Validity
    --------
    Reservoir and loop as one mixed volume: legs clean themselves only while they are exercised.
    By-pass shut, so warm. Particles above 20 um settle as well.

    Source
    ------
    Closed form of ``fluids.filtration``; codes after ``iso-4406-2017``.
    """
    wanted = target_of(circuit)[0] if target is None else target
    start = circuit.fluid.particles_per_m3 if start_per_m3 is None else start_per_m3
    if start is None:
        raise OutOfRange(
            "particles_per_ml", "nothing", "known", "have a sample of the fluid counted"
        )
    volume = loop_volume_m3(circuit)
    flow = float(pump_flow_m3_s(circuit, Numbers())[0])
    slowest, slowest_um, steady, reached = 0.0, CODE_SIZES_UM[0], [], True
    for size_um, first, part in zip(CODE_SIZES_UM, start, wanted.parts, strict=True):
        loop = FilterLoop(
            volume_m3=volume,
            flow_m3_s=flow,
            efficiency_share=cleaned_share(circuit, size_um=size_um),
            ingress_per_s=(ingress_per_s(circuit, size_um=size_um) or 0.0) if with_ingress else 0.0,
        )
        steady.append(loop.steady_per_m3)
        if not part.is_number:
            continue
        bound = bound_per_m3(part.number)
        if loop.steady_per_m3 >= bound:
            if reached:
                slowest_um = size_um
            reached = False
        elif reached:
            taken = time_to_concentration(loop=loop, start_per_m3=first, target_per_m3=bound)
            if taken.time_s > slowest:
                slowest, slowest_um = taken.time_s, size_um
    return CleaningTime(
        time_s=slowest if reached else None,
        slowest_um=slowest_um,
        steady=_code(steady),
        caveats=(
            Caveat(
                code="legs-not-cleaned",
                text="What stands in the legs is not filtered until they are exercised.",
            ),
            *(
                (
                    Caveat(
                        code="ingress-from-state",
                        text="How much dirt gets in is reckoned from how dirty the old fluid is "
                        f"({OURS}).",
                    ),
                )
                if with_ingress
                else ()
            ),
        ),
    )


def cleaning_time_by_solver_s(
    circuit: Circuit, *, size_um: float, first_per_m3: float, target_per_m3: float
) -> float:
    """Return how long closed filtering takes at one size, by the solver instead of the closed form.

    Parameters
    ----------
    circuit : Circuit
        Its loop, pump at idle and elements.
    size_um : scalar
        Size of the particles. [um]
    first_per_m3 : scalar
        Particles at the start, above the target. [1/m3]
    target_per_m3 : scalar
        Particles wanted, above 0. [1/m3]

    Returns
    -------
    time_s : scalar
        Until the mean of reservoir and loop meets the target. [s]

    Raises
    ------
    OutOfRange
        If the target is not between nothing and the start, or nothing filters.

    Validity
    --------
    No ingress. Lines delay and tail, which the closed form does not know.

    Source
    ------
    As ``species.carry``.
    """
    bounded("target_per_m3", target_per_m3, above=0.0, below=first_per_m3, unit="1/m3")
    loop = FilterLoop(
        volume_m3=loop_volume_m3(circuit),
        flow_m3_s=float(pump_flow_m3_s(circuit, Numbers())[0]),
        efficiency_share=cleaned_share(circuit, size_um=size_um),
    )
    guess = time_to_concentration(
        loop=loop, start_per_m3=first_per_m3, target_per_m3=target_per_m3
    ).time_s
    slice_s = 2.0 * guess / _SLICES
    recipe = Recipe(name="closed filtering", steps=(Circulate(duration_s=slice_s),) * _SLICES)
    thing = Carried(
        name=f"{size_um:g} um",
        first=first_per_m3,
        new=0.0,
        passes=_passes(circuit, size_um, {}),
    )
    (found,) = carry(circuit, recipe, [thing])
    held = content_m3(circuit, Numbers())
    parts = ["reservoir", *circuit.flow_order]
    volume = sum(float(held[part][0]) for part in parts)
    before = math.log(first_per_m3)
    for i, step in enumerate(found.steps):
        mean = sum(step.concentration[part] * float(held[part][0]) for part in parts) / volume
        now = math.log(max(mean, 1e-300))
        if mean <= target_per_m3:
            share = (before - math.log(target_per_m3)) / (before - now)
            return (i + share) * slice_s
        before = now
    raise OutOfRange(
        "target_per_m3",
        f"{target_per_m3:.6g} 1/m3",
        "within reach in twice the time of a mixed loop",
        "parts of the loop stand still: look at paths that are shut",
    )
