"""Repeats of a test: conditioned in the same way, aligned and averaged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import Recipe, condition
from correlate.conditioning.align import AS_RECORDED
from correlate.conditioning.time_axis import multiples_between
from correlate.display import short_repr
from correlate.errors import SettingsError, SignalError
from correlate.samples import frozen_samples, handed_over

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.reference.landmarks import Landmark
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


LARGEST_SHIFT_S: Final = 0.002
"""Repeats are moved by no more than this, s."""
MOST_ROUNDS: Final = 50
"""Rounds of moving each repeat; more than a few are never needed."""
LEAST_SAMPLES: Final = 20
"""Fewest samples that repeats are compared on."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RepeatSet:
    """Conditioned repeats of one channel on one grid.

    Attributes
    ----------
    time_s
        Shape ``(n,)``, s.
    curves
        Shape ``(k, n)``: one row per repeat, in `unit`, read-only.
    unit, channel
        Of all.
    names
        One a repeat: the file it came from.
    shifts_s
        How far each repeat was moved to later times, s; zeros when they were not aligned. Their mean is
        zero to within a step.
    signals
        The conditioned repeats, with their histories.
    landmarks
        Features that were brought to common times after the shifts, and where each repeat has them; empty
        without registration.
    """

    time_s: Floats
    curves: Floats
    unit: str
    channel: str
    names: tuple[str, ...]
    shifts_s: tuple[float, ...]
    signals: tuple[Signal, ...]
    landmarks: tuple[Landmark, ...] = ()

    def __len__(self) -> int:
        """Return the number of repeats."""
        return int(self.curves.shape[0])

    @property
    def mean(self) -> Floats:
        """Mean curve, shape ``(n,)``."""
        return np.asarray(self.curves.mean(axis=0))

    @property
    def standard_deviation(self) -> Floats:
        """Standard deviation with ``k - 1`` degrees of freedom, shape ``(n,)``; zeros for one repeat."""
        if len(self) < 2:
            return np.zeros_like(self.time_s)
        return np.asarray(self.curves.std(axis=0, ddof=1))

    @property
    def smallest(self) -> Floats:
        """Least value of all repeats, shape ``(n,)``."""
        return np.asarray(self.curves.min(axis=0))

    @property
    def largest(self) -> Floats:
        """Largest value of all repeats, shape ``(n,)``."""
        return np.asarray(self.curves.max(axis=0))


def repeat_set(
    signals: Sequence[Signal],
    recipe: Recipe = AS_RECORDED,
    *,
    largest_shift_s: float = LARGEST_SHIFT_S,
) -> RepeatSet:
    r"""Condition repeats in the same way and align them by the shifts of least summed squared difference.

    The shifts minimise :math:`\sum_{i<j} \sum_t (x_i(t - s_i) - x_j(t - s_j))^2` over whole steps, each
    within the bound, by moving one repeat after the other against the mean of the rest until none moves. The
    same samples of time are compared at every shift: repeats are read beyond the interval where they
    reach beyond it, and hold their end value where they do not.

    Parameters
    ----------
    signals
        One a repeat, of one channel.
    recipe
        How the reference side is conditioned; its interval is that of the set.
    largest_shift_s
        Bound of every shift, s; 0 leaves the repeats where they are.

    Returns
    -------
    RepeatSet

    Raises
    ------
    SignalError
        No repeat is given, one does not cover the interval, or the interval is shorter than 20 samples.
    SettingsError
        The bound is negative or not finite.
    UnitError
        The repeats measure different things.

    References
    ----------
    .. [1] Alignment by least squared difference: common practice, no source. Descent over one repeat at a
       time: derived here; every move lowers the sum, so it ends.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import Signal
    >>> def repeat(late: float) -> Signal:
    ...     time = np.arange(-0.01, 0.05, 1e-4)
    ...     pulse = np.exp(-(((time - 0.02 - late) / 0.004) ** 2))
    ...     return Signal(samples=pulse, start_s=-0.01, step_s=1e-4, unit="g", channel="ax")
    >>> found = repeat_set([repeat(0.0), repeat(0.0006), repeat(-0.0006)])
    >>> largest = float(found.standard_deviation.max())
    >>> [round(shift * 1e3, 6) for shift in found.shifts_s], round(largest, 6)
    ([0.0, -0.6, 0.6], 0.0)
    """
    if not signals:
        raise SignalError("there is no repeat", remedy="give at least one")
    if not 0 <= largest_shift_s < float("inf"):
        raise SettingsError(
            f"the largest shift is {largest_shift_s!r} s", remedy="give a number of seconds, 0 or more"
        )
    unit = recipe.unit or signals[0].unit
    treated = [condition(signal, recipe.for_reference(unit)) for signal in signals]
    first, last = _shared_grid(treated, recipe)
    reach = int(largest_shift_s / recipe.step_s * (1 + 1e-9))
    wide = np.stack([_wide(signal, first, last, reach, recipe.step_s) for signal in treated])
    moves = _best_moves(wide, reach)
    curves = np.stack([_moved(row, move, reach) for row, move in zip(wide, moves, strict=True)])
    curves.flags.writeable = False
    return RepeatSet(
        time_s=frozen_samples(
            handed_over(recipe.step_s * np.arange(first, last + 1, dtype=np.float64)), channel="time"
        ),
        curves=curves,
        unit=unit,
        channel=signals[0].channel,
        names=tuple(signal.source.file for signal in signals),
        shifts_s=tuple(float(move * recipe.step_s) for move in moves),
        signals=tuple(treated),
    )


def _shared_grid(signals: Sequence[Signal], recipe: Recipe) -> tuple[int, int]:
    start_s = max(signal.start_s for signal in signals)
    end_s = min(signal.end_s for signal in signals)
    wanted = (
        start_s if recipe.start_s is None else recipe.start_s,
        end_s if recipe.end_s is None else recipe.end_s,
    )
    shared = multiples_between(start_s, end_s, recipe.step_s)
    first, last = multiples_between(*wanted, recipe.step_s)
    if first < shared[0] or last > shared[1]:
        short = next(item for item in signals if item.start_s > wanted[0] or item.end_s < wanted[1])
        raise SignalError(
            f"the interval {wanted[0]:.6g} s to {wanted[1]:.6g} s reaches beyond the data",
            where=short.place,
            remedy=f"choose one within {start_s:.6g} s to {end_s:.6g} s, which all repeats cover",
        )
    if last - first + 1 < LEAST_SAMPLES:
        raise SignalError(
            f"the repeats share {max(last - first + 1, 0)} samples, fewer than {LEAST_SAMPLES}",
            where=signals[0].place,
            remedy="choose a longer interval or a smaller time step",
        )
    return first, last


def _wide(signal: Signal, first: int, last: int, reach: int, step_s: float) -> Floats:
    """Return the samples of the interval and `reach` more on either side, end values held."""
    own_first = round(signal.start_s / step_s)
    index = np.arange(first - reach, last + reach + 1) - own_first
    return signal.samples[np.clip(index, 0, len(signal) - 1)]


def _moved(row: Floats, move: int, reach: int) -> Floats:
    """Return the interval of a wide row after moving it to later times by so many steps."""
    size = row.size - 2 * reach
    return row[reach - move : reach - move + size]


def _best_moves(wide: Floats, reach: int) -> list[int]:
    """Move one repeat after the other to where it differs least from the mean of the rest."""
    count = wide.shape[0]
    moves = [0] * count
    if count < 2 or reach == 0:
        return moves
    for _ in range(MOST_ROUNDS):
        before = list(moves)
        for index in range(count):
            rest = np.mean(
                [_moved(wide[other], moves[other], reach) for other in range(count) if other != index], axis=0
            )
            moves[index] = _best_move(wide[index], rest, reach, moves[index])
        if moves == before:
            break
    return _centred(moves, reach)


def _best_move(row: Floats, rest: Floats, reach: int, now: int) -> int:
    """Return the move of least squared difference; the present one where it is as good."""
    windows = np.lib.stride_tricks.sliding_window_view(row, rest.size)
    # windows[k] is the row moved by reach - k
    errors = ((windows - rest) ** 2).sum(axis=1)[::-1]
    best = int(errors.argmin())
    same = errors[now + reach] <= errors[best] * (1 + 1e-12)
    return now if same else best - reach


def _centred(moves: list[int], reach: int) -> list[int]:
    """Take the common part out of the moves, as far as the bound allows: only differences mean anything."""
    common = round(sum(moves) / len(moves))
    centred = [move - common for move in moves]
    return centred if max(map(abs, centred)) <= reach else moves
