"""Every key that describes a liquid: what is in the circuit and what is poured."""

from __future__ import annotations

from ullage.fluids.liquid import UNKNOWN_CLASS
from ullage.fluids.tables import load_table
from ullage.formats.schema import Table, choice, real, reals

_CLASSES = (*load_table("fluid_class").texts("class"), UNKNOWN_CLASS)

_FLUID_KEYS = (
    real(
        name="nu40_mm2_s",
        about="kinematic viscosity at 40 degC, above that at 100 degC",
        required=True,
        example="22.0",
        above=0.0,
    ),
    real(
        name="nu100_mm2_s",
        about="kinematic viscosity at 100 degC",
        required=True,
        example="5.0",
        above=0.0,
    ),
    real(
        name="rho15_kg_m3",
        about="density at 15 degC",
        required=True,
        example="868",
        low=600.0,
        high=2000.0,
    ),
    choice(
        name="class",
        about='class of ISO 6743-4 or of the trade; "unknown" stops a job',
        otherwise='"unknown"',
        example='"HV"',
        choices=_CLASSES,
    ),
    reals(
        name="particles_per_ml",
        about="particles from 4, 6 and 14 um(c) upwards in a millilitre, falling",
        example="[9000, 2400, 180]",
        low=0.0,
        count=3,
    ),
    real(name="water_mg_kg", about="water", example="120", low=0.0, high=1000000.0),
    real(name="acid_mgkoh_g", about="acid number", example="0.6", low=0.0, high=1000.0),
)

FLUID = Table(
    name="fluid", about="what is in the circuit before the job", required=True, keys=_FLUID_KEYS
)
NEW_FLUID = Table(
    name="new_fluid",
    about="what is poured; without the table it has viscosity, density and class of [fluid]",
    keys=_FLUID_KEYS,
)
