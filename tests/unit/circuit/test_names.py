"""Names are plain, and a misspelt one finds its neighbour."""

from __future__ import annotations

import pytest

from ullage.circuit.names import did_you_mean, is_name, nearest


@pytest.mark.parametrize("text", ["a", "front-left", "2nd", "x1-y2"])
def test_a_name_may_have_letters_digits_hyphens(text: str) -> None:
    """What people write on masking tape."""
    assert is_name(text)


@pytest.mark.parametrize("text", ["", "-a", "Front", "front left", "front_left", "vorne-ü", "a\n"])
def test_a_name_may_have_nothing_else(text: str) -> None:
    """No capitals, spaces, underscores or letters that a keyboard may lack."""
    assert not is_name(text)


def test_the_nearest_name_is_proposed() -> None:
    """Swapped letters and capitals still find it."""
    assert nearest("retrun", ["return", "supply"]) == "return"
    assert nearest("SUPPLY", ["return", "supply"]) == "supply"


def test_nothing_near_is_not_proposed() -> None:
    """A wild guess would be worse than none."""
    assert did_you_mean("xyz", ["return", "supply"], otherwise="leave it out") == "leave it out"
