"""The training curves and their tests on few times, with the emulator of all of them in one step.

What is asked of the tests (which parameters they determine, what the cards can be, where no card helps) needs
the emulator at ten thousands of points, but no more times than the curves have independent parts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import matern

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.emulator import ChannelEmulator, CurveEmulator
    from correlate.tuning.gaussian_process import GaussianProcess
    from correlate.tuning.traces import TraceChannel

    Floats = NDArray[np.float64]

MOST_TIMES: Final = 50
"""Most times of a channel; each stands for the mean of the samples about it. Chosen here."""
_HALF: Final = 0.5


class StackedProcesses:
    """Gaussian processes over the same runs, predicted together.

    Parameters
    ----------
    processes
        All over the same number of runs.
    widening
        What the deviation of each is multiplied with, shape ``(p,)``.
    """

    def __init__(self, processes: Sequence[GaussianProcess], widening: Floats) -> None:
        self._lengths = np.array([one.settings.lengths for one in processes])[:, None, :]
        self._points = np.array([one.cube for one in processes]) / self._lengths
        self._smoothness = np.array([one.settings.smoothness for one in processes])
        self._size = np.array([one.settings.size for one in processes])
        self._noise = np.array([one.settings.noise for one in processes])
        self._centre = np.array([one.centre for one in processes])
        self._scale = np.array([one.scale for one in processes])
        self._widening = widening
        own = self._covariance(self._points) + self._noise[:, None, None] * np.eye(self._points.shape[1])
        values = np.array([one.values for one in processes])
        standard = (values - self._centre[:, None]) / self._scale[:, None]
        self._inverse_root = np.linalg.inv(np.linalg.cholesky(own))
        self._weights = np.einsum(
            "pji,pj->pi", self._inverse_root, np.einsum("pij,pj->pi", self._inverse_root, standard)
        )

    def _covariance(self, scaled: Floats, other: Floats | None = None) -> Floats:
        """Return the covariance of points in units of the length scales: ``(p, m, d)``, ``(p, n, d)``."""
        other = self._points if other is None else other
        squares = np.sum(scaled**2, axis=2)[:, :, None] + np.sum(other**2, axis=2)[:, None, :]
        squares -= 2.0 * scaled @ other.swapaxes(1, 2)
        distance = np.sqrt(np.maximum(squares, 0.0))
        for smoothness in np.unique(self._smoothness):
            rows = self._smoothness == smoothness
            distance[rows] = matern(distance[rows], float(smoothness))
        return np.asarray(self._size[:, None, None] * distance)

    @property
    def shape(self) -> tuple[int, int]:
        """Number of runs and of parameters."""
        return self._points.shape[1], self._points.shape[2]

    def means(self, cube: Floats) -> Floats:
        """Return the mean of each at points of the unit cube of shape ``(m, d)``, shape ``(m, p)``."""
        across = self._covariance(cube[None] / self._lengths)
        return np.asarray((self._centre[:, None] + self._scale[:, None] * _times(across, self._weights)).T)

    def covariances(self, cube: Floats) -> Floats:
        """Return what is not known of the means at points of the unit cube, shape ``(p, m, m)``."""
        scaled = cube[None] / self._lengths
        known = self._inverse_root @ self._covariance(scaled).swapaxes(1, 2)
        left = self._covariance(scaled, scaled) - known.swapaxes(1, 2) @ known
        return np.asarray((self._widening * self._scale)[:, None, None] ** 2 * left)

    def variances(self, cube: Floats) -> Floats:
        """Return the variance of a new run about the means, noise of the solver included, ``(m, p)``."""
        known = self._inverse_root @ self._covariance(cube[None] / self._lengths).swapaxes(1, 2)
        left = np.maximum(self._size[:, None] - np.sum(known**2, axis=1), 0.0) + self._noise[:, None]
        return np.asarray(((self._widening * self._scale)[:, None] ** 2 * left).T)


def _times(matrices: Floats, vectors: Floats) -> Floats:
    return np.asarray((matrices @ vectors[:, :, None])[:, :, 0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CoarseChannel:
    """One channel on few times, in shares of its size.

    Attributes
    ----------
    channel
        Which.
    number
        Among all, from 0.
    size
        Largest absolute value of the tests, in the unit of the channel: what everything here is a share of.
    edges
        First samples of the stretches that are averaged, and the end, shape ``(t + 1,)``.
    names
        Of the tests.
    tests
        Shape ``(r, t)``.
    still
        Mean curve and basis, shape ``(k + 1, t)``.
    sums
        Of the same up to each sample, the ends held far beyond, shape ``(k + 1, 3 n + 1)``.
    left
        What the description with its shift leaves of each run, shape ``(n, t)``.
    errors
        Of the amounts of runs that were left out, over their deviations, shape ``(n, k)``.
    shifted
        Whether the last amount is a shift in samples.
    amounts
        Columns of the amounts.
    place
        Of the channel in the vector of all.
    """

    channel: TraceChannel
    number: int
    size: float
    edges: NDArray[np.int64]
    names: tuple[str, ...]
    tests: Floats
    still: Floats
    sums: Floats
    left: Floats
    errors: Floats
    shifted: bool
    amounts: slice
    place: slice

    @property
    def time(self) -> Floats:
        """Middles of the stretches, in s, shape ``(t,)``."""
        middles = _HALF * (self.edges[:-1] + self.edges[1:] - 1)
        return np.asarray(self.channel.time[0] + middles * self.channel.step_s)

    def ends_s(self, first: int, last: int) -> tuple[float, float]:
        """Return where the stretches from the first to the last begin and end, in s."""
        start = self.channel.time[0]
        end = min(float(start + self.edges[last + 1] * self.channel.step_s), float(self.channel.time[-1]))
        return float(start + self.edges[first] * self.channel.step_s), end

    def parts(self, shifts: Floats) -> Floats:
        """Return mean and basis of curves later by a number of samples each, shape ``(k + 1, m, t)``."""
        most = (self.sums.shape[1] - self.edges[-1] - 1) // 2
        places = np.clip(self.edges - shifts[:, None] + most, 0.0, self.sums.shape[1] - 1.001)
        whole = places.astype(np.int64)
        share = places - whole
        sums = self.sums[:, whole] * (1 - share) + self.sums[:, whole + 1] * share
        return np.asarray(np.diff(sums, axis=2) / np.diff(self.edges))

    def curves(self, amounts: Floats) -> Floats:
        """Return the curves of amounts of shape ``(m, k)``, shape ``(m, t)``."""
        if not self.shifted:
            return np.asarray(self.still[0] + amounts @ self.still[1:])
        parts = self.parts(amounts[:, -1])
        return np.asarray(parts[0] + np.einsum("mk,kmt->mt", amounts[:, :-1], parts[1:]))

    def slopes(self, amounts: Floats) -> Floats:
        """Return how the curve moves with each amount, at amounts of shape ``(k,)``: shape ``(k, t)``."""
        if not self.shifted:
            return self.still[1:]
        around = amounts + np.outer([_HALF, -_HALF], np.arange(amounts.size) == amounts.size - 1)
        late, early = self.curves(around)
        return np.vstack([self.parts(amounts[-1:])[1:, 0], late - early])

    def wrong(self, amounts: Floats, deviations: Floats) -> Floats:
        """Return by how much the curve would be wrong if each left-out run were here, shape ``(n, t)``."""
        return np.asarray((self.errors * deviations) @ self.slopes(amounts) + self.left)


@dataclass(frozen=True, eq=False)
class CoarseCurves:
    """All training curves in one vector, in shares of the size of each channel.

    Attributes
    ----------
    channels
        In the order of the vector.
    processes
        Of all amounts.
    """

    channels: tuple[CoarseChannel, ...]
    processes: StackedProcesses

    @property
    def count(self) -> int:
        """Length of the vector."""
        return int(self.channels[-1].place.stop)

    @cached_property
    def tests(self) -> Floats:
        """Mean of the tests, shape ``(N,)``."""
        return np.concatenate([one.tests.mean(axis=0) for one in self.channels])

    @cached_property
    def load_cases(self) -> dict[str, tuple[CoarseChannel, ...]]:
        """Channels by load case."""
        names = dict.fromkeys(one.channel.load_case for one in self.channels)
        return {name: tuple(one for one in self.channels if one.channel.load_case == name) for name in names}

    def predict(self, cube: Floats) -> Floats:
        """Predict the vector at points of the unit cube of shape ``(m, d)``, shape ``(m, N)``."""
        amounts = self.processes.means(cube)
        return np.hstack([one.curves(amounts[:, one.amounts]) for one in self.channels])

    def emulator_covariance(self, cube: Floats) -> list[Floats]:
        """Return what a run scatters about its prediction, averaged over points, by load case ``(n, n)``.

        The errors of amounts are those of the runs that were left out, over their deviation there and times
        the deviation here, so that they belong together over all channels of a load case as those of a run
        do. The noise of the solver and what the descriptions leave are part of them.
        """
        amounts, deviations = self.processes.means(cube), np.sqrt(self.processes.variances(cube))
        found = []
        for channels in self.load_cases.values():
            count = channels[-1].place.stop - channels[0].place.start
            total = np.zeros((count, count))
            for mean, deviation in zip(amounts, deviations, strict=True):
                wrong = np.hstack([one.wrong(mean[one.amounts], deviation[one.amounts]) for one in channels])
                total += wrong.T @ wrong / len(wrong)
            found.append(np.asarray(_settings_factor(*self.processes.shape) * total / len(cube)))
        return found


def _settings_factor(runs: int, parameters: int) -> float:
    """Return by how much errors of left-out runs are too small because all runs set the length scales.

    As for the residuals of a regression: size, noise and one length scale a parameter were fitted.
    """
    return runs / max(runs - parameters - 2, runs / _MOST_FACTOR)


_MOST_FACTOR: Final = 4.0


def coarse_curves(
    emulator: CurveEmulator, curves: Sequence[Floats], load_cases: Collection[str]
) -> CoarseCurves:
    """Take the curves of some load cases that have tests and move with the parameters.

    Parameters
    ----------
    emulator
        Of the curves.
    curves
        Of each channel of it, the curve of every run, shape ``(n, t)``.
    load_cases
        Names.

    Returns
    -------
    CoarseCurves

    Raises
    ------
    SettingsError
        There is no such curve.
    """
    used = [
        (one, of_runs)
        for one, of_runs in zip(emulator.channels, curves, strict=True)
        if one.channel.load_case in load_cases
        and not one.channel.recorded
        and one.channel.size > 0
        and one.processes
    ]
    if not used:
        raise SettingsError(
            "no curve of the training load cases moves with the parameters",
            remedy="check the range of the parameters and the load cases in 'train'",
        )
    channels: list[CoarseChannel] = []
    for one, of_runs in used:
        channels.append(_coarse(one, of_runs, channels[-1] if channels else None))
    widening = np.concatenate([np.full(one.count, one.widening) for one, _ in used])
    return CoarseCurves(
        tuple(channels), StackedProcesses([process for one, _ in used for process in one.every], widening)
    )


def _coarse(one: ChannelEmulator, of_runs: Floats, before: CoarseChannel | None) -> CoarseChannel:
    first_amount, first_place = (before.amounts.stop, before.place.stop) if before else (0, 0)
    samples, size = one.mean.size, one.channel.size
    count = min(samples, MOST_TIMES)
    edges = np.round(np.linspace(0, samples, count + 1)).astype(np.int64)
    curves = np.vstack([one.mean, one.basis]) / size
    # Not what the description of shifted curves leaves: where they begin and end, more than that is lost.
    described = one.curves(np.array([process.values for process in one.every]).T)
    held = np.pad(curves, ((0, 0), (samples, samples)), mode="edge")
    tests = np.array(list(one.channel.tests.values())) / size
    return CoarseChannel(
        channel=one.channel,
        number=before.number + 1 if before else 0,
        size=size,
        edges=edges,
        names=tuple(one.channel.tests),
        tests=_averaged(tests, edges),
        still=_averaged(curves, edges),
        sums=np.pad(np.cumsum(held, axis=1), ((0, 0), (1, 0))),
        left=_averaged((of_runs - described) / size, edges),
        errors=one.errors,
        shifted=one.shift is not None,
        amounts=slice(first_amount, first_amount + one.count),
        place=slice(first_place, first_place + count),
    )


def _averaged(curves: Floats, edges: NDArray[np.int64]) -> Floats:
    return np.asarray(np.add.reduceat(curves, edges[:-1], axis=1) / np.diff(edges))
