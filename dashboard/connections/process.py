"""What a program that serves with several threads sets for itself."""

from __future__ import annotations

import ctypes
import sys
from contextlib import suppress
from typing import Final

SWITCH_S: Final = 0.001
"""Longest time for which a computing thread keeps the interpreter from a quick request."""

_MOST_ARENAS: Final = -8
"""The option ``M_ARENA_MAX`` of glibc."""


def prepare_for_threads() -> None:
    """Let quick requests interrupt expensive ones, and let threads share the memory they free.

    By default glibc gives every thread memory of its own, which stays with it; a server that computes in all
    of its threads then needs several times the memory of one computation. Elsewhere nothing is set.
    """
    sys.setswitchinterval(SWITCH_S)
    with suppress(OSError, AttributeError):
        ctypes.CDLL("libc.so.6").mallopt(_MOST_ARENAS, 2)
