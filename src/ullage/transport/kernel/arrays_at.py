"""Arrays at given addresses, inside compiled code: a table says where each one stands and how large
it is.

Four numbers an array: its address, and up to three sizes. Such arrays count no references, which
would be half of a short loop's time; whoever hands the table over holds the arrays meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ullage.transport.compiled import numba
from ullage.transport.kernel import Floats, Ints
from ullage.transport.kernel.line_records import Rows, woven

cgutils = numba.core.cgutils
types = numba.types


def _array_at(kind: Any) -> Any:
    """Return an intrinsic that takes an address and a shape for an array of a kind."""

    @numba.extending.intrinsic
    def array_at(typing_context: Any, address: Any, shape: Any) -> Any:
        array = types.Array(kind, shape.count, "C")

        def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
            view = context.make_array(array)(context, builder)
            sizes = cgutils.unpack_tuple(builder, values[1])
            step = context.get_constant(types.intp, kind.bitwidth // 8)
            steps = []
            for size in reversed(sizes):
                steps.append(step)
                step = builder.mul(step, size)
            data = builder.inttoptr(values[0], context.get_data_type(kind).as_pointer())
            numba.np.arrayobj.populate_array(
                view,
                data=data,
                shape=sizes,
                strides=steps[::-1],
                itemsize=context.get_constant(types.intp, kind.bitwidth // 8),
                meminfo=None,
            )
            return view._getvalue()

        return array(address, shape), generate

    return array_at


_floats_at: Callable[[int, tuple[int, ...]], Floats] = _array_at(types.float64)
_ints_at: Callable[[int, tuple[int, ...]], Ints] = _array_at(types.int64)
_rows_at: Callable[[int, tuple[int, ...]], Rows] = _array_at(types.uint32)


@woven
def table_at(address: int, size: int) -> Ints:
    """Return the table itself."""
    return _ints_at(address, (size,))


@woven
def number(t: Ints, i: int) -> int:
    """Return a plain number, which stands where an address would."""
    return int(t[4 * i])


@woven
def floats1(t: Ints, i: int) -> Floats:
    """Return an array (n,)."""
    return _floats_at(t[4 * i], (t[4 * i + 1],))


@woven
def floats2(t: Ints, i: int) -> Floats:
    """Return an array (n, m)."""
    return _floats_at(t[4 * i], (t[4 * i + 1], t[4 * i + 2]))


@woven
def floats3(t: Ints, i: int) -> Floats:
    """Return an array (n, m, k)."""
    return _floats_at(t[4 * i], (t[4 * i + 1], t[4 * i + 2], t[4 * i + 3]))


@woven
def ints1(t: Ints, i: int) -> Ints:
    """Return an array (n,) of whole numbers."""
    return _ints_at(t[4 * i], (t[4 * i + 1],))


@woven
def ints2(t: Ints, i: int) -> Ints:
    """Return an array (n, m) of whole numbers."""
    return _ints_at(t[4 * i], (t[4 * i + 1], t[4 * i + 2]))


@woven
def rows2(t: Ints, i: int) -> Rows:
    """Return an array (n, m) of row numbers."""
    return _rows_at(t[4 * i], (t[4 * i + 1], t[4 * i + 2]))
