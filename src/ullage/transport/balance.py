"""The books of a run: what was there, what came in, what went out, what is left; and whether they
close.

Every run is audited. Books that do not close are a defect of the solver, never of the input, and
no number leaves the solver then."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ullage.errors import NotConverged
from ullage.transport.result import Balance, Floats

#: Largest error of the books that a run may have, over the content.
CLOSES_WITHIN = 1e-11


def audited(
    *,
    old_before_m3: Floats,
    fluid_before_m3: Floats,
    poured_m3: Floats,
    waste_m3: Floats,
    waste_old_m3: Floats,
    spilled_m3: Floats,
    spilled_old_m3: Floats,
    left_m3: Floats,
    parts_m3: Floats,
    outflow_m3: Sequence[Floats] = (),
    outflow_share: Sequence[Floats] = (),
) -> Balance:
    """Return the books of the first member after having closed those of all members.

    Parameters
    ----------
    old_before_m3, fluid_before_m3 : (members,)
        Old fluid, and all fluid, when the run began. [m3]
    poured_m3, waste_m3, waste_old_m3, spilled_m3, spilled_old_m3 : (members,)
        What came in and went out over the whole run. [m3]
    left_m3 : (2, members)
        What the circuit holds at the end: fluid, and old fluid. [m3]
    parts_m3 : (2, parts, members)
        What each part holds at the end: fluid, and old fluid, before rounding is clipped
        away. [m3]
    outflow_m3 : steps of (bins,)
        How much each bin of outflow holds. [m3]
    outflow_share : steps of (bins, members)
        Old fluid in each bin, NaN where nothing came. [-]

    Returns
    -------
    balance : Balance
        Of member 0.

    Raises
    ------
    NotConverged
        If the books of any member are open by more than ``CLOSES_WITHIN`` of its content.

    Source
    ------
    Conservation of volume and of each species.
    """
    old_out = waste_old_m3 + spilled_old_m3
    old_error = old_before_m3 - old_out - left_m3[1]
    volume_error = fluid_before_m3 + poured_m3 - waste_m3 - spilled_m3 - left_m3[0]
    by_parts = parts_m3.sum(axis=1) - left_m3
    below = np.minimum(parts_m3, 0.0)
    books = {
        "old fluid": old_error[None, :],
        "volume": volume_error[None, :],
        "volume by parts": by_parts[:1],
        "old fluid by parts": by_parts[1:],
        "parts below empty": below[0],
        "parts with less than no old fluid": below[1],
        "parts with more old fluid than fluid": np.maximum(parts_m3[1] - parts_m3[0], 0.0),
        "outflow between new and old": np.array(
            [
                _beyond(share) * width.max()
                for width, share in zip(outflow_m3, outflow_share, strict=True)
                if width.size
            ]
        ).reshape(-1, len(old_error)),
    }
    if not np.all(np.abs(np.concatenate([*books.values()])) <= CLOSES_WITHIN * fluid_before_m3):
        wrong = {what: _worst(errors / fluid_before_m3) for what, errors in books.items()}
        what = next(what for what, worst in wrong.items() if not worst <= CLOSES_WITHIN)
        raise NotConverged(
            f"the books of {what} are open by {wrong[what]:.1e} of the content; this is a defect "
            "of the program: please report it with the circuit and recipe files",
            wrong[what],
        )
    return Balance(
        old_before_m3=float(old_before_m3[0]),
        old_out_m3=float(old_out[0]),
        old_left_m3=float(left_m3[1, 0]),
        old_error_m3=float(old_error[0]),
        volume_error_m3=float(volume_error[0]),
        poured_m3=float(poured_m3[0]),
        waste_m3=float(waste_m3[0]),
        spilled_m3=float(spilled_m3[0]),
    )


def _worst(errors: Floats) -> float:
    """Return the largest error, (rows, members)."""
    return float(np.max(np.abs(errors), initial=0.0))


def _beyond(share: Floats) -> Floats:
    """Return by how much the bins of each member lie below nothing or above all at most, (members,)
    from (bins, members); where nothing came, by nothing.
    """
    over, under = np.fmax.reduce(share) - 1.0, -np.fmin.reduce(share)
    beyond: Floats = np.fmax(np.fmax(over, under), 0.0)
    return beyond
