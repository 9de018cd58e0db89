"""The one decorator for compiled kernels."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar, cast

from numba import njit

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., object]")


def compiled(function: F) -> F:
    """Compile a function of arrays and numbers to machine code when it is first called.

    The code is kept on disk beside the module (or under ``NUMBA_CACHE_DIR`` where that is read-only), the
    interpreter lock is released while it runs, and no rounding is relaxed.
    """
    return cast("F", njit(cache=True, nogil=True)(function))
