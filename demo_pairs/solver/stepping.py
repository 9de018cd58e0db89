"""Integration of one model: legs with the contact closed or open, split where it changes."""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Rates = Callable[[Array, bool, float], list[float]]
"""State, whether the contact is closed, time [ms] -> rates of the state."""
Depth = Callable[[Array, float], float]

TOLERANCE = 1e-5
STEP = 0.05
MOST_LEGS = 60
MOST_EVALUATIONS = 400_000


def advance(
    rates: Rates, start: Array, times: Array, *, depth: Depth | None = None
) -> tuple[Array, NDArray[np.bool_]]:
    """Integrate over ``times`` and say when the contact was closed.

    A contact that loses its depth opens; one that gains it closes again. Each change ends a leg of
    the integration, so the kink of the force falls between two steps and not inside one. Steps have one
    fixed length, far shorter than the tolerance asks for with sensible cards; only cards that are
    much too stiff make them shorter. Rounding noise therefore has no say in the steps.

    Parameters
    ----------
    rates
        Right-hand side.
    start
        State at ``times[0]``, in contact where the model has one.
    times
        Output times [ms], rising.
    depth
        Depth of the contact [mm] of a state at a time; ``None`` for models without contact.

    Returns
    -------
    tuple of ndarray
        States of shape ``(n, variables)`` and contact flags of shape ``(n,)``.

    Raises
    ------
    ArithmeticError
        The integration failed.
    """
    from scipy.integrate import solve_ivp  # noqa: PLC0415  (slow to import)

    counted = _with_limit(rates)
    states, flags = np.empty((len(times), len(start))), np.zeros(len(times), dtype=np.bool_)
    filled, now, state, closed = 0, float(times[0]), start, depth is not None
    for _ in range(MOST_LEGS):
        leg: Any = solve_ivp(
            counted,
            (now, float(times[-1])),
            state,
            args=(closed,),
            method="RK45",
            t_eval=times[filled:],
            events=[_change(depth, closed=closed)] if depth else None,
            rtol=TOLERANCE,
            atol=TOLERANCE * 1e-2,
            first_step=min(STEP, float(times[-1]) - now),
            max_step=STEP,
        )
        if leg.status < 0 or not np.all(np.isfinite(leg.y)):
            raise ArithmeticError(f"the integration failed after {now:.6g} ms: {leg.message}")
        got = leg.t.size
        if got:
            states[filled : filled + got] = leg.y.T
            flags[filled : filled + got] = closed
        filled += got
        if leg.status == 0 or filled == len(times):
            return states, flags
        now, state, closed = float(leg.t_events[0][0]), leg.y_events[0][0], not closed
    raise ArithmeticError(f"the contact chatters at {now:.6g} ms")


def _with_limit(rates: Rates) -> Callable[[float, Array, bool], list[float]]:
    """Count evaluations, so that cards far too stiff end the run instead of never ending it."""
    work = 0

    def counted(time: float, state: Array, closed: bool) -> list[float]:  # noqa: FBT001
        nonlocal work
        work += 1
        if work > MOST_EVALUATIONS:
            raise ArithmeticError(f"the steps became too small at {time:.6g} ms; soften the materials")
        return rates(state, closed, time)

    return counted


def _change(depth: Depth, *, closed: bool) -> Callable[..., float]:
    def event(time: float, state: Array, *_: bool) -> float:
        return depth(state, time)

    event.terminal = True  # type: ignore[attr-defined]
    event.direction = -1.0 if closed else 1.0  # type: ignore[attr-defined]
    return event
