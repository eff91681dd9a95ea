"""A small machine with one leg, a recipe for it, and readings, for tests of verdicts."""

from __future__ import annotations

from functools import cache

from ullage.circuit.network import Circuit
from ullage.evidence.observation import Evidence
from ullage.evidence.update import Prover
from ullage.evidence.verdict import prover_of
from ullage.formats.circuit_file import parse_circuit
from ullage.formats.evidence_file import parse_evidence
from ullage.formats.recipe_file import parse_recipe
from ullage.transport.recipe import Recipe

CIRCUIT = """
format = "ullage-circuit/1"
name = "Two struts"
[reservoir]
full_l = { best = 2.0, spread_pct = 5 }
minimum_l = 0.5
brim_l = 3.4
heel_l = 0.2
area_cm2 = { best = 200, spread_pct = 10 }
[pump]
kind = "fixed"
displacement_ml_rev = 12
efficiency_pct = { best = 90, low = 70, high = 95 }
idle_rev_min = 750
[[line]]
id = "supply"
bore_mm = 12
length_m = { best = 4, spread_pct = 40 }
[[node]]
id = "block"
volume_l = { best = 0.6, spread_pct = 40 }
[[path]]
id = "main"
through = ["supply", "block"]
share_pct = 100
divert_after = "block"
[[leg]]
id = "left"
group = "struts"
at = "block"
line = { bore_mm = 8, length_m = { best = 2, spread_pct = 40 }, fittings = 1 }
stroke_l = { best = 0.5, spread_pct = 20 }
dead_l = { best = 0.3, spread_pct = 40 }
stroke_use_pct = { best = 60, low = 10, high = 100 }
bleed = true
gas = { volume_l = 0.3, precharge_bar = 60, working_bar = 120 }
[[leg]]
id = "right"
group = "struts"
at = "block"
line = { bore_mm = 8, length_m = { best = 5, spread_pct = 40 }, fittings = 1 }
stroke_l = { best = 0.5, spread_pct = 20 }
dead_l = { best = 0.3, spread_pct = 40 }
stroke_use_pct = { best = 60, low = 10, high = 100 }
bleed = true
[fluid]
nu40_mm2_s = 22
nu100_mm2_s = 5
rho15_kg_m3 = 868
class = "HV"
[new_fluid]
nu40_mm2_s = 22
nu100_mm2_s = 5
rho15_kg_m3 = 868
class = "HV"
"""

RECIPE = """
format = "ullage-recipe/1"
name = "Draw off, exchange, run"
temperature_degc = 50
[[step]]
do = "draw-off"
[[step]]
do = "fill"
[[step]]
do = "exchange"
litres = 4
exercise = ["struts"]
cycles = 2
period_s = 10
[[step]]
do = "circulate"
minutes = 1
exercise = ["struts"]
period_s = 10
"""

SAMPLES = """
[[sample]]
where = "outflow"
after_step = 3
old_pct = 4
u_pct = 3
shares = "photo"
[[sample]]
where = "leg:right"
after_step = 4
old_pct = 60
u_pct = 3
ref = "right"
shares = "photo"
"""


CONTRADICTION = """
[[sample]]
where = "reservoir"
after_step = 4
old_pct = 5
u_pct = 1.5
[[sample]]
where = "reservoir"
after_step = 4
old_pct = 60
u_pct = 1.5
"""


def circuit() -> Circuit:
    """Return the machine."""
    return parse_circuit(CIRCUIT, "struts.circuit.toml")


def recipe() -> Recipe:
    """Return what was done."""
    return parse_recipe(RECIPE, "struts.recipe.toml")


def evidence(text: str = "") -> Evidence:
    """Return readings."""
    return parse_evidence(f'format = "ullage-evidence/1"\n{text}', "struts.evidence.toml")


@cache
def prover(text: str = "") -> Prover:
    """Return the machine and the recipe with few machines of the prior run."""
    return prover_of(circuit(), recipe(), evidence(text), prior=700, answer=300)
