"""The kept machine code: used where it fits, made anew where it does not, never wrong."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.unit.transport.circuits import LITRE, leg, machine
from ullage.transport import kernel
from ullage.transport.kernel import machine_code
from ullage.transport.kernel.machine_code import Code
from ullage.transport.recipe import Exchange, Exercise, Recipe
from ullage.transport.solve import simulate

CODE = Code(door="door", outside=("exp",), image=b"\x7fELF\n and more \x00\n")


@pytest.fixture
def kept() -> Path:
    """Return the file that the kernel of this process stands in."""
    path = machine_code.prepare()
    if path is None:
        pytest.skip("no place to keep machine code in")
    return path


def test_a_file_gives_back_what_was_written(tmp_path: Path) -> None:
    """Bytes of any kind survive, line ends among them."""
    machine_code.write(CODE, tmp_path / "deep" / "file")

    assert machine_code.read(tmp_path / "deep" / "file") == CODE
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["file"]


def test_a_missing_file_is_no_code(tmp_path: Path) -> None:
    """Nothing is found where nothing stands."""
    assert machine_code.read(tmp_path / "none") is None


@pytest.mark.parametrize("at", [0, 30, 100, -1])
def test_a_file_with_one_wrong_byte_is_no_code(tmp_path: Path, at: int) -> None:
    """Whether in the first line, the digest, the facts or the code itself."""
    path = tmp_path / "file"
    machine_code.write(CODE, path)
    whole = bytearray(path.read_bytes())
    whole[at] ^= 1
    path.write_bytes(bytes(whole))

    assert machine_code.read(path) is None


def test_a_file_cut_short_is_no_code(tmp_path: Path, kept: Path) -> None:
    """As a full disk leaves it."""
    path = tmp_path / "file"
    path.write_bytes(kept.read_bytes()[:-1])

    assert machine_code.read(path) is None


def test_code_that_calls_what_is_not_here_is_not_linked(kept: Path) -> None:
    """Linking it would end the process."""
    code = machine_code.read(kept)
    assert code is not None
    stranger = Code(door=code.door, outside=("no_such_function",), image=code.image)

    assert machine_code.loaded(stranger) is None


def test_the_kernel_calls_the_library_of_c_and_nothing_of_numba(kept: Path) -> None:
    """So that numba need not be there when it runs."""
    code = machine_code.read(kept)

    assert code is not None
    assert set(code.outside) <= {"exp", "expm1", "log", "memcpy", "memmove", "memset"}


def test_other_variables_of_numba_ask_for_other_code(monkeypatch: pytest.MonkeyPatch) -> None:
    """They change what numba makes."""
    before = machine_code.key()
    monkeypatch.setenv("NUMBA_CPU_NAME", "generic")

    assert machine_code.key() != before


def test_other_sources_ask_for_other_code(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A change of one equation is enough."""
    before = machine_code.key()
    here = tmp_path / "kernel"
    here.mkdir()
    for name in machine_code.SOURCES:
        source = Path(machine_code.__file__).parent / name
        (here / name).write_bytes(source.read_bytes())
    monkeypatch.setattr(machine_code, "_HERE", here)
    assert machine_code.key() == before

    with (here / "operations.py").open("a", encoding="utf-8") as file:
        file.write("# one more line\n")
    assert machine_code.key() != before


def test_a_run_from_kept_code_needs_no_numba(kept: Path) -> None:
    """Neither the books nor the answer import it, nor what numba brings along."""
    script = (
        "import sys\n"
        "from tests.unit.transport.circuits import machine\n"
        "from ullage.transport.recipe import Exchange, Recipe\n"
        "from ullage.transport.solve import simulate\n"
        "steps = (Exchange(litres_m3=1e-3),)\n"
        "simulate(machine(), Recipe(name='one litre', steps=steps))\n"
        "print(sorted({'numba', 'scipy'} & set(sys.modules)))\n"
    )
    root = Path(__file__).parents[3]

    done = subprocess.run(
        [sys.executable, "-c", script], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


@pytest.mark.slow
def test_code_made_now_and_code_from_the_file_give_the_same_bytes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The file holds what numba makes, and nothing else."""
    recipe = Recipe(
        name="cycled",
        steps=(Exchange(litres_m3=3 * LITRE, exercise=Exercise(groups=("a",), period_s=5.0)),),
    )
    circuit = machine(leg("a-left"), leg("a-right", line_l=0.3))
    kept = simulate(circuit, recipe, members=40)
    library, door = machine_code._compiled()
    fresh = machine_code._called(library.get_pointer_to_function(door))
    monkeypatch.setattr(machine_code, "_entrance", fresh)
    made = simulate(circuit, recipe, members=40)

    assert made.remaining_share.tobytes() == kept.remaining_share.tobytes()
    for name, part in kept.parts.items():
        assert made.parts[name].old_m3.tobytes() == part.old_m3.tobytes()


@pytest.mark.parametrize(
    "wrong",
    [np.zeros((4, 6))[:, ::2], np.zeros((4, 3), dtype=np.float32), np.zeros((1, 1, 1, 1))],
)
def test_arrays_that_would_be_misread_are_refused(wrong: np.ndarray) -> None:
    """The machine code sees addresses and sizes alone."""
    good = np.zeros((4, 3))

    with pytest.raises(TypeError, match="plain contiguous arrays"):
        kernel.bin_means(good, wrong, np.zeros(2), np.zeros((2, 3)))


def test_arrays_that_nobody_may_write_are_read() -> None:
    """Half of what passed was old, in a bin that is locked and in one that is not."""
    gone_m3, gone = np.array([[1.0], [2.0]]), np.array([[0.5], [1.0]])
    ends, locked = np.array([1.0, 2.0]), np.array([1.0, 2.0])
    locked.flags.writeable = False
    into = np.zeros((2, 2, 1))

    kernel.bin_means(gone_m3, gone, ends, into[0])
    kernel.bin_means(gone_m3, gone, locked, into[1])

    assert into.ravel() == pytest.approx([0.5] * 4)
