"""Statistics of a channel that the detectors share: noise, runs, smoothed curve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from correlate.formats import Recording
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


_BLOCK: Final = 100_000


def running_median(samples: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    """Return the median over a centred window; the ends are repeated outwards.

    References
    ----------
    .. [1] Tukey, "Exploratory data analysis" (1977): running medians.

    Examples
    --------
    >>> import numpy as np
    >>> running_median(np.array([0.0, 0.0, 9.0, 0.0, 1.0]), 3)
    array([0., 0., 0., 1., 1.])
    """
    half = width // 2
    padded = np.pad(samples, half, mode="edge")
    result = np.empty_like(samples, dtype=np.float64)
    for start in range(0, samples.size, _BLOCK):
        stop = min(start + _BLOCK, samples.size)
        windows = sliding_window_view(padded[start : stop + 2 * half], width)
        # partition finds the middle value in half the time of a full median
        result[start:stop] = np.partition(windows, half, axis=1)[:, half]
    return result


CHANCE: Final = 1e-6
"""Probability left for a run of equal samples to be chance, over the whole record."""
SHORTEST: Final = 4
"""No run shorter than this many samples is called too long for chance."""


def runs_of(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the stretches of true values.

    Examples
    --------
    >>> import numpy as np
    >>> runs_of(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    padded = np.concatenate(([False], flags, [False]))
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    return [(int(start), int(stop)) for start, stop in zip(edges[::2], edges[1::2], strict=True)]


def chance_length(facts: ChannelStatistics) -> float:
    r"""Return the longest run of equal samples that noise explains.

    With :math:`q` the share of samples equal to the one before in the quiet stretch, a run of :math:`L`
    samples occurs by chance in :math:`n` samples with probability :math:`n\,q^{L-1}` at most.

    References
    ----------
    .. [1] Union bound over the starts of a run: derived here.
    """
    if not facts.has_quiet:
        return math.inf
    quiet = facts.signal.samples[facts.quiet]
    equal = int((np.diff(quiet) == 0).sum())
    # one more than counted, so that a short quiet stretch does not promise too much
    share = (equal + 1) / (quiet.size + 1)
    if share > 0.7:
        return math.inf
    return max(SHORTEST - 1, 1 + math.log(CHANCE / len(facts.signal)) / math.log(share))


def corner_sharpness(samples: NDArray[np.float64], run: tuple[int, int], grain: float) -> float:
    r"""Compare the slope beside a run of equal samples with that of a round top of the same length.

    A parabola that stays within one grain :math:`g` over :math:`L` samples meets the ends of the run with
    the slope :math:`4 g / L`, and has half as much again over the next :math:`L/2` samples.

    References
    ----------
    .. [1] Derived here.
    """
    start, stop = run
    length = stop - start
    reach = max(2, length // 2)
    if start - reach < 0 or stop - 1 + reach >= samples.size or grain <= 0:
        return 0.0
    into = abs(samples[start] - samples[start - reach]) / reach
    out = abs(samples[stop - 1] - samples[stop - 1 + reach]) / reach
    return float(min(into, out)) / (4 * grain / length)


GUARD_S: Final = 0.001
"""Kept clear between the quiet stretch and the event or the trigger, s."""
LEAST_QUIET: Final = 20
"""Fewest samples that count as a quiet stretch."""
ONSET_SHARE: Final = 0.05
"""The event begins where the deviation from the baseline passes this share of the peak …"""
ONSET_NOISES: Final = 8.0
"""… and so many times the noise …"""
ONSET_SAMPLES: Final = 5
"""… for so many samples in a row."""
LOUD: Final = 0.2
"""Share of the peak from which a sample belongs to the event."""
FINEST: Final = 2.0**-31
"""Counts finer than this share of the range are no counts of a recorder."""
_NORMAL: Final = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation (closed form)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelStatistics:
    """One channel with what is known about it.

    Attributes
    ----------
    signal
        The samples.
    header
        Header lines of the channel in its file.
    file
        Test as the user named it.
    calm
        Shape ``(n,)``: the samples after a running median over 5, free of single outliers.
    quiet
        Samples before the event; empty when there are too few.
    baseline
        Median of the quiet stretch, in the unit of the signal; of the first samples where there is none.
    noise
        Standard deviation of the quiet stretch about its line, robust against outliers; 0 where unknown.
    resolution
        Size of one count; 0 where the samples are not whole counts.
    peak
        Deviation of largest size from the baseline, with its sign.
    peak_s, onset_s
        When it occurs and when the event begins, s.
    sensor_peak
        Largest length of the vector of the axes of its sensor; 0 for a sensor of one axis.
    is_minor
        Whether it is an axis that hardly moves beside its sensor: what it shows is misalignment and
        vibration, and its sign and size mean nothing.
    """

    signal: Signal
    header: Mapping[str, str]
    file: str
    calm: Floats
    quiet: slice
    baseline: float
    noise: float
    resolution: float
    peak: float
    peak_s: float
    onset_s: float
    sensor_peak: float = 0.0
    is_minor: bool = False

    @property
    def has_quiet(self) -> bool:
        """Whether there is a quiet stretch before the event."""
        return bool(self.quiet.stop - self.quiet.start >= LEAST_QUIET)

    @property
    def grain(self) -> float:
        """Smallest difference that means anything: noise, or half a count."""
        return max(self.noise, self.resolution / 2)

    @property
    def event_s(self) -> float:
        """Time from the first to the last sample over a fifth of the peak, s."""
        loud = np.flatnonzero(np.abs(self.calm - self.baseline) > LOUD * abs(self.peak))
        return float(loud[-1] - loud[0]) * self.signal.step_s if loud.size else 0.0

    @property
    def full_scale(self) -> float:
        """Channel amplitude class of the header, in the unit of the signal; 0 where it is not given."""
        return header_number(self.header, "Channel amplitude class")

    def time_s(self, index: int) -> float:
        """Time of a sample, s."""
        return self.signal.start_s + index * self.signal.step_s


def header_number(header: Mapping[str, str], key: str) -> float:
    """Return a number above zero of a header line, or 0."""
    try:
        value = float(header.get(key, ""))
    except ValueError:
        return 0.0
    return value if np.isfinite(value) and value > 0 else 0.0


FEWEST_SAMPLES: Final = LEAST_QUIET
"""A channel of fewer samples cannot be judged."""
LARGEST_VALUE: Final = 1e100
"""A larger value is not a measurement, and its square overflows."""


def unfit_reason(signal: Signal) -> str:
    """Say why a channel cannot be judged; empty when it can."""
    if len(signal) < FEWEST_SAMPLES:
        return f"it has {len(signal)} samples, fewer than {FEWEST_SAMPLES}"
    largest = float(np.abs(signal.samples).max())
    return f"its largest value is {largest:.3g} {signal.unit}" if largest > LARGEST_VALUE else ""


def statistics_of(recording: Recording) -> list[ChannelStatistics]:
    """Measure every channel of a test that can be judged."""
    headers = recording.channel_headers
    return [
        channel_statistics(signal, header=headers.get(signal.channel, {}), file=str(recording.path))
        for signal in recording.signals
        if not unfit_reason(signal)
    ]


def channel_statistics(signal: Signal, *, header: Mapping[str, str], file: str) -> ChannelStatistics:
    """Measure one channel.

    References
    ----------
    .. [1] Baseline, noise and onset by robust statistics of the samples before the event: derived here.
    """
    calm = running_median(signal.samples, 5)
    first = _first_stretch(signal)
    level, spread = _level_and_spread(signal.samples[first])
    onset = _onset(calm, level, spread)
    quiet = _quiet(signal, onset)
    if quiet.stop - quiet.start >= LEAST_QUIET:
        level, spread = _level_and_spread(signal.samples[quiet])
    deviation = calm - level
    top = int(np.abs(deviation).argmax())
    return ChannelStatistics(
        signal=signal,
        header=header,
        file=file,
        calm=calm,
        quiet=quiet,
        baseline=level,
        noise=spread if quiet.stop - quiet.start >= LEAST_QUIET else 0.0,
        resolution=count_size(signal.samples),
        peak=float(deviation[top]),
        peak_s=signal.start_s + top * signal.step_s,
        onset_s=signal.start_s + onset * signal.step_s,
    )


def count_size(samples: Floats) -> float:
    """Return the size of one count of a digitised signal.

    Examples
    --------
    >>> import numpy as np
    >>> round(count_size(0.25 * np.array([0.0, 1, 0, 2, 3, 2, 1, 7, 9, 4, 0, 1])), 12)
    0.25
    """
    levels = np.unique(samples)
    if levels.size < 3:
        return 0.0
    gaps = np.diff(levels)
    count = float(np.percentile(gaps, 5))
    if count < FINEST * (levels[-1] - levels[0]):
        return 0.0
    # Printed digits blur every gap; many small gaps together tell the count far better than one.
    small = gaps[(gaps > 0.5 * count) & (gaps < 20 * count)]
    if small.size == 0:
        return 0.0
    count = float(small.sum() / np.rint(small / count).sum())
    places = (samples - samples[0]) / count
    # Printing rounds large values, and the error of one count adds up over thousands of them.
    near = np.abs(places) < 1000
    off = np.abs(places - np.rint(places))[near]
    return count if off.size and float((off < 0.1).mean()) > 0.9 else 0.0


def _first_stretch(signal: Signal) -> slice:
    """Return the samples taken as quiet until the event is found: 40 % of the time before the trigger.

    But no more than 8 % of the record, because its header may state a wrong step.
    """
    before = max(0.0, -signal.start_s) / signal.step_s
    count = max(min(int(0.4 * before), int(0.08 * len(signal))), LEAST_QUIET // 2)
    return slice(0, min(count, len(signal)))


def _level_and_spread(samples: Floats) -> tuple[float, float]:
    level = float(np.median(samples))
    if samples.size < 3:
        return level, 0.0
    index = np.arange(samples.size) - (samples.size - 1) / 2
    slope = float(index @ samples / (index @ index))
    rest = samples - slope * index
    rest = rest - np.median(rest)
    robust = _NORMAL * float(np.median(np.abs(rest)))
    plain = float(rest.std())
    return level, min(robust, plain) if robust > 0 else plain


def _onset(calm: Floats, level: float, spread: float) -> int:
    deviation = np.abs(calm - level)
    threshold = max(ONSET_SHARE * float(deviation.max()), ONSET_NOISES * spread)
    above = deviation > threshold
    if not above.any():
        return calm.size - 1
    runs = np.convolve(above, np.ones(ONSET_SAMPLES), mode="valid") > ONSET_SAMPLES - 0.5
    return int(np.argmax(runs)) if runs.any() else int(np.argmax(above))


def _quiet(signal: Signal, onset: int) -> slice:
    guard = int(np.ceil(GUARD_S / signal.step_s))
    end = onset - guard
    trigger = int(np.floor((-GUARD_S - signal.start_s) / signal.step_s))
    if trigger >= LEAST_QUIET:
        end = min(end, trigger)
    return slice(0, max(0, end))
