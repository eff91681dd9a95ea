"""Do viscosity law, index and mixing rules give the figures of the petroleum standards?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.outside.rows import OutsideRow, label, rows_from_expected
from ullage.fluids.blend import BlendRule, blend_nu_m2_s, blending_number
from ullage.fluids.viscosity import WaltherLine, ZForm, nu_from_z, walther_line, z_from_nu
from ullage.fluids.viscosity_index import index_references, viscosity_index


def line(i: Any) -> WaltherLine:
    """Return the short-form line through the points at 40 and 100 degC."""
    return walther_line(
        t1_k=40.0 + i["zero_k"],
        nu1_m2_s=i["nu40_mm2_s"] * 1e-6,
        t2_k=100.0 + i["zero_k"],
        nu2_m2_s=i["nu100_mm2_s"] * 1e-6,
        form=ZForm.SIMPLE,
    )


def index(i: Any) -> Any:
    """Return our viscosity index with its parts."""
    return viscosity_index(nu40_m2_s=i["nu40_mm2_s"] * 1e-6, nu100_m2_s=i["nu100_mm2_s"] * 1e-6)


OURS = {
    "walther_a": lambda i: line(i).a,
    "walther_b": lambda i: line(i).b,
    "walther_nu": lambda i: line(i).nu_m2_s(i["t_degc"] + i["zero_k"]) * 1e6,
    "z_medium": lambda i: z_from_nu(i["nu_mm2_s"] * 1e-6),
    "z_full": lambda i: z_from_nu(i["nu_mm2_s"] * 1e-6, ZForm.FULL),
    "z_there_and_back": lambda i: nu_from_z(z_from_nu(i["nu_mm2_s"] * 1e-6)) * 1e6,
    "vi": lambda i: index(i).index,
    "vi_rounded": lambda i: index(i).rounded,
    "vi_low": lambda i: index_references(i["nu100_mm2_s"] * 1e-6)[0] * 1e6,
    "vi_high": lambda i: index_references(i["nu100_mm2_s"] * 1e-6)[1] * 1e6,
    "blend": lambda i: (
        blend_nu_m2_s(
            nu_m2_s=[nu * 1e-6 for nu in i["nu_mm2_s"]],
            fractions=i["fractions"],
            rule=BlendRule(i["rule"]),
        )
        * 1e6
    ),
    "blending_number": lambda i: blending_number(i["nu_mm2_s"] * 1e-6),
}


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return rows_from_expected(Path(__file__).parent, OURS)


@pytest.mark.parametrize("row", rows(), ids=label)
def test_astm_petroleum(row: OutsideRow) -> None:
    """Viscosity, index and mixtures agree with the standards' own figures."""
    row.check()
