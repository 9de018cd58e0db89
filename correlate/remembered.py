"""Bounded caches of results in a long-running program."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Hashable

Value = TypeVar("Value")


class Remembered(Generic[Value]):
    """Cache of the most recently used values, by everything that they were computed from; thread-safe.

    Parameters
    ----------
    most
        Maximum number of values; the least recently used one is removed.

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
        """Save a value, and remove the least recently used one if there are too many."""
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > self._most:
                self._values.popitem(last=False)
