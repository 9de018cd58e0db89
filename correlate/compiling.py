"""The decorators for compiled kernels."""

from __future__ import annotations

from functools import cached_property, update_wrapper
from typing import TYPE_CHECKING, Any, TypeVar, cast

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., object]")


class _Kernel:
    """A function that is compiled when it is first called; until then the compiler is not loaded."""

    def __init__(self, function: Callable[..., object]) -> None:
        self._function = function
        update_wrapper(self, function)

    def __call__(self, *arguments: object) -> object:
        """Run the machine code."""
        return self._compiled(*arguments)

    def __getattr__(self, name: str) -> Any:
        """Return the compiler's type of the function."""
        return getattr(self._compiled, name)

    @property
    def _numba_type_(self) -> Any:
        """Type by which the compiler knows it where another kernel calls it."""
        from numba import typeof  # noqa: PLC0415 - slow to load, and not every command computes

        return typeof(self._compiled)  # type: ignore[no-untyped-call]

    @cached_property
    def _compiled(self) -> Any:
        from numba import njit  # noqa: PLC0415 - slow to load, and not every command computes

        return njit(cache=True, nogil=True)(self._function)


def compiled(function: F) -> F:
    """Compile a function of arrays and numbers to machine code when it is first called.

    The code is kept on disk beside the module (or under ``NUMBA_CACHE_DIR`` where that is read-only), the
    interpreter lock is released while it runs, and no rounding is relaxed.
    """
    return cast("F", _Kernel(function))


class _Instructions:
    """Instructions for the compiler, registered when a kernel that contains them is compiled."""

    def __init__(self, typed: Callable[..., object]) -> None:
        self._typed = typed

    @cached_property
    def _numba_type_(self) -> Any:
        """Type by which the compiler knows them where a kernel calls them."""
        from numba.core.registry import cpu_target  # noqa: PLC0415 - slow to load
        from numba.extending import intrinsic  # noqa: PLC0415

        known = intrinsic(self._typed)
        context = cpu_target.typing_context
        # A kernel may be under way, whose compilation began before these were registered.
        context.refresh()
        return context.resolve_value_type(known)


def instructions(typed: Callable[..., object]) -> Callable[..., None]:
    """Let kernels call a function written as instructions for the compiler, which is loaded only then.

    Parameters
    ----------
    typed
        Takes the compiler's context and the types of all arguments; returns the types of the call and the
        function that writes the instructions.
    """
    return cast("Callable[..., None]", _Instructions(typed))
