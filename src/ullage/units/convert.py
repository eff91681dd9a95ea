"""Which factor turns a number of the trade into SI, exactly?

Every constant here is exact by definition unless its comment says otherwise. Pressures need care:
a gauge reading has no fixed relation to absolute pressure, so the pair of functions below names the
atmosphere it assumes. Pressure differences are converted with a plain factor.
"""

from __future__ import annotations

import math

from ullage.errors import OutOfRange

# --- length, area, volume -----------------------------------------------------------------------
INCH_M = 0.0254  # international yard and pound agreement, 1959
MILE_M = 63360 * INCH_M  # 5280 feet of 12 inches, NIST SP 811 (2008) appendix B.8
LITRE_M3 = 1e-3  # BIPM SI brochure, 9th ed., table 8
US_GALLON_M3 = 231 * INCH_M**3  # 231 cubic inches, NIST SP 811 (2008) appendix B.8
IMPERIAL_GALLON_M3 = 4.54609e-3  # NIST SP 811 (2008) appendix B.8

# --- mass, force, pressure ----------------------------------------------------------------------
POUND_KG = 0.45359237  # international yard and pound agreement, 1959
STANDARD_GRAVITY_M_S2 = 9.80665  # 3rd CGPM, 1901
POUND_FORCE_N = POUND_KG * STANDARD_GRAVITY_M_S2
PSI_PA = POUND_FORCE_N / INCH_M**2
BAR_PA = 1e5
STANDARD_ATMOSPHERE_PA = 101325.0  # 10th CGPM, 1954
INHG_PA = 3386.389  # conventional inch of mercury; NIST SP 811 (2008) appendix B.8, 7 figures

# --- temperature --------------------------------------------------------------------------------
ZERO_CELSIUS_K = 273.15  # BIPM SI brochure, 9th ed., 2.3.1
DEGREE_FAHRENHEIT_K = 5.0 / 9.0

# --- heat, time ---------------------------------------------------------------------------------
BTU_J = 1055.05585262  # International Table unit, NIST SP 811 (2008) appendix B.8
MINUTE_S = 60.0
HOUR_S = 3600.0

# --- viscosity ----------------------------------------------------------------------------------
MM2_S_M2_S = 1e-6  # one square millimetre per second = one centistokes


def kelvin_from_degc(temperature_degc: float) -> float:
    """Return a Celsius reading as absolute temperature.

    >>> kelvin_from_degc(40.0)
    313.15
    """
    temperature_k = temperature_degc + ZERO_CELSIUS_K
    if not (temperature_k > 0.0 and math.isfinite(temperature_k)):
        raise OutOfRange(
            "temperature_degc",
            temperature_degc,
            "above absolute zero (-273.15 degC)",
            "check the sign and the scale",
        )
    return temperature_k


def degc_from_kelvin(temperature_k: float) -> float:
    """Return an absolute temperature as a Celsius reading."""
    return temperature_k - ZERO_CELSIUS_K


def kelvin_from_degf(temperature_degf: float) -> float:
    """Return a Fahrenheit reading as absolute temperature.

    >>> round(kelvin_from_degf(212.0), 9)
    373.15
    """
    return kelvin_from_degc((temperature_degf - 32.0) * DEGREE_FAHRENHEIT_K)


def absolute_pa_from_gauge_bar(
    pressure_bar: float, *, atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
) -> float:
    """Return a gauge reading as absolute pressure, for a stated atmosphere.

    >>> absolute_pa_from_gauge_bar(60.0)
    6101325.0
    """
    pressure_abs_pa = pressure_bar * BAR_PA + atmosphere_pa
    if not (pressure_abs_pa >= 0.0 and math.isfinite(pressure_abs_pa)):
        raise OutOfRange(
            "pressure_bar",
            pressure_bar,
            f"at least {-atmosphere_pa / BAR_PA:.5f} bar gauge (a perfect vacuum)",
            "check the sign of the reading",
        )
    return pressure_abs_pa


def gauge_bar_from_absolute_pa(
    pressure_abs_pa: float, *, atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
) -> float:
    """Return an absolute pressure as the reading of a gauge, for a stated atmosphere."""
    return (pressure_abs_pa - atmosphere_pa) / BAR_PA
