"""A circuit made by a program is held to the same rules as one read from a file."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.formats.texts import CIRCUIT
from ullage.circuit.network import Circuit
from ullage.circuit.parts import Line, Path
from ullage.circuit.uncertain import exact
from ullage.errors import FileFaults
from ullage.formats.circuit_file import parse_circuit


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    """Return the circuit that has everything."""
    return parse_circuit(CIRCUIT, "everything")


def test_a_circuit_that_exists_is_valid(circuit: Circuit) -> None:
    """Replacing a part by one that does not fit is refused under the circuit's name."""
    with pytest.raises(FileFaults, match=r"path\[main\]\.divert_after = 'cooler'") as caught:
        replace(
            circuit,
            paths=(replace(circuit.paths[0], divert_after="cooler"), *circuit.paths[1:]),
        )

    assert caught.value.file == "Everything at once"


def test_several_faults_come_together(circuit: Circuit) -> None:
    """A line without a size that no path uses is blamed for both."""
    with pytest.raises(FileFaults) as caught:
        replace(circuit, lines=(*circuit.lines, Line(id="loose")))

    assert [fault.key for fault in caught.value.faults] == ["line[loose]", "line[loose]"]


def test_three_thirds_are_a_whole(circuit: Circuit) -> None:
    """33.3 three times is what people write for thirds."""
    node = circuit.nodes[0]
    paths = tuple(Path(id=f"p{i}", through=(node.id,), share=exact(0.333)) for i in range(3))
    found = replace(circuit, legs=(), lines=(), nodes=(node,), paths=paths)

    assert found.paths == paths


def test_a_thermostat_may_stand_beside_the_whole(circuit: Circuit) -> None:
    """100 % always open and 40 % more when warm is a way to write it, as is 60 and 40."""
    main, spare, cooling = circuit.paths
    beside = (
        replace(main, share=exact(1.0)),
        spare,
        replace(cooling, share=exact(0.4)),
    )

    assert replace(circuit, paths=beside).paths == beside


def test_a_dead_end_has_no_share(circuit: Circuit) -> None:
    """What cannot flow back does not count into the whole."""
    main, spare, cooling = circuit.paths
    paths = (main, replace(spare, share=exact(0.5)), cooling)

    assert replace(circuit, paths=paths).paths == paths


def test_a_ring_over_three_paths_is_found(circuit: Circuit) -> None:
    """a before b, b before c, c before a: no two of them disagree, the three do."""
    nodes = tuple(replace(circuit.nodes[0], id=name) for name in "abc")
    paths = tuple(
        Path(id=f"p{i}", through=pair, share=exact(share))
        for i, (pair, share) in enumerate(
            zip((("a", "b"), ("b", "c"), ("c", "a")), (0.3, 0.3, 0.4), strict=True)
        )
    )
    with pytest.raises(FileFaults, match="different orders") as caught:
        replace(circuit, legs=(), lines=(), nodes=nodes, paths=paths)

    assert caught.value.faults[0].value == ["a", "b", "c"]


def test_one_side_of_a_pair_may_name_the_other_alone(circuit: Circuit) -> None:
    """The pair is complete when one of them says so."""
    legs = tuple(replace(leg, opposes=None) if leg.id == "arm-rod" else leg for leg in circuit.legs)

    assert replace(circuit, legs=legs).partner == {"arm-base": "arm-rod", "arm-rod": "arm-base"}


def test_two_legs_cannot_claim_one_side(circuit: Circuit) -> None:
    """An actuator has two sides, not three."""
    legs = tuple(
        replace(leg, opposes="arm-rod", start_share=exact(0.3)) if leg.id == "clutch" else leg
        for leg in circuit.legs
    )
    with pytest.raises(FileFaults, match=r"leg\[clutch\]\.opposes = 'arm-rod': is"):
        replace(circuit, legs=legs)
