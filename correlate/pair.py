"""Two curves on one time grid: what every measure takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final
from weakref import WeakValueDictionary

import numpy as np

from correlate.display import frame, short_repr
from correlate.errors import SignalError
from correlate.samples import STEP_TOLERANCE, frozen_samples

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pandas import DataFrame


_CHECKED: Final[WeakValueDictionary[int, NDArray[np.float64]]] = WeakValueDictionary()
"""Arrays of times that have a constant step, as long as somebody holds them."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlignedPair:
    """A reference and a candidate on one constant time step.

    Validated once, here; measures trust it. Keyword-only, so that the two curves cannot be swapped unseen.

    Attributes
    ----------
    time
        Shape ``(n,)``, s, increasing by one constant step.
    reference
        Shape ``(n,)``: the test.
    candidate
        Shape ``(n,)``: the model, or another repeat. Same unit as the reference.

    Raises
    ------
    SignalError
        Unequal lengths, a sample that is not finite, a step that is not constant or not above zero.

    Examples
    --------
    >>> pair = AlignedPair(time=[0.0, 1e-4, 2e-4], reference=[0, 1, 0], candidate=[0, 2, 0])
    >>> round(pair.step_s, 12)
    0.0001
    """

    time: NDArray[np.float64]
    reference: NDArray[np.float64]
    candidate: NDArray[np.float64]

    def __init__(self, *, time: ArrayLike, reference: ArrayLike, candidate: ArrayLike) -> None:
        store = object.__setattr__
        store(self, "time", frozen_samples(time, channel="time"))
        store(self, "reference", frozen_samples(reference, channel="reference"))
        store(self, "candidate", frozen_samples(candidate, channel="candidate"))
        self._check_grid()

    @classmethod
    def of_frozen(
        cls, *, time: NDArray[np.float64], reference: NDArray[np.float64], candidate: NDArray[np.float64]
    ) -> AlignedPair:
        """Create a pair from samples that are already finite and read-only, as those of signals are.

        Parameters
        ----------
        time, reference, candidate
            As for the class; the samples are not checked again.

        Raises
        ------
        SignalError
            Unequal lengths, or a step that is not constant or not above zero.
        """
        pair = object.__new__(cls)
        store = object.__setattr__
        store(pair, "time", time)
        store(pair, "reference", reference)
        store(pair, "candidate", candidate)
        pair._check_grid()
        return pair

    def _check_grid(self) -> None:
        """Refuse unequal lengths and a step that is not constant."""
        if not self.time.size == self.reference.size == self.candidate.size:
            raise SignalError(
                f"time has {self.time.size} samples, reference {self.reference.size}, "
                f"candidate {self.candidate.size}",
                remedy="bring both curves to one grid first, for instance with align()",
            )
        # Many pairs share one array of times, which cannot change once it is checked.
        if _CHECKED.get(id(self.time)) is not self.time:
            _check_constant_step(self.time)
            _CHECKED[id(self.time)] = self.time

    def __reduce__(self) -> tuple[partial[AlignedPair], tuple[()]]:
        """Pickle through the constructor, because an unpickled array would be writeable."""
        fields = {"time": self.time, "reference": self.reference, "candidate": self.candidate}
        return partial(AlignedPair, **fields), ()

    def __len__(self) -> int:
        """Return the number of samples."""
        return int(self.time.size)

    @property
    def step_s(self) -> float:
        """The time step, in s."""
        return float((self.time[-1] - self.time[0]) / (self.time.size - 1))

    def to_frame(self) -> DataFrame:
        """Return a data frame with both curves by time in s.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        table = frame({"reference": self.reference, "candidate": self.candidate}, index=self.time)
        return table.rename_axis(index="time_s")


def aligned_pairs(*, time: ArrayLike, reference: ArrayLike, candidate: ArrayLike) -> tuple[AlignedPair, ...]:
    """Make one pair of each row of two arrays.

    Parameters
    ----------
    time
        Shape ``(n,)``, s, shared by all.
    reference, candidate
        Shape ``(m, n)``: row by row a test and a model.

    Returns
    -------
    tuple of AlignedPair
        ``m`` of them.

    Raises
    ------
    SignalError
        Arrays of unequal shape, or what a pair refuses; the row is named.

    Examples
    --------
    >>> pairs = aligned_pairs(time=[0.0, 1e-4], reference=[[0, 1], [0, 2]], candidate=[[0, 1], [0, 3]])
    >>> [pair.candidate.tolist() for pair in pairs]
    [[0.0, 1.0], [0.0, 3.0]]
    """
    tests, models = np.asarray(reference), np.asarray(candidate)
    if tests.ndim != 2 or tests.shape != models.shape:
        raise SignalError(
            f"the references have shape {tests.shape} and the candidates {models.shape}",
            remedy="give two arrays of one shape, a pair a row",
        )
    shared = frozen_samples(time, channel="time")
    pairs = []
    for row, (test, model) in enumerate(zip(tests, models, strict=True), start=1):
        try:
            pairs.append(AlignedPair(time=shared, reference=test, candidate=model))
        except SignalError as error:
            raise error.located(f"row {row}") from error
    return tuple(pairs)


def _check_constant_step(time: NDArray[np.float64]) -> None:
    steps = np.diff(time)
    mean = float((time[-1] - time[0]) / (time.size - 1))
    # Rounding of the times themselves is not a change of step.
    rounding = 4 * np.spacing(np.abs(time).max())
    if steps.min() <= 0:
        first = int(np.flatnonzero(steps <= 0)[0]) + 2
        raise SignalError(
            f"the time of sample {first}, {time[first - 1]:.6g} s, is not above that of the sample before it",
            remedy="sort the samples by time and give each time once",
        )
    if np.abs(steps - mean).max() > STEP_TOLERANCE * mean + rounding:
        first = int(np.argmax(np.abs(steps - mean))) + 1
        raise SignalError(
            f"the time step is not constant: it is {steps[first - 1]:.6g} s before sample {first + 1} "
            f"and {mean:.6g} s on average",
            remedy="resample both curves to one constant step first",
        )
