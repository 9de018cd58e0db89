"""Linear algebra of small matrices in one thread: several would mostly wait for each other."""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Callable

P = ParamSpec("P")
R = TypeVar("R")


def in_one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Let a function do its linear algebra in one thread.

    A surrogate solves thousands of systems of some tens of equations. On two busy cores the threads of the
    library made a batch of proposals take twelve times as long.
    """

    @wraps(function)
    def limited(*arguments: P.args, **named: P.kwargs) -> R:
        need_extra("tuning", what="a fit")
        import scipy.linalg  # noqa: F401, PLC0415 - its library must be loaded to be limited
        from threadpoolctl import threadpool_limits  # noqa: PLC0415 - slow to import, needed only here

        with threadpool_limits(limits=1, user_api="blas"):
            return function(*arguments, **named)

    return limited
