"""The emulator of curves: predicts the curves of a run without running it.

The curves of the runs are reduced to their mean and a few principal components; a Gaussian process over the
parameters predicts the coefficient of each (``amounts`` in the code).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import GaussianProcess, fit_process
from correlate.tuning.one_thread import in_one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.gaussian_process import LeaveOneOut
    from correlate.tuning.traces import TraceChannel, TraceTable

    Floats = NDArray[np.float64]


SHARE: Final = 0.9999
"""Share of the variance of the curves that the principal components explain. Chosen here."""
MOST: Final = 12
"""Largest number of principal components. Chosen here."""
LEAST_RUNS: Final = 5
"""Fewest finished runs for an emulator. Chosen here."""
FLAT: Final = 1e-9
"""Curves that differ by less than this share of their size do not differ. Chosen here: rounding."""
LARGEST_SHIFT: Final = 0.15
"""Largest shift that registration considers, as a share of the interval. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Description:
    """Principal components of curves.

    Attributes
    ----------
    mean
        Shape ``(t,)``.
    basis
        Principal components: orthonormal curves, largest variance first, shape ``(k, t)``.
    amounts
        Coefficients of each run, shape ``(n, k)``.
    left
        Truncation residual of the curve of each run, shape ``(n, t)``.
    share
        Share of the variance that the components explain.
    """

    mean: Floats
    basis: Floats
    amounts: Floats
    left: Floats
    share: float


def describe(curves: Floats, share: float = SHARE, most: int = MOST) -> Description:
    """Find the principal components of curves, by singular value decomposition about their mean.

    Parameters
    ----------
    curves
        Shape ``(n, t)``.
    share, most
        Share of the variance to explain, and the largest number of components.

    Returns
    -------
    Description

    References
    ----------
    .. [1] Higdon, Gattiker, Williams, Rightley, "Computer model calibration using high-dimensional output",
       Journal of the American Statistical Association 103 (2008) 570-583 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> found = describe(np.outer([1.0, 2.0, 3.0], [3.0, 4.0]))
    >>> found.basis.shape, round(found.share, 12), bool(np.abs(found.left).max() < 1e-12)
    ((1, 2), 1.0, True)
    """
    mean = curves.mean(axis=0)
    away = curves - mean
    left, sizes, right = np.linalg.svd(away, full_matrices=False)
    variances = sizes**2
    kept = int(np.searchsorted(np.cumsum(variances) / variances.sum(), share)) + 1
    kept = min(kept, most, len(sizes))
    amounts = left[:, :kept] * sizes[:kept]
    return Description(
        mean=mean,
        basis=right[:kept],
        amounts=amounts,
        left=away - amounts @ right[:kept],
        share=float(variances[:kept].sum() / variances.sum()),
    )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelEmulator:
    """Predicts the curve of one channel.

    Attributes
    ----------
    channel
        What is predicted.
    mean, basis, left
        As in :class:`Description`; with a shift, of the shifted curves.
    processes
        Of the coefficients, one each; none for a channel that is the same in every run.
    shift
        Process of the shift of each run relative to the mean, in samples, positive when late; None when
        the curves are not registered.
    share
        Share of the variance that the components explain.
    widening
        Factor on the standard deviations that makes them as large as the leave-one-out errors; 1 or more.
    errors
        Leave-one-out errors of the coefficients over their widened standard deviations, shape ``(n, k)``.
    left_out
        Curve of each run as predicted by the others, shape ``(n, t)``.
    variance, missed
        Mean square of the difference of the curves of the runs from their mean, and of their leave-one-out
        errors.
    """

    channel: TraceChannel
    mean: Floats
    basis: Floats
    left: Floats
    processes: tuple[GaussianProcess, ...]
    shift: GaussianProcess | None
    share: float
    widening: float
    errors: Floats
    left_out: Floats
    variance: float = 0.0
    missed: float = 0.0

    @property
    def every(self) -> tuple[GaussianProcess, ...]:
        """Processes of all coefficients, that of the shift last."""
        return self.processes if self.shift is None else (*self.processes, self.shift)

    @property
    def count(self) -> int:
        """Number of coefficients, including the shift."""
        return len(self.every)

    @property
    def truncation_error(self) -> float:
        """Root mean square of the truncation residuals, in the unit of the channel."""
        return float(np.sqrt(np.mean(self.left**2)))

    def moments(self, cube: Floats) -> tuple[Floats, Floats]:
        """Return mean and deviation of the coefficients at points of the unit cube, each of shape ``(m, k)``.

        The last one is the shift where there is one. The standard deviation is that of a new run: of the
        mean and of the noise of the solver.
        """
        said = [process.predict(cube) for process in self.every]
        mean = np.array([one.mean for one in said]).reshape(self.count, len(cube)).T
        deviation = np.array([one.run_deviation for one in said]).reshape(self.count, len(cube)).T
        return mean, self.widening * deviation

    def means(self, cube: Floats) -> Floats:
        """Return the mean of the coefficients at points of the unit cube, shape ``(m, k)``."""
        return np.array([process.mean(cube) for process in self.every]).reshape(self.count, len(cube)).T

    def curves(self, amounts: Floats, stride: int = 1) -> Floats:
        """Return every ``stride``-th sample of the curves with coefficients of shape ``(m, k)``."""
        mean, basis = self.mean[::stride], self.basis[:, ::stride]
        if self.shift is None:
            return mean + amounts @ basis
        return moved(mean + amounts[:, :-1] @ basis, amounts[:, -1] / stride)

    def predict(self, cube: Floats, stride: int = 1) -> Floats:
        """Predict every ``stride``-th sample of the curve at points of the unit cube, shape ``(m, t)``."""
        return self.curves(self.means(cube), stride)

    def draw(self, cube: Floats, runs: NDArray[np.int64], signs: Floats, stride: int = 1) -> Floats:
        """Draw curves at points of the unit cube.

        A draw takes the standardised leave-one-out errors of one run, with either sign, multiplied by the
        standard deviations at the point, and adds the truncation residual of that run. Its errors are thus
        correlated between channels as those of a run are.

        Parameters
        ----------
        cube
            Shape ``(m, d)``.
        runs, signs
            Of the draws, shape ``(s,)``: which run, and 1 or -1.
        stride
            Only every ``stride``-th sample is returned.

        Returns
        -------
        numpy.ndarray
            Shape ``(m, s, t)``.
        """
        mean, deviation = self.moments(cube)
        errors = signs[:, None] * self.errors[runs]
        amounts = mean[:, None, :] + deviation[:, None, :] * errors
        flat = amounts.reshape(len(cube) * len(runs), self.count)
        curves = self.curves(flat, stride).reshape(len(cube), len(runs), -1)
        return np.asarray(curves + signs[:, None] * self.left[runs][:, ::stride])

    def believing(self, cube: Floats) -> ChannelEmulator:
        """Return the emulator as if its mean had been observed at points of the unit cube."""
        return replace(
            self,
            processes=tuple(one.believing(cube) for one in self.processes),
            shift=None if self.shift is None else self.shift.believing(cube),
        )


def moved(curves: Floats, shifts: Floats) -> Floats:
    """Return curves delayed by a number of samples each; end values are repeated.

    Parameters
    ----------
    curves
        Shape ``(m, t)``.
    shifts
        Shape ``(m,)``, in samples, whole or not.

    Returns
    -------
    numpy.ndarray
        Shape ``(m, t)``.

    Examples
    --------
    >>> import numpy as np
    >>> moved(np.array([[0.0, 1.0, 2.0, 3.0]]), np.array([1.5])).tolist()
    [[0.0, 0.0, 0.5, 1.5]]
    """
    places = np.arange(curves.shape[1], dtype=np.float64)
    return np.array(
        [np.interp(places - shift, places, curve) for curve, shift in zip(curves, shifts, strict=True)]
    )


def shifts_of(curves: Floats) -> Floats:
    """Return the delay of each curve relative to the mean of all in samples, shape ``(n,)``.

    The shift of the mean, its end values repeated, that fits the curve best by least squares, refined
    by a parabola; the mean is recomputed once from the aligned curves.
    """
    most = max(1, int(LARGEST_SHIFT * curves.shape[1]))
    places = np.arange(curves.shape[1])[None, :] - np.arange(-most, most + 1)[:, None]
    inside = np.clip(places, 0, curves.shape[1] - 1)
    shifts = np.zeros(len(curves))
    for _ in range(2):
        target = moved(curves, -shifts).mean(axis=0)[inside]
        # Without the square of the curve itself, which is the same for every shift.
        differences = np.sum(target**2, axis=1) - 2.0 * curves @ target.T
        shifts = np.array([_lowest(row) for row in differences]) - most
    return shifts - np.median(shifts)


def _lowest(values: Floats) -> float:
    """Return the position of the lowest value, interpolated by a parabola."""
    place = int(np.argmin(values))
    if not 0 < place < values.size - 1:
        return float(place)
    before, here, after = values[place - 1 : place + 2]
    bend = before - 2 * here + after
    return place + (0.5 * float(before - after) / float(bend) if bend > 0 else 0.0)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurveEmulator:
    """Predicts every curve of a run.

    Attributes
    ----------
    channels
        One emulator per channel.
    rows
        Rows of the table of runs that it was fitted to, shape ``(n,)``.
    cube
        Their points in the unit cube, shape ``(n, d)``.
    """

    channels: tuple[ChannelEmulator, ...]
    rows: NDArray[np.int64]
    cube: Floats

    def predict(self, cube: Floats) -> list[Floats]:
        """Predict the curves at points of the unit cube: for each channel, shape ``(m, t)``."""
        return [one.predict(cube) for one in self.channels]

    def q2(self, places: Sequence[int]) -> float:
        """Return the share of the variance of some channels that is predicted for left-out runs.

        Channels count equally: variances are divided by the square of the largest value of the tests. nan
        where no channel differs between the runs.
        """
        chosen = [self.channels[place] for place in places if self.channels[place].processes]
        sizes = np.array([one.channel.size or 1.0 for one in chosen])
        missed = np.array([one.missed for one in chosen]) / sizes**2
        variance = np.array([one.variance for one in chosen]) / sizes**2
        return 1.0 - float(missed.sum() / variance.sum()) if chosen else float("nan")

    def believing(self, cube: Floats) -> CurveEmulator:
        """Return the emulator as if its mean had been observed at points of the unit cube."""
        return replace(self, channels=tuple(one.believing(cube) for one in self.channels))


@in_one_thread
def fit_emulator(
    traces: TraceTable, *, progress: Callable[[float, str], None] = lambda _done, _words: None
) -> CurveEmulator:
    """Fit an emulator to the curves of the runs.

    Parameters
    ----------
    traces
        Of the finished runs.
    progress
        Called with the progress, from 0 to 1, and the current step.

    Returns
    -------
    CurveEmulator

    Raises
    ------
    SettingsError
        Too few runs are finished.
    """
    if len(traces.rows) < LEAST_RUNS:
        raise SettingsError(
            f"{len(traces.rows)} runs are finished, too few for an emulator of curves",
            remedy=f"run {LEAST_RUNS} points or more; two or more per parameter are common practice",
        )
    found = []
    for place, (channel, curves) in enumerate(zip(traces.channels, traces.curves, strict=True)):
        progress(place / len(traces.channels), f"fitting {channel.load_case}, {channel.channel}")
        found.append(fit_channel(channel, traces.cube, curves))
    return CurveEmulator(channels=tuple(found), rows=traces.rows, cube=traces.cube)


def fit_channel(channel: TraceChannel, cube: Floats, curves: Floats) -> ChannelEmulator:
    """Fit the emulator of one channel, with a shift where that lowers the leave-one-out error.

    Parameters
    ----------
    channel
        The channel.
    cube
        Points of the unit cube, shape ``(n, d)``.
    curves
        Curves at these points, shape ``(n, t)``.

    Returns
    -------
    ChannelEmulator
    """
    if float(np.ptp(curves, axis=0).max()) <= FLAT * float(np.abs(curves).max()):
        return _flat(channel, curves)
    plain = _fitted(channel, cube, curves, np.zeros(len(curves)))
    shifts = shifts_of(curves)
    if float(np.ptp(shifts)) < LEAST_SHIFT:
        return plain
    shifted = _fitted(channel, cube, curves, shifts)
    return min((plain, shifted), key=lambda one: one.missed)


LEAST_SHIFT: Final = 1.0
"""Curves whose shifts differ by less than this many samples are not registered. Chosen here."""


def _flat(channel: TraceChannel, curves: Floats) -> ChannelEmulator:
    return ChannelEmulator(
        channel=channel,
        mean=curves[0],
        basis=np.zeros((0, curves.shape[1])),
        left=np.zeros_like(curves),
        processes=(),
        shift=None,
        share=1.0,
        widening=1.0,
        errors=np.zeros((len(curves), 0)),
        left_out=curves,
    )


def _fitted(channel: TraceChannel, cube: Floats, curves: Floats, shifts: Floats) -> ChannelEmulator:
    registered = bool(np.any(shifts))
    found = describe(moved(curves, -shifts) if registered else curves)
    processes = tuple(
        fit_process(cube, np.array(one), (2.5,), first_lengths=(1.5,)) for one in found.amounts.T
    )
    shift = fit_process(cube, shifts, (2.5,), first_lengths=(1.5,)) if registered else None
    said = [process.left_out() for process in (*processes, *([] if shift is None else [shift]))]
    widening = _widening(said)
    emulator = ChannelEmulator(
        channel=channel,
        mean=found.mean,
        basis=found.basis,
        left=found.left,
        processes=processes,
        shift=shift,
        share=found.share,
        widening=widening,
        errors=standard_errors(said, widening),
        left_out=np.zeros(0),
    )
    left_out = emulator.curves(np.array([one.predicted for one in said]).T)
    return replace(
        emulator,
        left_out=left_out,
        variance=float(np.mean((curves - curves.mean(axis=0)) ** 2)),
        missed=float(np.mean((curves - left_out) ** 2)),
    )


def standard_errors(said: Sequence[LeaveOneOut], widening: float) -> Floats:
    """Return leave-one-out errors over their widened standard deviations, shape ``(n, k)``."""
    return np.array([(one.rated - one.predicted) / (widening * one.deviation) for one in said]).T


def _widening(said: Sequence[LeaveOneOut]) -> float:
    """Return the ratio of the leave-one-out errors to their predicted size, at least 1."""
    weighted = sum(float(np.sum((one.rated - one.predicted) ** 2)) for one in said)
    promised = sum(float(np.sum(one.deviation**2)) for one in said)
    return max(1.0, float(np.sqrt(weighted / promised)))
