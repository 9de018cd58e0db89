"""Filters of channel frequency classes (ISO 6487, SAE J211-1)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError, SignalError
from correlate.samples import handed_over
from correlate.signal import Step

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from correlate.signal import Signal


FILTER_STEP: Final = "filter"
"""Name of the step in the history of a filtered signal."""
PAD_S: Final = 0.010
"""Point-symmetric extension at either end while filtering, in s (common practice, no source)."""
DESIGN_RATIO: Final = 2.0775
"""Design frequency of a single pass, in Hz, for each unit of CFC (SAE J211-1)."""
_RATE_TOLERANCE: Final = 1e-6


@dataclass(frozen=True, slots=True)
class FrequencyClass:
    """One row of the table of classes.

    Attributes
    ----------
    corner_hz
        Published −3 dB frequency, Hz.
    lowest_rate_hz
        Lowest sample rate the class may be used at, Hz.
    """

    corner_hz: float
    lowest_rate_hz: float


FREQUENCY_CLASSES: Final[dict[int, FrequencyClass]] = {
    60: FrequencyClass(100.0, 600.0),
    180: FrequencyClass(300.0, 1_800.0),
    600: FrequencyClass(1_000.0, 6_000.0),
    1000: FrequencyClass(1_650.0, 10_000.0),
}
"""The classes by number (SAE J211-1, from memory)."""


@dataclass(frozen=True, slots=True)
class Coefficients:
    """Coefficients of one pass, named after SAE J211-1.

    ``y[n] = a0·x[n] + a1·x[n−1] + a2·x[n−2] + b1·y[n−1] + b2·y[n−2]``

    Attributes
    ----------
    a0, a1, a2
        Weights of the input.
    b1, b2
        Weights of the output so far.
    """

    a0: float
    a1: float
    a2: float
    b1: float
    b2: float


def frequency_class(cfc: int) -> FrequencyClass:
    """Return the row of the table of classes.

    Parameters
    ----------
    cfc
        60, 180, 600 or 1000.

    Returns
    -------
    FrequencyClass

    Raises
    ------
    SettingsError
        There is no such class.

    References
    ----------
    .. [1] SAE J211-1, table of channel frequency classes, from memory.
    """
    try:
        return FREQUENCY_CLASSES[cfc]
    except (KeyError, TypeError):
        listed = ", ".join(str(known) for known in FREQUENCY_CLASSES)
        raise SettingsError(
            f"there is no channel frequency class {cfc!r}", remedy=f"choose one of {listed}"
        ) from None


def cfc_coefficients(cfc: int, step_s: float) -> Coefficients:
    r"""Return the coefficients of one pass of the filter.

    .. math:: \omega_a = \tan(\pi \cdot 2.0775 \cdot \mathrm{CFC} \cdot \Delta t), \quad
              a_0 = \frac{\omega_a^2}{1 + \sqrt 2\,\omega_a + \omega_a^2}, \quad a_1 = 2 a_0, \quad a_2 = a_0,

    .. math:: b_1 = \frac{-2(\omega_a^2 - 1)}{1 + \sqrt 2\,\omega_a + \omega_a^2}, \quad
              b_2 = \frac{-1 + \sqrt 2\,\omega_a - \omega_a^2}{1 + \sqrt 2\,\omega_a + \omega_a^2}

    Parameters
    ----------
    cfc
        60, 180, 600 or 1000.
    step_s
        Sampling interval :math:`\Delta t`, s.

    Returns
    -------
    Coefficients

    Raises
    ------
    SettingsError
        There is no such class, or the class needs a shorter sampling interval.

    References
    ----------
    .. [1] SAE J211-1, appendix on the digital filter, from memory.

    Examples
    --------
    >>> one_pass = cfc_coefficients(1000, 1e-4)
    >>> round(one_pass.a0 + one_pass.a1 + one_pass.a2 + one_pass.b1 + one_pass.b2, 12)
    1.0
    """
    root, warped = math.sqrt(2.0), _warped_design_frequency(cfc, step_s)
    denominator = 1.0 + root * warped + warped**2
    a0 = warped**2 / denominator
    return Coefficients(
        a0=a0,
        a1=2.0 * a0,
        a2=a0,
        b1=-2.0 * (warped**2 - 1.0) / denominator,
        b2=(-1.0 + root * warped - warped**2) / denominator,
    )


def cfc_amplitude(frequency_hz: ArrayLike, cfc: int, step_s: float) -> NDArray[np.float64]:
    r"""Return the amplitude response of the whole filter, forward and backward.

    .. math:: |H(f)| = \frac{1}{1 + \left(\tan(\pi f \Delta t) / \omega_a\right)^4}

    Parameters
    ----------
    frequency_hz
        Any shape, Hz, from 0 to half the sample rate.
    cfc
        60, 180, 600 or 1000.
    step_s
        Sampling interval :math:`\Delta t`, s.

    Returns
    -------
    numpy.ndarray
        Same shape, dimensionless, 1 at zero frequency.

    Raises
    ------
    SettingsError
        There is no such class, or the class needs a shorter sampling interval.

    References
    ----------
    .. [1] Derived here: squared amplitude of a two-pole Butterworth filter under the bilinear transform.

    Examples
    --------
    >>> round(float(cfc_amplitude(60 * 2.0775, 60, 1e-4)), 12)
    0.5
    """
    ratio = np.tan(np.pi * np.asarray(frequency_hz, dtype=np.float64) * step_s)
    return np.asarray(1.0 / (1.0 + (ratio / _warped_design_frequency(cfc, step_s)) ** 4))


def filter_cfc(signal: Signal, cfc: int) -> Signal:
    """Filter with a channel frequency class: a two-pole low-pass, forward and backward, without phase.

    Either end is extended point-symmetrically by 10 ms, so that a signal that starts or ends away from
    zero does not ring. A signal no longer than that is extended by all its samples but one.

    Parameters
    ----------
    signal
        At the rate it was recorded with: filtering comes before resampling.
    cfc
        60, 180, 600 or 1000.

    Returns
    -------
    Signal
        Same grid and unit. Its history gains ``"filter"`` with the class, the method and the pad.

    Raises
    ------
    SettingsError
        There is no such class.
    SignalError
        The sample rate is below the lowest of the class.

    References
    ----------
    .. [1] SAE J211-1 and ISO 6487, from memory; the extension of 10 ms is common practice, no source.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[1.0] * 500, start_s=0.0, step_s=1e-4, unit="g", channel="head ax")
    >>> str(filter_cfc(raw, 1000).history[-1])
    'filter (cfc=1000, method=two-pole low-pass forward and backward, pad_samples=100)'
    """
    lowest_rate_hz = frequency_class(cfc).lowest_rate_hz
    if signal.sample_rate_hz < lowest_rate_hz * (1 - _RATE_TOLERANCE):
        raise SignalError(
            f"{signal.sample_rate_hz:.6g} samples a second are too few for CFC {cfc}, "
            f"which needs {lowest_rate_hz:.0f}",
            where=signal.place,
            remedy="choose a lower class or export the channel at a higher rate",
        )
    pad = pad_samples(signal)
    return signal.then(
        _filter_step(cfc, pad),
        samples=handed_over(forward_and_backward(_one_pass(cfc, signal.step_s), signal, pad)),
    )


@lru_cache(maxsize=64, typed=True)
def _filter_step(cfc: int, pad: int) -> Step:
    """Return the step of the history; signals with equal filters share it."""
    return Step(
        FILTER_STEP, {"cfc": cfc, "method": "two-pole low-pass forward and backward", "pad_samples": pad}
    )


def _one_pass(cfc: int, step_s: float) -> NDArray[np.float64]:
    """Return the section of one pass, shape ``(1, 6)``."""
    one = cfc_coefficients(cfc, step_s)
    return np.array([[one.a0, one.a1, one.a2, 1.0, -one.b1, -one.b2]])


def pad_samples(signal: Signal) -> int:
    """Return by how many samples either end is extended while filtering.

    Parameters
    ----------
    signal
        The signal to be filtered.

    Returns
    -------
    int
        10 ms in samples, at most all samples but one.
    """
    return min(math.ceil(PAD_S / signal.step_s * (1 - 1e-9)), len(signal) - 1)


def forward_and_backward(sections: NDArray[np.float64], signal: Signal, pad: int) -> NDArray[np.float64]:
    """Run second-order sections forward and backward over point-symmetrically extended samples.

    Parameters
    ----------
    sections
        Shape ``(k, 6)``: numerator and denominator of each section.
    signal
        The signal, ``n`` samples.
    pad
        Samples to extend either end by.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``.
    """
    from correlate.conditioning.cascade import (  # noqa: PLC0415 - loads the compiler, needed only here
        both_ways,
    )

    return both_ways(sections, signal.samples, pad, _settled_state(sections.tobytes()))


@cache
def _settled_state(sections: bytes) -> NDArray[np.float64]:
    """Return the state in which the sections rest at a constant of 1; solved once for each filter.

    At rest a section puts out its gain times what comes in, and its state repeats itself: two linear
    equations for two values.
    """
    gain = 1.0
    states = []
    for b0, b1, b2, _, a1, a2 in np.frombuffer(sections).reshape(-1, 6):
        repeats = np.array([[1.0 + a1, -1.0], [a2, 1.0]])
        states.append(gain * np.linalg.solve(repeats, np.array([b1 - a1 * b0, b2 - a2 * b0])))
        gain *= (b0 + b1 + b2) / (1.0 + a1 + a2)
    return np.array(states)


def _warped_design_frequency(cfc: int, step_s: float) -> float:
    lowest_rate_hz = frequency_class(cfc).lowest_rate_hz
    if not 0 < step_s * lowest_rate_hz <= 1 + _RATE_TOLERANCE:
        raise SettingsError(
            f"a sampling interval of {step_s!r} s does not suit CFC {cfc}",
            remedy=f"give one above zero, up to {1 / lowest_rate_hz:.4g} s",
        )
    return math.tan(math.pi * DESIGN_RATIO * cfc * step_s)
