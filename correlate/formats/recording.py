"""A recording, and what a format is."""

from __future__ import annotations

import copy
import difflib
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from correlate.display import brief, frame
from correlate.errors import ChannelError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

    from pandas import DataFrame

    from correlate.errors import CorrelateError, UnfinishedError
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True)
class SetAside:
    """A channel of a file that cannot be used.

    Attributes
    ----------
    name
        Channel code or name, as far as the file gives one.
    error
        Why, with file, line and remedy.

    Examples
    --------
    >>> error = ChannelError("'Unit' is not given", where="KM3.001, line 4", remedy="write the line")
    >>> str(SetAside("D0HEAD0000KMACX0", error))
    "channel 'D0HEAD0000KMACX0' is set aside: KM3.001, line 4: 'Unit' is not given; write the line"
    """

    name: str
    error: CorrelateError

    def __post_init__(self) -> None:
        """Keep the words of the error and not the frames, and so the data, that it was raised from."""
        object.__setattr__(self, "error", copy.copy(self.error))

    def __str__(self) -> str:
        """Return one sentence."""
        return f"channel '{self.name}' is set aside: {self.error}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """The content of one file or test folder.

    Attributes
    ----------
    signals
        Every channel that can be used, in the order of the file.
    path
        As the user named it.
    format
        Name of the format it was read as.
    title
        What the file calls itself; empty when it does not.
    details
        Words of the file about the whole, such as the test description: key to text, in the order of
        the file. A key that the file repeats holds its texts on separate lines.
    channel_headers
        Header lines of each channel, by channel name; channels without any may be missing.
    channel_list
        Header lines of the list of channels, for formats that keep one.
    warnings
        One sentence for everything that was accepted but looks odd.
    set_aside
        Channels that cannot be used, each with the reason; they are in none of the other fields.
    unfinished
        Why the run that wrote it counts as unfinished; None when it does not.

    Raises
    ------
    ChannelError
        Two signals have the same channel name.

    Examples
    --------
    >>> from pathlib import Path
    >>> from correlate.signal import Signal
    >>> force = Signal(samples=[0.0, 1.0], start_s=0.0, step_s=1e-4, unit="kN", channel="force")
    >>> recording = Recording(signals=(force,), path=Path("run1.csv"), format="delimited")
    >>> recording["Force"].unit, "moment" in recording, len(recording)
    ('kN', False, 1)
    >>> [signal.channel for signal in recording]
    ['force']
    """

    signals: tuple[Signal, ...]
    path: Path
    format: str
    title: str = ""
    details: Mapping[str, str] = field(default_factory=dict)
    channel_headers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    channel_list: Mapping[str, str] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    unfinished: UnfinishedError | None = None
    _by_name: Mapping[str, Signal] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Freeze the mappings and refuse two channels of one name."""
        store = object.__setattr__
        store(self, "details", MappingProxyType(dict(self.details)))
        headers = {name: MappingProxyType(dict(lines)) for name, lines in self.channel_headers.items()}
        store(self, "channel_headers", MappingProxyType(headers))
        store(self, "channel_list", MappingProxyType(dict(self.channel_list)))
        by_name: dict[str, Signal] = {}
        for signal in self.signals:
            name = signal.channel
            if name in by_name:
                raise ChannelError(
                    f"two channels are called '{name}'", where=str(self.path), remedy="rename one of them"
                )
            by_name[name] = signal
        store(self, "_by_name", by_name)

    def __reduce__(self) -> tuple[Callable[[dict[str, Any]], Recording], tuple[dict[str, Any]]]:
        """Pickle through plain dictionaries, because a mapping proxy cannot be pickled."""
        state: dict[str, Any] = {
            "signals": self.signals,
            "path": self.path,
            "format": self.format,
            "title": self.title,
            "details": dict(self.details),
            "channel_headers": {name: dict(lines) for name, lines in self.channel_headers.items()},
            "channel_list": dict(self.channel_list),
            "warnings": self.warnings,
            "set_aside": self.set_aside,
            "unfinished": self.unfinished,
        }
        return _from_state, (state,)

    def __repr__(self) -> str:
        """Say which file it was and which channels it holds."""
        names, aside = brief(self.channel_names), brief(self.set_aside)
        more = "" if aside == "()" else f", set_aside={aside}"
        return f"Recording({brief(self.path)}, {brief(self.format)}, channels={names}{more})"

    def __len__(self) -> int:
        """Return the number of channels."""
        return len(self.signals)

    def __bool__(self) -> bool:
        """Say yes: a recording without channels is a recording too."""
        return True

    def __iter__(self) -> Iterator[Signal]:
        """Go through the signals, in the order of the file."""
        return iter(self.signals)

    def __getitem__(self, name: str) -> Signal:
        """Return one channel by its name or code, as `channel` does."""
        return self.channel(name)

    def __contains__(self, item: object) -> bool:
        """Say whether there is a channel of this name or code, or whether the signal is one of these."""
        if not isinstance(item, str):
            return any(signal is item for signal in self.signals)
        names = self.channel_names
        folded = item.strip().casefold()
        return item in names or [name.casefold() for name in names].count(folded) == 1

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per channel: unit, time base and extremes.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(
            {
                "channel": signal.channel,
                "unit": signal.unit,
                "samples": len(signal),
                "start_s": signal.start_s,
                "end_s": signal.end_s,
                "step_s": signal.step_s,
                "lowest": float(signal.samples.min()),
                "highest": float(signal.samples.max()),
            }
            for signal in self.signals
        )

    def finished(self) -> Recording:
        """Return this recording.

        Raises
        ------
        UnfinishedError
            The run that wrote it is unfinished.
        """
        if self.unfinished is not None:
            raise self.unfinished
        return self

    @property
    def channel_names(self) -> tuple[str, ...]:
        """Names of the channels that can be used, in the order of the file."""
        return tuple(signal.channel for signal in self.signals)

    @property
    def all_names(self) -> tuple[str, ...]:
        """Names of all channels: those that can be used, then those that are set aside."""
        return (*self.channel_names, *(one.name for one in self.set_aside))

    def has_name(self, name: str) -> bool:
        """Tell whether a channel has exactly this name, including channels that are set aside."""
        return name in self._by_name or any(one.name == name for one in self.set_aside)

    def channel(self, name: str) -> Signal:
        """Return one channel by its name or code.

        Parameters
        ----------
        name
            As in the file; capitals do not matter when no channel has exactly this name.

        Returns
        -------
        Signal

        Raises
        ------
        ChannelError
            No channel has this name, or several that differ only in case.
        CorrelateError
            The channel is set aside; the error says why.
        """
        found = self._by_name.get(name)
        if found is not None:
            return found
        folded = name.strip().casefold()
        for one in self.set_aside:
            if one.name.casefold() == folded:
                raise copy.copy(one.error)
        alike = [signal for signal in self.signals if signal.channel.casefold() == folded]
        if len(alike) == 1:
            return alike[0]
        if alike:
            raise ChannelError(
                f"the name '{name}' fits {_listed([signal.channel for signal in alike])}",
                where=str(self.path),
                remedy="write capitals as in the file",
            )
        raise ChannelError(
            f"there is no channel '{name}'", where=str(self.path), remedy=self._choices(self._closest(name))
        )

    def only_channel(self) -> Signal:
        """Return the one channel of a file that has one.

        Returns
        -------
        Signal

        Raises
        ------
        ChannelError
            The file holds several channels, or none.
        """
        if len(self.signals) == 1 and not self.set_aside:
            return self.signals[0]
        if not self.signals:
            raise ChannelError("the file contains no channel", where=str(self.path), remedy="export it again")
        if self.set_aside:
            raise ChannelError(
                f"of {len(self.all_names)} channels only {_listed(self.channel_names)} can be used; "
                f"{self.set_aside[0]}",
                where=str(self.path),
                remedy="name one with --channel",
            )
        raise ChannelError(
            f"the file contains {len(self.signals)} channels: {_listed(self.channel_names)}",
            where=str(self.path),
            remedy="name one with --channel",
        )

    def _closest(self, name: str) -> str:
        """Return the channel name most like the given one, or an empty text."""
        folded = {known.casefold(): known for known in reversed(self.channel_names)}
        close = difflib.get_close_matches(name.strip().casefold(), folded, n=1)
        return folded[close[0]] if close else ""

    def _choices(self, closest: str) -> str:
        if not self.signals:
            return "the file contains no channel"
        meant = f"perhaps you mean '{closest}'; " if closest else ""
        return f"{meant}the file contains {_listed(self.channel_names)}"


def told_apart(names: Iterable[str]) -> Iterator[str]:
    """Yield names, those that occur again with a number behind them.

    Examples
    --------
    >>> list(told_apart(["force", "moment", "force"]))
    ['force', 'moment', 'force #2']
    """
    given = list(names)
    taken, seen = set(given), set()
    for name in given:
        told = name
        if name in seen:
            told = next(
                text for count in range(2, len(given) + 2) if (text := f"{name} #{count}") not in taken
            )
        taken.add(told)
        seen.add(name)
        yield told


def refuse_unusable(set_aside: tuple[SetAside, ...], usable: int) -> None:
    """Raise the error of the first channel if no channel can be used."""
    if usable or not set_aside:
        return
    error, count = set_aside[0].error, len(set_aside)
    if count > 1:
        error = error.reworded(
            f"none of {count} channels can be used; the first, '{set_aside[0].name}': {error.what}"
        )
    raise error


def _from_state(state: dict[str, Any]) -> Recording:
    return Recording(**state)


def _listed(names: list[str] | tuple[str, ...]) -> str:
    return ", ".join(f"'{name}'" for name in names)


class FormatWarning(UserWarning):
    """A format that someone added does not work and was passed over."""


@dataclass(frozen=True, slots=True)
class Format:
    """One file format.

    Attributes
    ----------
    name
        Short and unique.
    description
        One line for the list of formats.
    recognises
        Says whether a path may be of this format. It must not look at more than the first 64 kB of a file
        or at more than the names in a folder.
    read
        Reads a path it recognised, or raises a `CorrelateError` that names file, line and remedy. The part of
        a file that is still being written has `Recording.unfinished`.
    write
        Writes a recording to a path; None when the format is only read.

    Examples
    --------
    >>> from pathlib import Path
    >>> def read_nothing(path: Path) -> "Recording":
    ...     raise NotImplementedError
    >>> Format("none", "never there", lambda path: False, read_nothing).write is None
    True
    """

    name: str
    description: str
    recognises: Callable[[Path], bool]
    read: Callable[[Path], Recording]
    write: Callable[[Recording, Path], None] | None = None
