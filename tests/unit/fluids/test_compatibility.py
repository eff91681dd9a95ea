"""Families, seals and brake fluids: what may meet what, and what stops a job."""

from __future__ import annotations

from itertools import product

import pytest

from ullage.errors import Incompatible, NotFound
from ullage.fluids.compatibility import (
    Fit,
    brake_fluid,
    fluid_class,
    fluid_classes,
    mixing,
    require_mixable,
    seal_verdicts,
)

NAMES = [known.name for known in fluid_classes()]


def test_an_unknown_fluid_stops_the_job() -> None:
    """Nothing is guessed about it, in any of the questions."""
    for ask in (fluid_class, lambda name: mixing("HM", name), lambda name: seal_verdicts(name, [])):
        with pytest.raises(Incompatible, match="must be known"):
            ask("Unknown")


def test_a_class_that_does_not_exist_lists_those_that_do() -> None:
    """A slip of the pen is not an unknown fluid."""
    with pytest.raises(NotFound, match="HM"):
        fluid_class("HX")


def test_mixing_does_not_depend_on_the_order() -> None:
    """Old into new is new into old, and every verdict has a reason and a source."""
    for first, second in product(NAMES, NAMES):
        verdict = mixing(first, second)

        assert verdict == mixing(second, first)
        assert verdict.why
        assert verdict.source


def test_brake_fluid_and_mineral_oil_never_meet() -> None:
    """In either direction, and the refusal says why."""
    with pytest.raises(Incompatible, match="ruins the seals"):
        require_mixable("BRAKE-GLYCOL", "HM")
    with pytest.raises(Incompatible):
        require_mixable("ATF", "BRAKE-GLYCOL")


def test_a_pair_that_nobody_described_may_not_meet() -> None:
    """Silence of the table is no permission."""
    assert mixing("HFDR", "BRAKE-SILICONE").fit is Fit.NEVER


def test_mineral_oils_of_different_classes_mix() -> None:
    """Anti-wear into multigrade is one family."""
    assert require_mixable("HM", "HV").fit is Fit.GOOD


def test_an_ester_circuit_may_keep_little_mineral_oil() -> None:
    """Allowed with a condition, which names where the limit stands."""
    verdict = mixing("HM", "HEES")

    assert verdict.fit is Fit.CONDITIONAL
    assert verdict.source == "iso-15380-2016"


@pytest.mark.parametrize(
    ("fluid", "elastomer", "fit"),
    [
        ("HM", "EPDM", Fit.NEVER),
        ("BRAKE-GLYCOL", "EPDM", Fit.GOOD),
        ("BRAKE-GLYCOL", "NBR", Fit.NEVER),
        ("HFDR", "NBR", Fit.NEVER),
        ("HFDR", "EPDM", Fit.GOOD),
        ("HEES", "nbr", Fit.CONDITIONAL),
        ("HFC", "NBR", Fit.GOOD),
    ],
)
def test_seals_that_matter(fluid: str, elastomer: str, fit: Fit) -> None:
    """The pairs whose confusion costs a set of seals."""
    (verdict,) = seal_verdicts(fluid, [elastomer])

    assert verdict.fit is fit


@pytest.mark.parametrize("name", NAMES)
def test_every_class_has_a_verdict_on_common_seals(name: str) -> None:
    """No class falls through the table, but for silicone, of which little is known."""
    elastomers = ["EPDM", "SBR"] if name == "BRAKE-SILICONE" else ["NBR", "HNBR", "FKM", "EPDM"]

    assert len(seal_verdicts(name, elastomers)) == len(elastomers)


def test_a_seal_without_a_verdict_is_not_good_by_silence() -> None:
    """The error lists the elastomers that are known for the family."""
    with pytest.raises(NotFound, match="NBR, HNBR, FKM, EPDM"):
        seal_verdicts("HM", ["PTFE"])


def test_wet_brake_fluid_boils_earlier() -> None:
    """For every fluid of the table."""
    for name in ("DOT 3", "DOT 4", "DOT 5", "DOT 5.1", "ISO 4925 class 6"):
        fluid = brake_fluid(name)

        assert fluid.wet_boiling_min_k < fluid.dry_boiling_min_k
    with pytest.raises(NotFound, match=r"DOT 5\.1"):
        brake_fluid("DOT 6")
