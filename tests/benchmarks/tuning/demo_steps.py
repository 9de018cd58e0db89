"""The integration of the demo's solver in compiled code, for a benchmark that runs thousands of decks.

The right-hand sides are those of the demo itself: its functions are compiled as they stand. The method, its
steps and the search for the change of a contact are those of ``scipy.integrate.solve_ivp`` as
``demo_pairs.solver.stepping`` calls it, so that the results are the same but for rounding, far below the last
digit that is written.
"""

from __future__ import annotations

import math
from collections import namedtuple
from contextlib import ExitStack, contextmanager
from functools import cache
from inspect import getclosurevars
from types import FunctionType
from typing import TYPE_CHECKING, Any, Final, TypeVar, cast
from unittest.mock import patch

import numpy as np
from numba import njit
from scipy.integrate import RK45

from demo_pairs.solver import laws
from demo_pairs.solver.deck import UNITS
from demo_pairs.solver.models import head, knee, neck, seat, thorax
from demo_pairs.solver.stepping import MOST_EVALUATIONS, MOST_LEGS, STEP, TOLERANCE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

F = TypeVar("F")

MODELS: Final = (head, knee, neck, seat, thorax)
DONE, CHANGED, TOO_SMALL, TOO_MANY = 0, 1, 2, 3
A, B, C, E, P = RK45.A, RK45.B, RK45.C, RK45.E, RK45.P
LEAST_TOLERANCE: Final = TOLERANCE * 1e-2


def quick(function: F) -> F:
    """Compile a function; nothing is kept on disk, where a change of the demo would not be noticed."""
    return cast("F", njit(function))


def taken_over(function: Callable[..., Any], **names: Any) -> Any:
    """Compile a function of the demo; arguments that must be named become ordinary ones."""
    code = function.__code__
    count = code.co_argcount + code.co_kwonlyargcount
    flat = code.replace(co_argcount=count, co_kwonlyargcount=0)
    return quick(FunctionType(flat, function.__globals__ | names, function.__name__))


LAWS: Final = {
    name: taken_over(one)
    for name, one in vars(laws).items()
    if isinstance(one, FunctionType) and one.__module__ == laws.__name__
}
Cards = namedtuple("Cards", UNITS)  # type: ignore[misc]  # noqa: PYI024 - fields come from the demo
Bending = namedtuple("Bending", "facing lower upper hardening deceleration")  # noqa: PYI024 - compiled code takes it
Moved = namedtuple("Moved", "accelerations base upper")  # noqa: PYI024

skin_force = taken_over(head.skin_force, **LAWS)
knee_forces = taken_over(knee.forces, **LAWS)
thorax_forces = taken_over(thorax.forces, **LAWS)
seat_forces = taken_over(seat.forces, **LAWS)
seat_pulse = taken_over(seat.pulse)
neck_move = taken_over(neck._move, _lead=taken_over(neck._lead), _Moved=Moved, **LAWS)


@quick
def head_rates(state: Floats, closed: bool, _time: float, given: Any, found: Floats) -> None:
    """Set the rates of the head drop."""
    force = skin_force(state[0], state[1], given[0]) if closed else 0.0
    found[0] = state[1]
    found[1] = head.GRAVITY - force / head.MASS


@quick
def head_depth(state: Floats, _time: float, _given: Any) -> float:
    """Return the depth of the contact."""
    return float(state[0])


@quick
def knee_rates(state: Floats, closed: bool, _time: float, given: Any, found: Floats) -> None:
    """Set the rates of the knee impact."""
    contact, femur = knee_forces((state[0], state[1], state[2], state[3]), given[0], closed)
    found[:2] = state[2:]
    found[2] = -contact / knee.PROBE_MASS
    found[3] = (contact - femur) / knee.KNEE_MASS


@quick
def thorax_rates(state: Floats, closed: bool, _time: float, given: Any, found: Floats) -> None:
    """Set the rates of the thorax impact."""
    values = (state[0], state[1], state[2], state[3], state[4], state[5])
    foam, ribs = thorax_forces(values, given[0], closed)
    found[:3] = state[3:]
    found[3] = -foam / thorax.PROBE_MASS
    found[4] = (foam - ribs) / thorax.STERNUM_MASS
    found[5] = ribs / thorax.SPINE_MASS


@quick
def probe_depth(state: Floats, _time: float, _given: Any) -> float:
    """Return the depth of the contact between the first two bodies."""
    return float(state[0] - state[1])


@quick
def seat_rates(state: Floats, closed: bool, time: float, given: Any, found: Floats) -> None:
    """Set the rates of the seat drop."""
    _, speed, rise = seat_pulse(time, given[1])
    values = (state[0], state[1], state[2], state[3], state[4], state[5])
    cushion, lumbar, joint = seat_forces(values, (rise, speed), given[0], closed)
    found[:3] = state[3:]
    found[3] = (cushion - lumbar) / seat.PELVIS_MASS
    found[4] = (lumbar - joint) / seat.TORSO_MASS
    found[5] = joint / seat.HEAD_MASS


@quick
def seat_depth(state: Floats, time: float, given: Any) -> float:
    """Return the depth of the contact."""
    return float(seat_pulse(time, given[1])[2] - state[0])


@quick
def neck_rates(state: Floats, _closed: bool, time: float, given: Any, found: Floats) -> None:
    """Set the rates of the neck pendulum."""
    moved = neck_move((state[0], state[1], state[2], state[3]), time, given[1], given[0])
    found[:2] = state[2:]
    found[2], found[3] = moved.accelerations


@quick
def no_depth(_state: Floats, _time: float, _given: Any) -> float:
    """Return a depth that never changes."""
    return -1.0


KERNELS: Final = {
    head.__name__: (head_rates, head_depth),
    knee.__name__: (knee_rates, probe_depth),
    neck.__name__: (neck_rates, no_depth),
    seat.__name__: (seat_rates, seat_depth),
    thorax.__name__: (thorax_rates, probe_depth),
}


@cache
def bending(direction: neck.Direction) -> Any:
    """Return a direction of the neck in a form that compiled code takes."""
    times, heights = np.array(direction.pulse).T
    scale = direction.scale

    @quick
    def deceleration(time: float) -> float:
        for row in range(len(times) - 1):
            if time < times[row + 1]:
                share = (heights[row + 1] - heights[row]) * (time - times[row])
                return float(scale * (heights[row] + share / (times[row + 1] - times[row])))
        return 0.0

    return Bending(direction.facing, direction.lower, direction.upper, direction.hardening, deceleration)


@quick
def interpolated(share: float, step: float, old: Floats, dense: Floats) -> Floats:
    """Return the state within a step."""
    powers = share ** np.arange(1.0, 5.0)
    return old + step * (dense @ powers)


@quick
def tried(
    rates: Any, given: Any, closed: bool, time: float, step: float, state: Floats, stages: Floats
) -> tuple[Floats, float]:
    """Fill in the stages of one step; return the state after it and its error relative to the tolerance."""
    for stage in range(1, 6):
        moved = state + step * (A[stage, :stage] @ stages[:stage])
        rates(moved, closed, time + C[stage] * step, given, stages[stage])
    new = state + step * (B @ stages[:6])
    rates(new, closed, time + step, given, stages[6])
    scale = LEAST_TOLERANCE + np.maximum(np.abs(state), np.abs(new)) * TOLERANCE
    return new, float(np.linalg.norm(step * (E @ stages) / scale)) / math.sqrt(len(state))


@quick
def longer(error: float) -> float:
    """Return by how much the next step may be longer."""
    return 10.0 if error == 0.0 else min(10.0, 0.9 / error**0.2)


@quick
def change(
    depth: Any, given: Any, closed: bool, time: float, step: float, state: Floats, dense: Floats
) -> float:
    """Return when within a step the contact changes, by bisection to the last bit."""
    low, high = time, time + step
    while True:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            return high
        value = depth(interpolated((middle - time) / step, step, state, dense), middle, given)
        if (value >= 0.0) == closed:
            low = middle
        else:
            high = middle


@quick
def leg(
    rates: Any, depth: Any, given: Any, closed: bool, now: float, start: Floats, times: Floats, work: int
) -> tuple[int, float, Floats, Floats, int]:
    """Integrate until the contact changes or the last output time.

    Returns why it ended, when and in which state, the states at the output times before, and how often the
    right-hand side has been evaluated.
    """
    end, filled = times[-1], 0
    found, stages = np.empty((len(times), len(start))), np.empty((7, len(start)))
    state, time, length = start.copy(), now, min(STEP, end - now)
    rates(state, closed, time, given, stages[6])
    work += 1
    before = depth(state, time, given)
    while time < end:
        least = 10.0 * abs(np.nextafter(time, np.inf) - time)
        length = min(max(length, least), STEP)
        stages[0] = stages[6]
        most = 10.0
        while True:
            if length < least:
                return TOO_SMALL, time, state, found[:filled], work
            new_time = min(time + length, end)
            step = new_time - time
            new, error = tried(rates, given, closed, time, step, state, stages)
            work += 6
            if work > MOST_EVALUATIONS:
                return TOO_MANY, time, state, found[:filled], work
            if error < 1.0:
                length = step * min(most, longer(error))
                break
            # A step whose error is no number is made shorter too.
            length = step * max(0.2, 0.9 / error**0.2)
            most = 1.0
        dense = np.ascontiguousarray(stages.T) @ P
        after = depth(new, new_time, given)
        changed = before >= 0.0 >= after if closed else before <= 0.0 <= after
        reached = change(depth, given, closed, time, step, state, dense) if changed else new_time
        while filled < len(times) and times[filled] <= reached:
            found[filled] = interpolated((times[filled] - time) / step, step, state, dense)
            filled += 1
        if changed:
            there = interpolated((reached - time) / step, step, state, dense)
            return CHANGED, reached, there, found[:filled], work
        state, time, before = new, new_time, after
    return DONE, time, state, found[:filled], work


def advance(
    rates: Any, start: Floats, times: Floats, *, depth: Any = None
) -> tuple[Floats, NDArray[np.bool_]]:
    """Integrate as the function of the same name of ``demo_pairs.solver.stepping`` does."""
    kernel, depth_kernel = KERNELS[rates.__module__]
    seen = getclosurevars(rates).nonlocals
    cards = Cards(*(getattr(seen["materials"], name) for name in UNITS))
    given = (cards, bending(seen["direction"]) if "direction" in seen else seen.get("peak", 0.0))
    states, flags = np.empty((len(times), len(start))), np.zeros(len(times), dtype=np.bool_)
    filled, now, state, closed, work = 0, float(times[0]), start, depth is not None, 0
    for _ in range(MOST_LEGS):
        why, now, state, got, work = leg(
            kernel, depth_kernel, given, closed, now, state, times[filled:], work
        )
        if why not in {DONE, CHANGED} or not np.isfinite(got).all():
            raise ArithmeticError(f"the integration failed after {now:.6g} ms")
        states[filled : filled + len(got)] = got
        flags[filled : filled + len(got)] = closed
        filled += len(got)
        if why == DONE or filled == len(times):
            return states, flags
        closed = not closed
    raise ArithmeticError(f"the contact chatters at {now:.6g} ms")


@contextmanager
def compiled_steps() -> Iterator[None]:
    """Let the models of the demo integrate in compiled code."""
    with ExitStack() as stack:
        for model in MODELS:
            stack.enter_context(patch.object(model, "advance", advance))
        yield
