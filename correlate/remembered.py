"""Results that a long-running program keeps, so that the same question is not computed twice."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Hashable

Value = TypeVar("Value")


class Remembered(Generic[Value]):
    """The most recently used values, by everything that they were computed from; for several threads.

    Parameters
    ----------
    most
        Number of values that are kept; the one that was used longest ago makes room.

    Examples
    --------
    >>> squares = Remembered[int](2)
    >>> for number in (1, 2, 3):
    ...     squares.put(number, number**2)
    >>> squares.get(1), squares.get(3)
    (None, 9)
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._values: OrderedDict[Hashable, Value] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable) -> Value | None:
        """Return a value; None if it is not kept."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
            return self._values.get(key)

    def put(self, key: Hashable, value: Value) -> None:
        """Keep a value."""
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
