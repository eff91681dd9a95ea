"""What is this liquid, and how thick and how dense is it at a temperature?

A `Liquid` is what a data sheet says: two viscosities, a density, a class, and what a laboratory
found in it. It answers for any temperature; `caveats` says how far to trust the answer.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, overload

from ullage.errors import OutOfRange
from ullage.fluids.density import BASE_K, COLDEST_K, HOTTEST_K, volume_correction
from ullage.fluids.tables import load_table
from ullage.fluids.viscosity import THINNEST_M2_S, WaltherLine, walther_line
from ullage.units.caveat import Caveat
from ullage.units.convert import ZERO_CELSIUS_K
from ullage.units.elementwise import bounded, caveats_where, exp

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers

UNKNOWN_CLASS = "unknown"
POLYMER_CLASSES = (
    "HR",
    "HV",
)  # iso-6743-4-2015: less change with temperature, by polymer as a rule

AT_40_K = 40.0 + ZERO_CELSIUS_K
AT_100_K = 100.0 + ZERO_CELSIUS_K

LIGHTEST_KG_M3, HEAVIEST_KG_M3 = 600.0, 2000.0  # beyond is no hydraulic liquid; common practice


@cache
def _family_by_class() -> dict[str, str]:
    """Return the chemical family of every class that may be named."""
    table = load_table("fluid_class")
    return dict(zip(table.texts("class"), table.texts("family"), strict=True))


@cache
def _expansion_by_family() -> dict[str, float]:
    """Return the expansion coefficient of the families that are no lubricating oils."""
    table = load_table("expansion")
    return dict(zip(table.texts("family"), table.numbers("alpha_per_k"), strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid:
    """A hydraulic liquid as its papers describe it.

    ``class_`` is a class of ISO 6743-4, "ATF", "BRAKE-GLYCOL", "BRAKE-SILICONE" or "unknown".
    ``particles_per_m3`` counts at and above 4, 6 and 14 um(c); ``acid_kg_kg`` is the mass of
    KOH that neutralises a unit mass of liquid. What was not measured is None.
    """

    nu40_m2_s: float
    nu100_m2_s: float
    rho15_kg_m3: float
    class_: str = UNKNOWN_CLASS
    particles_per_m3: tuple[float, float, float] | None = None
    water_wfrac: float | None = None
    acid_kg_kg: float | None = None
    _line: WaltherLine = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        bounded("nu100_m2_s", self.nu100_m2_s, low=THINNEST_M2_S, unit="m2/s")
        bounded(
            "nu40_m2_s",
            self.nu40_m2_s,
            above=self.nu100_m2_s,
            unit="m2/s",
            advice="a liquid is thicker at 40 degC than at 100 degC; are they swapped?",
        )
        bounded(
            "rho15_kg_m3",
            self.rho15_kg_m3,
            low=LIGHTEST_KG_M3,
            high=HEAVIEST_KG_M3,
            unit="kg/m3",
            advice="0.868 g/ml is 868 kg/m3",
        )
        if self.class_ != UNKNOWN_CLASS and self.class_ not in _family_by_class():
            known = ", ".join((*_family_by_class(), UNKNOWN_CLASS))
            raise OutOfRange("class", self.class_, f"one of {known}", "see the data sheet")
        self._check_findings()
        # An oil must lie where the volume correction is defined; asking once shows it.
        self.volume_factor(BASE_K)
        # The two viscosities fix the line; a frozen value may remember what follows from it.
        object.__setattr__(
            self,
            "_line",
            walther_line(
                t1_k=AT_40_K, nu1_m2_s=self.nu40_m2_s, t2_k=AT_100_K, nu2_m2_s=self.nu100_m2_s
            ),
        )

    def _check_findings(self) -> None:
        """Refuse laboratory findings that cannot be."""
        if self.water_wfrac is not None:
            bounded("water_wfrac", self.water_wfrac, low=0.0, high=1.0, unit="kg/kg")
        if self.acid_kg_kg is not None:
            bounded("acid_kg_kg", self.acid_kg_kg, low=0.0, high=1.0, unit="kg/kg")
        if self.particles_per_m3 is None:
            return
        if len(self.particles_per_m3) != 3:
            raise OutOfRange(
                "particles_per_m3", self.particles_per_m3, "three counts: from 4, 6 and 14 um(c)"
            )
        for count in self.particles_per_m3:
            bounded("particles_per_m3", count, low=0.0, unit="1/m3")
        if sorted(self.particles_per_m3, reverse=True) != list(self.particles_per_m3):
            raise OutOfRange(
                "particles_per_m3",
                self.particles_per_m3,
                "counts that fall from the smallest size to the largest",
                "each counts every particle of its size and above",
            )

    @property
    def family(self) -> str:
        """Chemical family of the class, "unknown" where the class is."""
        return _family_by_class().get(self.class_, UNKNOWN_CLASS)

    @overload
    def nu_m2_s(self, temperature_k: float) -> float: ...
    @overload
    def nu_m2_s(self, temperature_k: Array) -> Array: ...
    def nu_m2_s(self, temperature_k: Numbers) -> Numbers:
        """Return the kinematic viscosity at a temperature.

        Parameters
        ----------
        temperature_k : scalar or (...)
            Fluid temperature. [K]

        Returns
        -------
        nu_m2_s : scalar or (...)
            Kinematic viscosity. [m2/s]

        Raises
        ------
        OutOfRange
            If the line through the two viscosities describes no liquid there.

        Validity
        --------
        From the pour point up; within about 1 % between 40 and 100 degC.

        Source
        ------
        ``astm-d341``, section 4.

        Examples
        --------
        >>> oil = Liquid(nu40_m2_s=32e-6, nu100_m2_s=5.4e-6, rho15_kg_m3=875.0, class_="HM")
        >>> round(oil.nu_m2_s(293.15) * 1e6, 1)
        86.3
        """
        return self._line.nu_m2_s(temperature_k)

    @overload
    def volume_factor(self, temperature_k: float) -> float: ...
    @overload
    def volume_factor(self, temperature_k: Array) -> Array: ...
    def volume_factor(self, temperature_k: Numbers) -> Numbers:
        """Return the volume at a temperature over the volume at 15 degC: above 1 when warm.

        Parameters
        ----------
        temperature_k : scalar or (...)
            Fluid temperature, 223.15 to 423.15. [K]

        Returns
        -------
        factor : scalar or (...)
            Relative volume. [m3/m3]

        Raises
        ------
        OutOfRange
            If the temperature is outside the range above, or an oil's density outside 800 to 1164
            kg/m3.

        Validity
        --------
        Oils (and a liquid of unknown class that is as dense as one) as the volume correction of
        lubricating oils; other families by one coefficient, within about a fifth of the growth.

        Source
        ------
        ``api-mpms-11-1``, table 54D; data/expansion.csv for the rest.

        Examples
        --------
        >>> oil = Liquid(nu40_m2_s=32e-6, nu100_m2_s=5.4e-6, rho15_kg_m3=875.0, class_="HM")
        >>> round(oil.volume_factor(333.15), 4)
        1.0337
        """
        own_per_k = _expansion_by_family().get(self.family)
        if own_per_k is None:
            return 1.0 / volume_correction(
                rho15_kg_m3=self.rho15_kg_m3, temperature_k=temperature_k
            )
        bounded("temperature_k", temperature_k, low=COLDEST_K, high=HOTTEST_K, unit="K")
        warming = own_per_k * (temperature_k - BASE_K)
        return exp(warming * (1.0 + 0.8 * warming))

    @overload
    def density_kg_m3(self, temperature_k: float) -> float: ...
    @overload
    def density_kg_m3(self, temperature_k: Array) -> Array: ...
    def density_kg_m3(self, temperature_k: Numbers) -> Numbers:
        """Return the density at a temperature.

        Parameters
        ----------
        temperature_k : scalar or (...)
            Fluid temperature, 223.15 to 423.15. [K]

        Returns
        -------
        rho_kg_m3 : scalar or (...)
            Density. [kg/m3]

        Raises
        ------
        OutOfRange
            As `volume_factor`.

        Validity
        --------
        As `volume_factor`, at atmospheric pressure.

        Source
        ------
        ``api-mpms-11-1``, table 54D; data/expansion.csv for the rest.

        Examples
        --------
        >>> oil = Liquid(nu40_m2_s=32e-6, nu100_m2_s=5.4e-6, rho15_kg_m3=875.0, class_="HM")
        >>> round(oil.density_kg_m3(333.15), 1)
        846.5
        """
        return self.rho15_kg_m3 / self.volume_factor(temperature_k)

    def caveats(self, temperature_k: Numbers) -> tuple[Caveat, ...]:
        """Return what to know about this liquid's viscosity and density at a temperature."""
        own = caveats_where(
            (
                (self.class_ in POLYMER_CLASSES) & (temperature_k < ZERO_CELSIUS_K),
                Caveat(
                    code="polymer-thickened",
                    text="A class thickened by polymer: in the cold, and after much shearing, its "
                    "viscosity departs from the line through its two points.",
                ),
            ),
            (
                self.class_ == UNKNOWN_CLASS,
                Caveat(
                    code="unknown-class",
                    text="The class is unknown: its volume correction is taken as that of an oil.",
                ),
            ),
            (
                self.family in _expansion_by_family(),
                Caveat(
                    code="single-expansion-coefficient",
                    text="Not a lubricating oil: its expansion rests on one rough coefficient.",
                ),
            ),
            (
                self.family in ("ester", "triglyceride"),
                Caveat(
                    code="oil-expansion-assumed",
                    text="Esters have no volume table of their own here; that of mineral oil is "
                    "used.",
                ),
            ),
        )
        return (*self._line.caveats(temperature_k), *own)
