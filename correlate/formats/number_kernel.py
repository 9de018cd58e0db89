"""Compiled reading of decimal numbers, exact to the last bit.

Imported only when much text is to be read, because the compiler behind it takes a moment to load.

A number is ``w · 10^e`` with an integer ``w``. Where ``w <= 2^53`` and ``|e| <= 22`` both factors are exact
doubles, so that one multiplication or division gives the correctly rounded value [1]_. Up to 19 digits with
``-22 <= e <= 0`` the quotient is worked out to about 100 bits and used only when every value within its
error bound rounds alike (derived here). Everything else is left to the library.

Positions and digits are unsigned throughout: mixed with signed numbers they would become floating.

References
----------
.. [1] W. D. Clinger, How to read floating point numbers accurately, PLDI 1990.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypeVar, cast

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

F = TypeVar("F", bound="Callable[..., object]")

EXACT: Final = 0
LIBRARY: Final = 1
NO_NUMBER: Final = 2

_POWERS: Final = np.array([10.0**power for power in range(23)])
_LARGEST_POWER: Final = 22
_EXACT_INTEGER: Final = np.uint64(2**53)
_MOST_DIGITS: Final = 19
_MOST_EXPONENT: Final = 99_999
_NOTHING: Final = np.float64(0.0)
_NO_SHIFT: Final = np.int64(0)
_SPLITTER: Final = 2.0**27 + 1
_ERROR_BOUND: Final = 2.0**-48

_ONE, _TEN, _ZERO = np.uint64(1), np.uint64(10), np.uint64(48)
_BLANK, _TAB, _RETURN, _NEWLINE = 32, 9, 13, 10
_PLUS, _MINUS, _CAPITAL_E, _SMALL_E = 43, 45, 69, 101


def _compiled(function: F) -> F:
    """Compile; inlined, because passing arrays from function to function doubles the time."""
    return cast("F", njit(cache=True, nogil=True, inline="always")(function))


@_compiled
def _quotient(mantissa: np.uint64, divisor: np.float64) -> tuple[np.float64, np.bool]:
    """Return an integer below 2^64 over a power of ten, and whether its rounding is certain."""
    high = np.float64(mantissa)
    # The difference may be negative: it wraps around as unsigned and comes right as signed.
    low = np.float64(np.int64(mantissa - np.uint64(high)))
    first = high / divisor
    # Exact product of first and divisor by Dekker's splitting, hence the exact remainder.
    shifted = _SPLITTER * first
    first_high = shifted - (shifted - first)
    first_low = first - first_high
    shifted = _SPLITTER * divisor
    divisor_high = shifted - (shifted - divisor)
    divisor_low = divisor - divisor_high
    product = first * divisor
    lost = first_high * divisor_high - product
    lost += first_high * divisor_low + first_low * divisor_high
    lost += first_low * divisor_low
    rest = (((high - product) - lost) + low) / divisor
    slack = abs(rest) * _ERROR_BOUND
    value = first + (rest - slack)
    return value, value == first + (rest + slack)


@_compiled
def _scaled(mantissa: np.uint64, digits: np.int64, exponent: np.int64) -> tuple[np.float64, int]:
    """Return ``mantissa · 10^exponent`` and whether it is exact."""
    if digits > _MOST_DIGITS or exponent > _LARGEST_POWER or exponent < -_LARGEST_POWER:
        return _NOTHING, LIBRARY
    if mantissa <= _EXACT_INTEGER:
        if exponent < 0:
            return np.float64(mantissa) / _POWERS[-exponent], EXACT
        return np.float64(mantissa) * _POWERS[exponent], EXACT
    if exponent > 0:
        return _NOTHING, LIBRARY
    value, certain = _quotient(mantissa, _POWERS[-exponent])
    return value, EXACT if certain else LIBRARY


@_compiled
def _digits(text: NDArray[np.uint8], at: np.uint64, mantissa: np.uint64) -> tuple[np.uint64, np.uint64]:
    """Read digits on; return the position behind them and the grown mantissa."""
    digit = np.uint64(text[at]) - _ZERO
    while digit < _TEN:
        mantissa = mantissa * _TEN + digit
        at += _ONE
        digit = np.uint64(text[at]) - _ZERO
    return at, mantissa


@_compiled
def _exponent(text: NDArray[np.uint8], at: np.uint64) -> tuple[np.uint64, np.int64, np.bool]:
    """Read what stands behind an e; return position, exponent and whether it is well formed."""
    negative = text[at] == _MINUS
    if negative or text[at] == _PLUS:
        at += _ONE
    begin = at
    at, size = _digits(text, at, np.uint64(0))
    # Beyond four digits the value is zero or infinite, and the library says which.
    exponent = np.int64(_MOST_EXPONENT) if at > begin + np.uint64(4) else np.int64(size)
    return at, -exponent if negative else exponent, at > begin


@_compiled
def _number(text: NDArray[np.uint8], at: np.uint64, decimal: int) -> tuple[np.uint64, np.float64, int]:
    """Read one number; return the position behind it, its value and how it was found."""
    negative = text[at] == _MINUS
    if negative or text[at] == _PLUS:
        at += _ONE
    begin = at
    at, mantissa = _digits(text, at, np.uint64(0))
    digits = np.int64(at) - np.int64(begin)
    exponent = _NO_SHIFT
    if text[at] == decimal:
        at += _ONE
        point = at
        at, mantissa = _digits(text, at, mantissa)
        exponent = np.int64(point) - np.int64(at)
        digits -= exponent
    well_formed = digits > 0
    if text[at] == _SMALL_E or text[at] == _CAPITAL_E:
        at, shift, complete = _exponent(text, at + _ONE)
        exponent += shift
        well_formed = well_formed and complete
    if not well_formed:
        return at, _NOTHING, NO_NUMBER
    value, how = _scaled(mantissa, digits, exponent)
    return at, -value if negative else value, how


@_compiled
def _behind_blanks(text: NDArray[np.uint8], at: np.uint64, separator: int) -> np.uint64:
    while text[at] == _BLANK or text[at] == _RETURN or (text[at] == _TAB and separator != _TAB):
        at += _ONE
    return at


@_compiled
def _behind_comment(text: NDArray[np.uint8], at: np.uint64, comment: int) -> np.uint64:
    if comment != 0 and text[at] == comment:
        while text[at] != _NEWLINE:
            at += _ONE
    return at


@_compiled
def _row(  # noqa: PLR0917 - compiled code takes arguments by position
    text: NDArray[np.uint8],
    at: np.uint64,
    separator: int,
    decimal: int,
    table: NDArray[np.float64],
    row: int,
    left: NDArray[np.int64],
    waiting: int,
) -> tuple[np.uint64, int]:
    """Read one row; return the position behind it and the number of cells left, -1 when it is none."""
    for column in range(table.shape[0]):
        if column > 0:
            if text[at] != separator:
                return at, -1
            at = _behind_blanks(text, at + _ONE, separator)
        begin = at
        at, value, how = _number(text, at, decimal)
        if how == NO_NUMBER:
            return at, -1
        table[column, row] = value
        if how == LIBRARY:
            left[waiting, 0] = begin
            left[waiting, 1] = at
            left[waiting, 2] = column
            left[waiting, 3] = row
            waiting += 1
        at = _behind_blanks(text, at, separator)
    return at, waiting


@_compiled
def read_table(  # noqa: PLR0917 - compiled code takes arguments by position
    text: NDArray[np.uint8],
    separator: int,
    decimal: int,
    comment: int,
    table: NDArray[np.float64],
    left: NDArray[np.int64],
) -> tuple[int, int]:
    """Read rows of numbers.

    Parameters
    ----------
    text
        Bytes, shape ``(length,)``, the last one a line feed.
    separator, decimal, comment
        Bytes between cells, in front of decimals and in front of a comment line; 0 for none.
    table
        Filled, shape ``(columns, rows)``, with room for as many rows as there are lines.
    left
        Filled with position, end, column and row of every cell that the library must read, shape
        ``(cells, 4)``, with room for every cell.

    Returns
    -------
    rows : int
        Read; -1 when a line is no full row of numbers.
    cells : int
        Left to the library.
    """
    at = np.uint64(0)
    row = 0
    waiting = 0
    while at < np.uint64(text.size):
        at = _behind_comment(text, _behind_blanks(text, at, separator), comment)
        if text[at] != _NEWLINE:
            at, waiting = _row(text, at, separator, decimal, table, row, left, waiting)
            if waiting < 0 or text[at] != _NEWLINE:
                return -1, 0
            row += 1
        at += _ONE
    return row, waiting
