"""A time history that never changes and remembers how it came about."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.addresses import addressed
from correlate.display import brief, frame, short_repr
from correlate.errors import SignalError, UnitError
from correlate.lazy import by_upper_layer
from correlate.samples import frozen_samples, handed_over
from correlate.units import conversion, parse_unit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, DTypeLike, NDArray
    from pandas import DataFrame


NO_READINGS: Final = frozenset({"remove offset", "turn sign"})
"""Steps after which samples are no longer readings of a scale with a zero of its own."""


@short_repr
@dataclass(frozen=True, slots=True)
class Source:
    """Where samples came from.

    Attributes
    ----------
    file
        Path as the user named it, or a word such as ``computed``.
    sha256
        Of the bytes of that file, hexadecimal; empty for computed data.
    """

    file: str
    sha256: str = ""

    def __post_init__(self) -> None:
        """Name the copy of an object by its address."""
        object.__setattr__(self, "file", addressed(self.file))


@short_repr
@dataclass(frozen=True, slots=True)
class Step:
    """One step in the making of a signal.

    Attributes
    ----------
    name
        What was done: ``read``, ``filter``, ``remove offset`` …
    settings
        With which settings, units in the names.
    """

    name: str
    settings: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Freeze the settings."""
        object.__setattr__(self, "settings", MappingProxyType(dict(self.settings)))

    def __reduce__(self) -> tuple[type[Step], tuple[str, dict[str, Any]]]:
        """Pickle through a plain dictionary, because a mapping proxy cannot be pickled."""
        return Step, (self.name, dict(self.settings))

    def __str__(self) -> str:
        """Return the step as one line of text."""
        listed = ", ".join(f"{key}={value}" for key, value in self.settings.items())
        return f"{self.name} ({listed})" if listed else self.name


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Signal:
    """Samples on a constant time step, with unit, channel, source and history.

    Attributes
    ----------
    samples
        Shape ``(n,)``, float64, read-only, finite, at least two of them.
    start_s
        Time of the first sample, in s.
    step_s
        Sampling interval, in s.
    unit
        Unit of the samples.
    channel
        16-character code where one is known, else a name.
    source
        File and hash.
    history
        Every step that made the signal, oldest first.

    Raises
    ------
    SignalError
        Fewer than two samples, more than one axis, a sample that is not finite, a step not above zero.
    UnitError
        The unit cannot be parsed.

    Examples
    --------
    >>> signal = Signal(samples=[0.0, 1.0, 0.0], start_s=0.0, step_s=1e-4, unit="g", channel="head ax")
    >>> signal.end_s, len(signal.history)
    (0.0002, 0)

    A slice is in s, both ends included, and recorded; an array is made of the samples:

    >>> str(signal[0.0:0.0001].history[-1])
    'crop (start_s=0.0, end_s=0.0001, samples_before=0, samples_after=1)'
    >>> np.asarray(signal)
    array([0., 1., 0.])
    """

    samples: NDArray[np.float64]
    start_s: float
    step_s: float
    unit: str
    channel: str
    source: Source = Source("computed")
    history: tuple[Step, ...] = ()

    def __init__(
        self,
        *,
        samples: ArrayLike,
        start_s: float,
        step_s: float,
        unit: str,
        channel: str,
        source: Source | None = None,
        history: tuple[Step, ...] = (),
    ) -> None:
        store = object.__setattr__
        store(self, "samples", frozen_samples(samples, channel=channel))
        store(self, "start_s", float(start_s))
        store(self, "step_s", float(step_s))
        store(self, "unit", unit)
        store(self, "channel", channel)
        store(self, "source", source or Source("computed"))
        store(self, "history", tuple(history))
        if not (math.isfinite(self.step_s) and self.step_s > 0 and math.isfinite(self.start_s)):
            raise SignalError(
                f"the time step is {step_s!r} s and the start {start_s!r} s",
                where=f"channel '{channel}'",
                remedy="give a finite start and a step above zero",
            )
        parse_unit(unit)

    def __reduce__(self) -> tuple[partial[Signal], tuple[()]]:
        """Pickle through the constructor, because an unpickled array would be writeable."""
        fields = ("samples", "start_s", "step_s", "unit", "channel", "source", "history")
        return partial(Signal, **{name: getattr(self, name) for name in fields}), ()

    def __repr__(self) -> str:
        """Say which channel it is, on which time base."""
        base = f"samples=<{len(self)}>, start_s={brief(self.start_s)}, step_s={brief(self.step_s)}"
        made = f"source={brief(self.source.file)}, history=<{len(self.history)}>"
        return f"Signal({brief(self.channel)}, unit={brief(self.unit)}, {base}, {made})"

    def __len__(self) -> int:
        """Return the number of samples."""
        return int(self.samples.size)

    def __array__(self, dtype: DTypeLike | None = None, copy: bool | None = None) -> NDArray[Any]:  # noqa: FBT001 - numpy's
        """Return the samples, shape ``(n,)``, read-only unless copied."""
        return np.array(self.samples, dtype=dtype, copy=copy)

    def __getitem__(self, interval: slice) -> Signal:
        """Return the samples of an interval in s, both ends included, the cut recorded as ``crop``.

        Parameters
        ----------
        interval
            Such as ``signal[0.01:0.05]``; an end that is left out is that of the signal.

        Returns
        -------
        Signal

        Raises
        ------
        TypeError
            A single number or a slice with a step.
        SettingsError
            The interval ends before it starts.
        SignalError
            The interval reaches beyond the data or holds fewer than two samples.
        """
        if not isinstance(interval, slice) or interval.step is not None:
            raise TypeError(
                "a signal is cut by time in s, as in signal[0.01:0.05]; single samples are in signal.samples"
            )
        start_s = self.start_s if interval.start is None else float(interval.start)
        end_s = self.end_s if interval.stop is None else float(interval.stop)
        cut: Signal = by_upper_layer("crop")(self, start_s=start_s, end_s=end_s)
        return cut

    def _repr_html_(self) -> str:
        """Return a small drawing with units for a notebook."""
        drawing: str = by_upper_layer("signal_html")(self)
        return drawing

    def plot(self) -> Any:
        """Draw the signal over time.

        Returns
        -------
        plotly.graph_objects.Figure
            Time in ms, samples in their unit.

        Raises
        ------
        MissingExtraError
            The extra 'report' is not installed.
        """
        return by_upper_layer("signal_figure")(self)

    def to_frame(self) -> DataFrame:
        """Return a data frame with one column, named after channel and unit, by time in s.

        Returns
        -------
        pandas.DataFrame
            Shape ``(n, 1)``, index ``time_s``.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        table = frame({f"{self.channel} [{self.unit}]": self.samples}, index=self.time_s)
        return table.rename_axis(index="time_s")

    @property
    def time_s(self) -> NDArray[np.float64]:
        """Time of every sample, shape ``(n,)``, in s."""
        return self.start_s + self.step_s * np.arange(len(self), dtype=np.float64)

    @property
    def end_s(self) -> float:
        """Time of the last sample, in s."""
        return self.start_s + self.step_s * (len(self) - 1)

    @property
    def sample_rate_hz(self) -> float:
        """Samples a second."""
        return 1.0 / self.step_s

    @property
    def place(self) -> str:
        """File and channel, for messages."""
        return f"{self.source.file}, channel '{self.channel}'"

    def then(
        self,
        step: Step,
        *,
        samples: ArrayLike | None = None,
        start_s: float | None = None,
        step_s: float | None = None,
        unit: str | None = None,
        channel: str | None = None,
    ) -> Signal:
        """Return a new signal with one more step in its history.

        Parameters
        ----------
        step
            What was done.
        samples, start_s, step_s, unit, channel
            What changed; the rest stays.

        Returns
        -------
        Signal
        """
        return Signal(
            samples=self.samples if samples is None else samples,
            start_s=self.start_s if start_s is None else start_s,
            step_s=self.step_s if step_s is None else step_s,
            unit=self.unit if unit is None else unit,
            channel=self.channel if channel is None else channel,
            source=self.source,
            history=(*self.history, step),
        )

    def in_unit(self, unit: str) -> Signal:
        """Return the signal in another unit, the conversion recorded; itself when the unit is the same.

        Between scales with different zeros, such as °C and K, the recorded step also says what was added.

        Parameters
        ----------
        unit
            A unit of the same dimension.

        Returns
        -------
        Signal

        Raises
        ------
        UnitError
            The units measure different things, or have different zeros and the samples are no readings of
            the scale any more, because their offset was removed or their sign turned.

        Examples
        --------
        >>> room = Signal(samples=[20.0, 21.0], start_s=0.0, step_s=1.0, unit="°C", channel="room")
        >>> [round(float(value), 9) for value in room.in_unit("K").samples]
        [293.15, 294.15]
        """
        if unit == self.unit:
            return self
        factor, added = conversion(self.unit, unit)
        settings: dict[str, Any] = {"from": self.unit, "to": unit, "factor": factor}
        if not added:
            return self.then(
                Step("convert unit", settings), samples=handed_over(self.samples * factor), unit=unit
            )
        if any(step.name in NO_READINGS for step in self.history):
            raise UnitError(
                f"'{self.unit}' and '{unit}' have different zero points, and offset or sign was changed",
                where=self.place,
                remedy="convert the unit first",
            )
        step = Step("convert unit", settings | {"added": added})
        return self.then(step, samples=handed_over(self.samples * factor + added), unit=unit)
