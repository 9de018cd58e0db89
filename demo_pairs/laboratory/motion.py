"""Integration in time, stopped and restarted where a contact begins or ends."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Closed = tuple[bool, ...]
Derivative = Callable[[float, NDArray[np.float64], Closed], list[float]]
"""Time [s], state, which contacts are closed -> rates of the state."""
Event = Callable[[float, NDArray[np.float64]], float]

FIRST_STEP, LONGEST_STEP = 2.0**-16, 2.0**-11
MOST_CONTACT_CHANGES = 200


@dataclass(frozen=True, kw_only=True)
class Motion:
    """What came out of an integration.

    Attributes
    ----------
    time
        Output times [s], shape ``(n,)``.
    states
        Shape ``(variables, n)``.
    closed
        Which contacts were closed, shape ``(contacts, n)``.
    contact_changes
        When contacts began or ended [s].
    """

    time: NDArray[np.float64]
    states: NDArray[np.float64]
    closed: NDArray[np.bool_]
    contact_changes: tuple[float, ...]

    def rows(self) -> list[tuple[list[float], Closed]]:
        """Give state and closed contacts, one pair an output time."""
        return list(zip(self.states.T.tolist(), map(tuple, self.closed.T.tolist()), strict=True))


def integrate(
    derivative: Derivative,
    start: NDArray[np.float64],
    times: NDArray[np.float64],
    *,
    events: Sequence[Event] = (),
    tolerance: float = 1e-8,
) -> Motion:
    """Integrate from ``times[0]`` to ``times[-1]``, restarting at every contact change.

    Between two changes the right-hand side is told which contacts are closed, so a force that jumps
    with a contact jumps between two legs and never inside a step. A closed contact is watched for
    opening only, an open one for closing only, so that rounding at the restart is no new event.

    Parameters
    ----------
    derivative
        Right-hand side.
    start
        State at ``times[0]``.
    times
        Rising output times [s], shape ``(n,)``.
    events
        One a contact: positive in contact, zero at a change.
    tolerance
        Relative tolerance; the absolute one is a thousandth of it (SI units).

    Returns
    -------
    Motion
        States at ``times``.

    Raises
    ------
    ArithmeticError
        The integrator gave up, or contacts chatter.
    """
    from scipy.integrate import solve_ivp  # noqa: PLC0415  (slow to import)

    last = float(times[-1])
    now, state, done = float(times[0]), start, 0
    closed = tuple(event(now, state) >= 0.0 for event in events)
    columns: list[NDArray[np.float64]] = []
    flags = np.zeros((len(events), len(times)), dtype=np.bool_)
    changes: list[float] = []
    while done < len(times):
        leg: Any = solve_ivp(
            derivative,
            (now, last),
            state,
            args=(closed,),
            method=_even_steps(),
            dense_output=True,
            events=[_watch(event, opening=shut) for event, shut in zip(events, closed, strict=True)] or None,
            rtol=tolerance,
            atol=tolerance * 1e-3,
            first_step=min(FIRST_STEP, last - now),
            max_step=LONGEST_STEP,
        )
        if leg.status < 0 or len(changes) > MOST_CONTACT_CHANGES:
            raise ArithmeticError(f"the integration stopped at {leg.t[-1]:.6g} s: {leg.message}")
        now, state = float(leg.t[-1]), leg.y[:, -1]
        end = int(np.searchsorted(times, now, side="right")) if leg.status == 1 else len(times)
        if end > done:
            columns.append(leg.sol(times[done:end]))
            flags[:, done:end] = np.array(closed, dtype=np.bool_)[:, None]
        done = end
        if leg.status == 1:
            changes.append(now)
            closed = tuple(shut != bool(len(hits)) for shut, hits in zip(closed, leg.t_events, strict=True))
    return Motion(
        time=times, states=np.concatenate(columns, axis=1), closed=flags, contact_changes=tuple(changes)
    )


def _watch(event: Event, *, opening: bool) -> Callable[..., float]:
    def watched(time: float, state: NDArray[np.float64], _closed: Closed) -> float:
        return event(time, state)

    watched.terminal = True  # type: ignore[attr-defined]
    watched.direction = -1.0 if opening else 1.0  # type: ignore[attr-defined]
    return watched


@cache
def _even_steps() -> type:
    """Give an integrator whose wanted step lengths are powers of two.

    The usual step control divides by an error estimate that is mere rounding noise wherever little
    happens, so that the last bit of any number would choose the steps and change results by the size of
    the tolerance. With even steps, results differ by rounding only, and the recorded counts are the same
    on machines whose arithmetic differs in the last bit.
    """
    from scipy.integrate import DOP853  # noqa: PLC0415  (slow to import)

    class EvenSteps(DOP853):
        def _step_impl(self) -> tuple[bool, str | None]:
            # the small addend keeps exact powers of two where they are
            self.h_abs = 2.0 ** math.floor(math.log2(float(self.h_abs)) + 1e-9)
            outcome: tuple[bool, str | None] = super()._step_impl()  # type: ignore[misc]
            return outcome

    return EvenSteps
