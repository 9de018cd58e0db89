"""Two anti-diagonals of warping costs in one loop of vector instructions.

Written as instructions of the compiler, because the compiler does not vectorize the loop well: a loop over
slices checks every two slices for overlap before it begins and computes the remainder cell by cell, which
together takes as long as the cells of a usual band.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.compiling import instructions

if TYPE_CHECKING:
    from collections.abc import Callable

VECTOR: Final = 8
"""Cells computed at a time."""


def _typed(  # noqa: PLR0917 - what compiled code calls has positions only
    _context: Any,
    costs: Any,
    source: Any,  # noqa: ARG001 - the compiler asks for the types of all arguments
    target: Any,  # noqa: ARG001
    pitch: Any,  # noqa: ARG001
    first: Any,
    i: Any,  # noqa: ARG001
    backwards: Any,
    j: Any,  # noqa: ARG001
    count: Any,  # noqa: ARG001
) -> Any:
    """Return the types of :data:`two_antidiagonals` and the function that writes its instructions."""
    from numba import types  # noqa: PLC0415 - slow to load, and only compiling needs it

    index = types.intp
    signature = types.void(costs, index, index, index, first, index, backwards, index, index)
    return signature, _generate


two_antidiagonals: Final[Callable[..., None]] = instructions(_typed)
"""Compute ``count`` cells, a multiple of ``VECTOR``, of two anti-diagonals from those of the two before.

Arguments: costs, source, target, pitch, first, i, backwards, j, count. Cell ``k`` of the first anti-diagonal
costs ``(first[i + k] - backwards[j + k + 1])²`` more than the least of ``costs[source + k]`` (diagonal),
``costs[source + pitch + k]`` and its neighbour ``k + 1``; cell ``k`` of the second costs
``(first[i + k] - backwards[j + k])²`` more than the least of ``costs[source + pitch + k]`` (diagonal) and
cells ``k - 1`` and ``k`` of the first. Cell ``-1`` of the first costs infinity. Results go to ``target`` and
``target + pitch``, which must not overlap the source. Indices are not checked.
"""


def _generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
    """Write the loop of :func:`two_antidiagonals`."""
    from llvmlite import ir  # noqa: PLC0415 - slow to load, and only compiling needs it
    from numba.core import cgutils  # noqa: PLC0415

    infinite = ir.Constant(_cells(), [ir.Constant(ir.DoubleType(), float("inf"))] * VECTOR)
    # Of two vectors side by side, the one that begins with the last cell of the first.
    one_back = ir.Constant(ir.VectorType(ir.IntType(32), VECTOR), list(range(VECTOR - 1, 2 * VECTOR - 1)))
    costs, first, backwards = (
        context.make_array(signature.args[place])(context, builder, arguments[place]).data
        for place in (0, 4, 6)
    )
    source, target, pitch, i, j, count = (arguments[place] for place in (1, 2, 3, 5, 7, 8))
    add = builder.add
    one = ir.Constant(count.type, 1)
    last = cgutils.alloca_once_value(builder, infinite)  # type: ignore[no-untyped-call]
    zero, step = ir.Constant(count.type, 0), ir.Constant(count.type, VECTOR)
    with cgutils.for_range_slice(builder, zero, count, step) as (k, _):
        at, other = add(source, k), add(j, k)
        up, value = _load(builder, costs, add(at, pitch)), _load(builder, first, add(i, k))
        best = _least(builder, up, _load(builder, costs, at))
        best = _least(builder, _load(builder, costs, add(add(at, pitch), one)), best)
        cell = _cost(builder, best, value, _load(builder, backwards, add(other, one)))
        before = builder.shuffle_vector(builder.load(last), cell, one_back)
        builder.store(cell, last)
        best = _least(builder, cell, _least(builder, before, up))
        place = add(target, k)
        _store(builder, cell, costs, place)
        _store(
            builder, _cost(builder, best, value, _load(builder, backwards, other)), costs, add(place, pitch)
        )
    return context.get_dummy_value()


def _cells() -> Any:
    """Return the type of the cells computed at a time."""
    from llvmlite import ir  # noqa: PLC0415 - slow to load, and only compiling needs it

    return ir.VectorType(ir.DoubleType(), VECTOR)


def _place(builder: Any, array: Any, index: Any) -> Any:
    return builder.bitcast(builder.gep(array, [index]), _cells().as_pointer())


def _load(builder: Any, array: Any, index: Any) -> Any:
    loaded = builder.load(_place(builder, array, index))
    loaded.align = 8
    return loaded


def _store(builder: Any, cells: Any, array: Any, index: Any) -> None:
    builder.store(cells, _place(builder, array, index), align=8)


def _least(builder: Any, one: Any, other: Any) -> Any:
    """Return ``one`` where it is less, else ``other``: one instruction, as no cost is "not a number"."""
    return builder.select(builder.fcmp_ordered("<", one, other), one, other)


def _cost(builder: Any, best: Any, value: Any, other: Any) -> Any:
    difference = builder.fsub(value, other)
    return builder.fadd(best, builder.fmul(difference, difference))
