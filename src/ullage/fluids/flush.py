"""How much flow does it take to flush a line?

Turbulence takes particles and the film on the wall along; laminar flow leaves both. The Reynolds
number and its limits are ``pipe_flow``'s.
"""

# mypy: disable-error-code="overload-overlap"
# See `ullage.units.elementwise`: a number first, or else arrays.

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, overload

from ullage.fluids.pipe_flow import (
    LAMINAR_BELOW_RE,
    TURBULENT_ABOVE_RE,
    Regime,
    Regime_co,
    flow_for_reynolds_m3_s,
    regime_of,
    reynolds,
)
from ullage.units.caveat import Caveat
from ullage.units.elementwise import Number_co, caveats_where, kept

if TYPE_CHECKING:
    from ullage.units.elementwise import Array, Numbers, Objects


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushFlow(Generic[Number_co, Regime_co]):
    """The flow from which a line is flushed turbulently, and whether a given flow gets there."""

    needed_m3_s: Number_co
    given_m3_s: Number_co
    re: Number_co
    regime: Regime_co
    caveats: tuple[Caveat, ...]


@overload
def flush_flow(*, flow_m3_s: float, bore_m: float, nu_m2_s: float) -> FlushFlow: ...
@overload
def flush_flow(
    *, flow_m3_s: Numbers, bore_m: Numbers, nu_m2_s: Numbers
) -> FlushFlow[Array, Objects]: ...
def flush_flow(
    *, flow_m3_s: Numbers, bore_m: Numbers, nu_m2_s: Numbers
) -> FlushFlow[Numbers, Regime | Objects]:
    """Return the flow that flushing a line needs, beside the flow there is.

    Parameters
    ----------
    flow_m3_s : scalar or (...)
        Flow there is, 0 or more. [m3/s]
    bore_m : scalar or (...)
        Inner diameter. [m]
    nu_m2_s : scalar or (...)
        Kinematic viscosity at the coldest place of the line. [m2/s]

    Returns
    -------
    result : FlushFlow
        Flow for Reynolds number 4000, the number reached, caveats if it falls short.

    Raises
    ------
    OutOfRange
        If the flow is negative or bore or viscosity are not positive.

    Validity
    --------
    Lines of round bore. Rather thin the fluid by warming it than raise the flow.

    Source
    ------
    ``iso-23309-2016``.

    Examples
    --------
    >>> found = flush_flow(flow_m3_s=6e-3 / 60, bore_m=0.008, nu_m2_s=15e-6)
    >>> round(found.needed_m3_s * 60e3, 1), [caveat.code for caveat in found.caveats]
    (22.6, ['laminar-flush'])
    """
    re = reynolds(flow_m3_s=flow_m3_s, bore_m=bore_m, nu_m2_s=nu_m2_s)
    needed_m3_s = flow_for_reynolds_m3_s(TURBULENT_ABOVE_RE, bore_m=bore_m, nu_m2_s=nu_m2_s)
    needed_m3_s, given_m3_s, re = kept(needed_m3_s, flow_m3_s, re)
    return FlushFlow(
        needed_m3_s=needed_m3_s,
        given_m3_s=given_m3_s,
        re=re,
        regime=regime_of(re),
        caveats=caveats_where(
            (
                re < LAMINAR_BELOW_RE,
                Caveat(
                    code="laminar-flush",
                    text="The flush stays laminar: expect a film of old fluid on the walls and "
                    "particles left in place.",
                ),
            ),
            (
                (re >= LAMINAR_BELOW_RE) & (re <= TURBULENT_ABOVE_RE),
                Caveat(
                    code="transitional-flush",
                    text="The flush is not surely turbulent; warm the fluid or raise the flow.",
                ),
            ),
        ),
    )
