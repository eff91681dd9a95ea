"""Do sRGB and the colours of our glasses agree with a program for colour science?"""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from tests.outside.rows import OutsideRow, label
from ullage.fluids.colour_scale import (
    chromaticity_from_judd,
    d1500_from_tristimulus,
    d1500_glass,
    gardner_glass,
)
from ullage.fluids.optics import linear_from_srgb, srgb_from_linear
from ullage.fluids.tables import load_table

with warnings.catch_warnings():
    # The program warns at import about optional packages that we don't use.
    warnings.simplefilter("ignore")
    import colour

WHITE_C = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]


def row(
    subject: str, quantity: str, ours: float, theirs: float, tolerance: float, reason: str
) -> OutsideRow:
    """Return a code row that the program computed."""
    return OutsideRow(
        subject=subject,
        quantity=quantity,
        ours=ours,
        theirs=theirs,
        tolerance=tolerance,
        source="colour-science 0.4.7",
        provenance="library",
        kind="code, library",
        reason=reason,
    )


def srgb_rows() -> list[OutsideRow]:
    """Compare encoding and decoding, either side of the straight part."""
    found = []
    for value in (0.0, 0.0031, 0.0032, 0.02, 0.18, 0.5, 1.0):
        encoded = float(colour.models.eotf_inverse_sRGB(value))
        decoded = float(colour.models.eotf_sRGB(value))
        found += [
            row(
                "sRGB", f"encode {value:g} [-]", srgb_from_linear(value), encoded, 1e-9, "rounding"
            ),
            row(
                "sRGB", f"decode {value:g} [-]", linear_from_srgb(value), decoded, 1e-9, "rounding"
            ),
        ]
    return found


def white_rows() -> list[OutsideRow]:
    """Compare the white of the Gardner scale, and that of the petroleum colour."""
    first = gardner_glass(0)
    x, y, z = 100.0 * colour.xyY_to_XYZ([*WHITE_C, 1.0])
    # A colourless sample has the colour 0.25 by the formula, whatever its tristimulus values.
    white = d1500_from_tristimulus(x=float(x), y=float(y), z=float(z)).value
    return [
        row("illuminant C", "x [-]", first.x, float(WHITE_C[0]), 1e-4, "four digits in print"),
        row("illuminant C", "y [-]", first.y, float(WHITE_C[1]), 1e-4, "four digits in print"),
        row("illuminant C", "petroleum colour [-]", white, 0.25, 1e-3, "digits of the white"),
    ]


def matrix_rows() -> list[OutsideRow]:
    """Solve the matrix of the triangle of 1935 with numpy instead of by hand."""
    matrix = np.array([[3.1956, 2.4478, -0.1434], [-2.5455, 7.0492, 0.9963], [0.0, 0.0, 1.0]])
    found = []
    for shares in ((0.489, 0.475, 0.036), (0.736, 0.264, 0.0), (0.3, 0.3, 0.4)):
        ours = chromaticity_from_judd(
            red_share=shares[0], green_share=shares[1], blue_share=shares[2], luminance_share=0.5
        )
        x, y, _ = colour.XYZ_to_xyY(np.linalg.solve(matrix, shares))
        found += [
            row("triangle of 1935", f"x of {shares} [-]", ours.x, float(x), 1e-9, "rounding"),
            row("triangle of 1935", f"y of {shares} [-]", ours.y, float(y), 1e-9, "rounding"),
        ]
    return found


def glass_rows() -> list[OutsideRow]:
    """Ask for the petroleum colour of the scale's own glasses.

    Half a unit in the third digit of the blue share moves the answer by the logarithm of what is
    left of it; the rest of the tolerance is for the other coordinates.
    """
    found = []
    blues = dict(
        zip(*(load_table("d1500").numbers(c) for c in ("colour", "blue_share")), strict=True)
    )
    for number in (1.0, 2.0, 3.0, 3.5, 4.0, 4.5):
        glass = d1500_glass(number)
        x, y, z = 100.0 * colour.xyY_to_XYZ([glass.x, glass.y, glass.luminance_share])
        found.append(
            OutsideRow(
                subject="petroleum colour",
                quantity=f"glass {number:g} of D1500 by D6045 [-]",
                ours=d1500_from_tristimulus(x=float(x), y=float(y), z=float(z)).value,
                theirs=number,
                tolerance=0.04 - 0.8695 * math.log10(1.0 - 0.0005 / blues[number]),
                source="ASTM D1500 and D6045 against each other, by colour-science 0.4.7",
                provenance="library",
                kind="model, one standard against another",
                reason="the blue share is printed to 0.001; the other coordinates add 0.04",
            )
        )
    return found


def rows() -> list[OutsideRow]:
    """Return our figures beside theirs."""
    return [*srgb_rows(), *white_rows(), *matrix_rows(), *glass_rows()]


@pytest.mark.parametrize("row", rows(), ids=label)
def test_agrees(row: OutsideRow) -> None:
    """Ours and theirs agree within the tolerance of the row."""
    row.check()
