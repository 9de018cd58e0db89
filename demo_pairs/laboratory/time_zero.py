"""How the laboratory sets time zero: by a contact switch, or by a level of a filtered acceleration.

The recorder is triggered by a light barrier, which is good to half a millisecond. The instant of contact is
found afterwards and the record moved there by whole samples, so its time base stays what it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from demo_pairs.laboratory.scatter import truncated_normal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

SWITCH_DELAY, SWITCH_SPREAD, SWITCH_LIMIT = 3e-5, 1.5e-5, 3e-5
"""Mean delay of a contact switch, its standard deviation and truncation [s]; invented."""
CORNER_PER_CLASS = 2.0775
"""Corner frequency of one pass over frequency class [Hz]; SAE J211-1, from memory."""
PRE_TRIGGER_PART = 0.8


@dataclass(frozen=True, kw_only=True)
class RawRecord:
    """What the recorder holds before time zero is set.

    Attributes
    ----------
    times
        Shape ``(n,)``, counted from the trigger [s].
    samples
        Channel code to samples, shape ``(n,)``.
    contact
        True instant of first contact, counted from the trigger [s]; only a switch feels it.
    """

    times: NDArray[np.float64]
    samples: Mapping[str, NDArray[np.float64]]
    contact: float


class Method(Protocol):
    """A way to find the instant of contact."""

    def instant(self, raw: RawRecord, random: np.random.Generator) -> float:
        """Give the instant, counted from the trigger [s]."""
        ...

    @property
    def words(self) -> str:
        """What was done, in words, for the header of the test."""
        ...


@dataclass(frozen=True, kw_only=True)
class ContactSwitch:
    """Foil strips that touch when ``parts`` do; they close a little late."""

    parts: str

    def instant(self, raw: RawRecord, random: np.random.Generator) -> float:
        """Give when the switch closes [s]."""
        return raw.contact + SWITCH_DELAY + truncated_normal(random, SWITCH_SPREAD, SWITCH_LIMIT)

    @property
    def words(self) -> str:
        """What was done."""
        return f"contact switch between {self.parts}"


@dataclass(frozen=True, kw_only=True)
class Threshold:
    """First crossing of a ``level`` [m/s^2], up or down, of one filtered acceleration."""

    code: str
    level: float
    frequency_class: float

    def instant(self, raw: RawRecord, random: np.random.Generator) -> float:  # noqa: ARG002 - nothing is drawn
        """Give when the level is first reached, interpolated linearly [s]."""
        samples = raw.samples[self.code]
        quiet = samples[: int(PRE_TRIGGER_PART * np.searchsorted(raw.times, 0.0))]
        step = float(raw.times[1] - raw.times[0])
        size = np.abs(class_filter(samples - quiet.mean(), self.frequency_class, step))
        hit = int(np.argmax(size >= self.level))
        if hit == 0:
            raise ArithmeticError(f"{self.code} does not rise to {self.level:g} m/s^2 within the record")
        part = (self.level - size[hit - 1]) / (size[hit] - size[hit - 1])
        return float(raw.times[hit - 1] + part * step)

    @property
    def words(self) -> str:
        """What was done."""
        return f"{self.code} at CFC {self.frequency_class:g} first reaches {self.level:g} m/s^2"


@dataclass(frozen=True, kw_only=True)
class TimeZero:
    """How time zero of one test was set: ``words`` say it, ``samples`` of ``step`` [s] from the trigger."""

    words: str
    samples: int
    step: float

    @property
    def shift(self) -> float:
        """Time zero counted from the trigger [s]."""
        return round(self.samples * self.step, 9)

    def __str__(self) -> str:
        """Say it in one line for a header."""
        return (
            f"time zero: {self.words}; {1e3 * self.shift:+.2f} ms ({self.samples:+d} samples) "
            "from the trigger of the recorder"
        )


def class_filter(samples: NDArray[np.float64], frequency_class: float, step: float) -> NDArray[np.float64]:
    r"""Filter by a channel frequency class, without delay.

    .. math:: |H| = \frac{1}{1 + (f/f_c)^4}, \quad f_c = 2.0775\,\mathrm{CFC}

    Parameters
    ----------
    samples
        Shape ``(n,)``, near zero at both ends.
    frequency_class, step
        CFC [Hz] and sampling step [s].

    Returns
    -------
    ndarray
        Shape ``(n,)``, unit of ``samples``. SAE J211-1, from memory: two passes of a two-pole Butterworth
        filter, here in its analogue form.
    """
    frequency = np.fft.rfftfreq(2 * samples.size, step)
    gain = 1.0 / (1.0 + (frequency / (CORNER_PER_CLASS * frequency_class)) ** 4)
    spectrum = np.fft.rfft(samples, 2 * samples.size)
    return np.asarray(np.fft.irfft(spectrum * gain, 2 * samples.size)[: samples.size], dtype=np.float64)


def set_time_zero(method: Method, raw: RawRecord, random: np.random.Generator) -> TimeZero:
    """Find the instant of contact and round it to whole samples."""
    step = round(float(raw.times[1] - raw.times[0]), 9)
    # the last digits must not decide which sample it is
    instant = round(method.instant(raw, random) / step, 6)
    return TimeZero(words=method.words, samples=round(instant), step=step)
