"""Books that do not close, or that parts do not add up to, stop a run: each way on its own."""

from __future__ import annotations

import numpy as np
import pytest

from ullage.errors import NotConverged
from ullage.transport.balance import audited

TWO = np.array([1.0, 1.0])
# What two parts hold, (parts, machines).
FLUID = [[4.0, 4.0], [6.0, 6.0]]
OLD = [[1.0, 1.0], [6.0, 6.0]]


def books() -> dict[str, np.ndarray]:
    """Return the books of two machines: 10 L of old fluid, 4 L of it replaced by new."""
    return {
        "old_before_m3": 10.0 * TWO,
        "fluid_before_m3": 10.0 * TWO,
        "poured_m3": 4.0 * TWO,
        "waste_m3": 4.0 * TWO,
        "waste_old_m3": 3.0 * TWO,
        "spilled_m3": 0.0 * TWO,
        "spilled_old_m3": 0.0 * TWO,
        "left_m3": np.array([10.0 * TWO, 7.0 * TWO]),
        "parts_m3": np.array([FLUID, OLD]),
    }


def test_closed_books_are_told() -> None:
    """What went out is waste and spill together."""
    told = audited(**books())

    assert (told.old_out_m3, told.old_left_m3, told.old_error_m3) == (3.0, 7.0, 0.0)


@pytest.mark.parametrize(
    ("what", "entry", "wrong"),
    [
        ("old fluid are", "waste_old_m3", np.array([3.0, 3.1])),
        ("volume are", "poured_m3", np.array([4.0, 4.1])),
        ("old fluid by parts", "parts_m3", np.array([FLUID, [[1.0, 0.9], [6.0, 6.0]]])),
        ("volume by parts", "parts_m3", np.array([[[4.0, 4.0], [6.0, 6.1]], OLD])),
        ("less than no old fluid", "parts_m3", np.array([FLUID, [[1.0, -0.1], [6.0, 7.1]]])),
        ("more old fluid than fluid", "parts_m3", np.array([FLUID, [[0.5, 0.5], [6.5, 6.5]]])),
        ("below empty", "parts_m3", np.array([[[-1.0, -1.0], [11.0, 11.0]], OLD])),
    ],
)  # fmt: skip
def test_books_that_are_open_stop_the_run(what: str, entry: str, wrong: np.ndarray) -> None:
    """One entry off, in one machine, is enough; the message names which books."""
    with pytest.raises(NotConverged, match=what):
        audited(**books() | {entry: wrong})


def test_outflow_that_is_more_than_old_stops_the_run() -> None:
    """A bin of 0.1 L with 101 % old fluid; a bin that nothing reached is passed over."""
    share = np.array([[0.5, 0.5], [1.01, np.nan]])
    with pytest.raises(NotConverged, match="outflow"):
        audited(**books(), outflow_m3=[np.array([0.1, 0.1])], outflow_share=[share])
