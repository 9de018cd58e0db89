"""Several repeats of a test and one or more runs of a model on one time grid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from correlate.conditioning.align import AS_RECORDED, align
from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from correlate.conditioning import Recipe
    from correlate.signal import Signal


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlignedRepeats:
    """Repeats and runs on one constant time step.

    Attributes
    ----------
    time
        Shape ``(n,)``, s.
    references
        Shape ``(k, n)``: the repeats of the test.
    candidates
        Shape ``(j, n)``: the runs of the model; most often one.

    Raises
    ------
    SignalError
        No repeat or no run, unequal lengths, a sample that is not finite, a step that is not constant.

    Examples
    --------
    >>> repeats = AlignedRepeats(time=[0, 1, 2], references=[[0, 1, 0], [0, 2, 0]], candidates=[[0, 3, 0]])
    >>> repeats.references.shape, repeats.candidates.shape
    ((2, 3), (1, 3))
    """

    time: NDArray[np.float64]
    references: NDArray[np.float64]
    candidates: NDArray[np.float64]

    def __init__(
        self, *, time: ArrayLike, references: Sequence[ArrayLike], candidates: Sequence[ArrayLike]
    ) -> None:
        if not (len(references) and len(candidates)):
            raise SignalError(
                f"there are {len(references)} repeats and {len(candidates)} runs",
                remedy="give at least one of each",
            )
        # A pair checks time, lengths and samples, and freezes them.
        with_first = [AlignedPair(time=time, reference=one, candidate=candidates[0]) for one in references]
        runs = [AlignedPair(time=time, reference=references[0], candidate=one) for one in candidates]
        store = object.__setattr__
        store(self, "time", with_first[0].time)
        store(self, "references", _frozen([pair.reference for pair in with_first]))
        store(self, "candidates", _frozen([pair.candidate for pair in runs]))

    @classmethod
    def of_pair(cls, pair: AlignedPair) -> AlignedRepeats:
        """Return a pair as one repeat and one run."""
        return cls(time=pair.time, references=[pair.reference], candidates=[pair.candidate])


def align_repeats(
    references: Sequence[Signal], candidates: Sequence[Signal], recipe: Recipe = AS_RECORDED
) -> AlignedRepeats:
    """Condition repeats and runs alike and bring them onto one grid.

    Parameters
    ----------
    references
        The repeats of the test.
    candidates
        The runs of the model.
    recipe
        How; as for a pair.

    Returns
    -------
    AlignedRepeats
        Over the time that all of them share, within the interval of the recipe.

    Raises
    ------
    UnitError, SignalError
        As ``align`` for one of them against another.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> def curve(start_s: float) -> Signal:
    ...     return Signal(samples=[1.0] * 101, start_s=start_s, step_s=1e-4, unit="g", channel="head ax")
    >>> align_repeats([curve(0.0), curve(0.002)], [curve(0.001)]).time[[0, -1]].tolist()
    [0.002, 0.01]
    """
    pairs = [(one, run) for run in candidates for one in references]
    found = [align(one, run, recipe) for one, run in pairs]
    start_s = max((float(pair.time[0]) for pair in found), default=0.0)
    end_s = min((float(pair.time[-1]) for pair in found), default=0.0)
    if any(pair.time.size != found[0].time.size or pair.time[0] != start_s for pair in found):
        shared = replace(recipe, start_s=start_s, end_s=end_s)
        found = [align(one, run, shared) for one, run in pairs]
    size = len(references)
    return AlignedRepeats(
        time=found[0].time if found else [],
        references=[pair.reference for pair in found[:size]],
        candidates=[pair.candidate for pair in found[::size]] if size else [],
    )


def _frozen(rows: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    table = np.array(rows)
    table.flags.writeable = False
    return table
