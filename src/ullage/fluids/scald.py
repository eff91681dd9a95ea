"""How long may skin meet a hot liquid?

A printed table for water-like liquids; oil gives its heat away more slowly, but clings. The answers
are always on the safe side of the table, never between its rows.
"""

from __future__ import annotations

from dataclasses import dataclass

from ullage.fluids.tables import load_table
from ullage.units.bounds import bounded
from ullage.units.convert import ZERO_CELSIUS_K

INDUSTRIAL_CONTACT_S = 5.0  # ASTM C1055-03, 1.4: design contact time, trained people
CONSUMER_CONTACT_S = 60.0  # the same: everybody


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaldTime:
    """Seconds to a burn of the second and of the third degree."""

    second_degree_s: float
    third_degree_s: float


def scald_time(*, temperature_k: float) -> ScaldTime:
    """Return how long skin stands a hot liquid before it burns.

    Parameters
    ----------
    temperature_k : scalar
        Liquid, 318.15 K (45 degC) to 573.15 K (300 degC). [K]

    Returns
    -------
    time : ScaldTime
        Seconds of the next hotter row of the table. [s]

    Raises
    ------
    OutOfRange
        If the temperature is below the first row, where the table is silent, or absurd.

    Validity
    --------
    Healthy adult skin fully covered; children burn several times faster. Above the last row its
    time of about a second is returned: burns are immediate there.

    Source
    ------
    Table derived from Moritz and Henriques 1947 (``moritz-henriques-1947``).

    Examples
    --------
    >>> scald_time(temperature_k=333.15)
    ScaldTime(second_degree_s=3.0, third_degree_s=5.0)
    """
    table = load_table("scald")
    temperatures = table.numbers("temperature_degc")
    bounded(
        "temperature_k",
        temperature_k,
        low=temperatures[0] + ZERO_CELSIUS_K,
        high=300.0 + ZERO_CELSIUS_K,
        unit="K",
        advice="below 45 degC the table is silent; hours of contact still burn",
    )
    temperature_degc = temperature_k - ZERO_CELSIUS_K
    row = next(
        # A ten-millionth of a degree of room: 60 degC through kelvin must find its own row.
        (place for place, known in enumerate(temperatures) if known >= temperature_degc - 1e-7),
        len(temperatures) - 1,
    )
    return ScaldTime(
        second_degree_s=table.numbers("second_degree_s")[row],
        third_degree_s=table.numbers("third_degree_s")[row],
    )
