"""What a serving program sets for itself."""

from __future__ import annotations

import ctypes
import sys
from typing import TYPE_CHECKING

from dashboard.connections import prepare_for_threads
from dashboard.connections.process import SWITCH_S

if TYPE_CHECKING:
    import pytest


class Library:
    """Stands in for the C library and notes what is set."""

    def __init__(self) -> None:
        self.options: dict[int, int] = {}

    def mallopt(self, option: int, value: int) -> int:
        """Note an option."""
        self.options[option] = value
        return 1


def test_threads_share_memory_and_take_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two pools of memory (the option -8 of glibc), and a short turn for each thread."""
    library, turns = Library(), list[float]()
    monkeypatch.setattr(ctypes, "CDLL", lambda _: library)
    monkeypatch.setattr(sys, "setswitchinterval", turns.append)
    prepare_for_threads()
    assert library.options == {-8: 2}
    assert turns == [SWITCH_S]


def test_a_system_without_this_c_library_is_served_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing fails where there is none, or where it has no such option."""

    def none(_: str) -> object:
        raise OSError

    monkeypatch.setattr(sys, "setswitchinterval", lambda _: None)
    for library in (none, lambda _: object()):
        monkeypatch.setattr(ctypes, "CDLL", library)
        prepare_for_threads()
