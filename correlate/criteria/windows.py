"""Qualification windows: the tables of their files, and the book that finds them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from correlate.conditioning import FREQUENCY_CLASSES
from correlate.conditioning.derived import LOAD_CELL_DISTANCE_M
from correlate.criteria.channels import named_entry
from correlate.criteria.result import provenance
from correlate.display import short_repr
from correlate.errors import FormatError
from correlate.toml import Table, read_toml

if TYPE_CHECKING:
    from collections.abc import Sequence


Text = Annotated[str, Field(min_length=1)]
Range = tuple[float, float]

Make = Literal[
    "as recorded",
    "turned",
    "absolute value",
    "largest excursion positive",
    "resultant",
    "sum",
    "occipital moment",
    "lateral occipital moment",
    "mass times deceleration",
    "velocity change",
]
Measure = Literal[
    "impact velocity",
    "peak",
    "time of peak",
    "time of peak after other",
    "value at time",
    "largest between times",
    "least between times",
    "time of first decay",
    "duration of first decay",
    "oscillation after peak",
    "unimodality",
    "peak while other is inside its window",
    "peak while other rises",
    "internal hysteresis",
]
_CHANNELS_NEEDED = {"resultant": 3, "sum": 3, "occipital moment": 2, "lateral occipital moment": 2}


class _Table(Table):
    model_config = ConfigDict(allow_inf_nan=False)


class Way(_Table):
    """One way to make a signal.

    Attributes
    ----------
    make
        What is done.
    channels
        With which channels: patterns of codes, in which ``?`` stands for any character.
    """

    make: Make
    channels: tuple[Annotated[str, Field(min_length=16, max_length=16)], ...]

    @model_validator(mode="after")
    def _as_many_channels_as_needed(self) -> Self:
        needed = _CHANNELS_NEEDED.get(self.make, 1)
        if len(self.channels) != needed:
            raise ValueError(f"'{self.make}' is made of {needed} channel(s)")
        return self


class SignalPlan(_Table):
    """A curve that quantities are measured on.

    Attributes
    ----------
    name, unit, cfc
        Of the curve; no filter when the class is left out.
    positive
        Whether its event is known to be positive, so that a turned channel is noticed.
    way
        Ways to make it; the first whose channels are there is taken.
    """

    name: Text
    unit: Text
    cfc: int | None = None
    positive: bool = False
    way: Annotated[tuple[Way, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _class_is_known(self) -> Self:
        _check_class(self.cfc)
        return self


class Quantity(_Table):
    """What is measured.

    Attributes
    ----------
    name, words, unit
        Of the quantity.
    measure
        What is taken from the signal.
    of
        Name of the signal.
    other
        Name of another quantity whose signal, and for one measure whose window, is looked at too.
    level
        Where a decay ends, in the unit of the signal.
    rise
        From where to where the other signal rises, in its unit.
    time_ms
        Time after time zero at which the value is taken, in ms.
    between_ms
        Start and end after time zero between which values are taken, in ms; data may cover a part of it.
    """

    name: Text
    words: Text
    unit: Text
    measure: Measure
    of: str = ""
    other: str = ""
    level: float | None = None
    rise: Range | None = None
    time_ms: float | None = None
    between_ms: Range | None = None

    @model_validator(mode="after")
    def _has_what_its_measure_needs(self) -> Self:
        needs = {
            "of": self.measure != "impact velocity",
            "other": "other" in self.measure or self.measure == "internal hysteresis",
            "level": self.measure in {"time of first decay", "duration of first decay"},
            "rise": self.measure == "peak while other rises",
            "time_ms": self.measure == "value at time",
            "between_ms": self.measure in {"largest between times", "least between times"},
        }
        for key, needed in needs.items():
            given = getattr(self, key) not in {"", None}
            if given != needed:
                raise ValueError(f"'{self.measure}' {'needs' if needed else 'has no'} '{key}'")
        return self


class SetUp(_Table):
    """What a test's set-up adds.

    Attributes
    ----------
    interval_ms
        Where the event is looked for, after time zero; all of the data when left out.
    probe_mass_kg
        Of the probe.
    occipital_lever_m
        Distance from the upper neck load cell to the occipital condyle, in m.
    cfc
        Filter classes of signals that differ from the signal's own.
    negative
        Signals whose event is a negative peak.
    """

    interval_ms: Range | None = None
    probe_mass_kg: Annotated[float, Field(gt=0)] | None = None
    occipital_lever_m: Annotated[float, Field(ge=0)] = LOAD_CELL_DISTANCE_M
    cfc: dict[str, int] = Field(default_factory=dict)
    negative: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _interval_and_classes_hold(self) -> Self:
        if self.interval_ms is not None and self.interval_ms[0] >= self.interval_ms[1]:
            raise ValueError("'interval_ms' needs a start and a later end")
        for cfc in self.cfc.values():
            _check_class(cfc)
        return self


class ShippedSetUp(SetUp):
    """The set-up of a shipped test.

    Attributes
    ----------
    section, test
        By which it is found: section of 49 CFR Part 572 and, where one section has several, the test.
    """

    section: Text
    test: str = ""

    def serves(self, window: Window) -> bool:
        """Say whether this is the set-up of a window."""
        return window.section == self.section and self.test in {"", window.test}


class Window(_Table):
    """The windows of one test of one device.

    Attributes
    ----------
    device, test
        As in the regulation or protocol.
    limits
        Least and largest value of each quantity.
    checked
        Whether the numbers were compared with the published text; otherwise they are from memory.
    subpart, section
        Of 49 CFR Part 572.
    source
        Another regulation, protocol or drawing; needed where there is no section.
    set_up
        Of the test; a shipped test has one.
    """

    device: Text
    test: Text
    limits: Annotated[dict[str, Range], Field(min_length=1)]
    checked: bool
    subpart: str = ""
    section: str = ""
    source: str = ""
    set_up: SetUp | None = None

    @property
    def provenance(self) -> str:
        """Source of the window, and how far it was checked."""
        regulation = f"49 CFR {self.section}" if self.section else ""
        return provenance(self.source or regulation, checked=self.checked)

    @model_validator(mode="after")
    def _limits_and_source_hold(self) -> Self:
        for name, (low, high) in self.limits.items():
            if low > high:
                raise ValueError(f"the window of '{name}' ends before it begins")
        if not (self.section or self.source):
            raise ValueError("name the 'source', or 'section' for 49 CFR Part 572")
        return self


class WindowsFile(_Table):
    """A file of windows; quantities and signals may come with it."""

    window: tuple[Window, ...] = ()
    quantity: tuple[Quantity, ...] = ()
    signal: tuple[SignalPlan, ...] = ()
    set_up: tuple[ShippedSetUp, ...] = ()


def _check_class(cfc: int | None) -> None:
    if cfc is not None and cfc not in FREQUENCY_CLASSES:
        raise ValueError(f"there is no channel frequency class {cfc}")


WINDOWS_FILE: Final = "qualification_windows.toml"
QUANTITIES_FILE: Final = "quantities.toml"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class WindowBook:
    """All windows with what is needed to measure them.

    Attributes
    ----------
    windows
        In the order of the files, the shipped ones first.
    quantities, signals
        By name.
    """

    windows: tuple[Window, ...]
    quantities: dict[str, Quantity]
    signals: dict[str, SignalPlan]

    def find(self, *, device: str, test: str) -> Window:
        """Return the window of a device and a test, each by its name or a part of it that fits one alone.

        Parameters
        ----------
        device, test
            Capitals do not matter.

        Returns
        -------
        Window

        Raises
        ------
        SettingsError
            None fits, or several; the message lists them.

        Examples
        --------
        >>> window_book().find(device="adult male", test="knee").section
        '572.35'
        """
        sizes = dict.fromkeys(window.device for window in self.windows)
        chosen = named_entry(device, {name: name for name in sizes}, word="device")
        tests = {window.test: window for window in self.windows if window.device == chosen}
        return named_entry(test, tests, word="test", of=f"'{chosen}'")


def window_book(paths: Sequence[str | Path] = ()) -> WindowBook:
    """Read the shipped windows and those of further files.

    Parameters
    ----------
    paths
        A user's own files, of the same form.

    Returns
    -------
    WindowBook

    Raises
    ------
    FormatError
        A file cannot be read, is no TOML or holds mistakes; all mistakes of a file are listed at once.
    """
    shipped = [Path(__file__).with_name(name) for name in (WINDOWS_FILE, QUANTITIES_FILE)]
    contents = [
        read_toml(path, WindowsFile, kind="a windows file").table for path in [*shipped, *map(Path, paths)]
    ]
    quantities = {item.name: item for content in contents for item in content.quantity}
    signals = {item.name: item for content in contents for item in content.signal}
    set_ups = [item for content in contents for item in content.set_up]
    windows = tuple(
        window
        if window.set_up is not None
        else window.model_copy(update={"set_up": next((s for s in set_ups if s.serves(window)), SetUp())})
        for content in contents
        for window in content.window
    )
    book = WindowBook(windows=windows, quantities=quantities, signals=signals)
    for path, content in zip([WINDOWS_FILE, QUANTITIES_FILE, *paths], contents, strict=True):
        _check_references(content, book, str(path))
    return book


def _check_references(content: WindowsFile, book: WindowBook, where: str) -> None:
    """Refuse a quantity without a definition and a signal that nothing makes."""
    unknown = [
        f"window '{window.test}': there is no quantity '{name}'"
        for window in content.window
        for name in window.limits
        if name not in book.quantities
    ]
    for quantity in content.quantity:
        if quantity.of and quantity.of not in book.signals:
            unknown.append(f"quantity '{quantity.name}': there is no signal '{quantity.of}'")
        if quantity.other and quantity.other not in book.quantities:
            unknown.append(f"quantity '{quantity.name}': there is no quantity '{quantity.other}'")
    if unknown:
        raise FormatError(
            f"{len(unknown)} mistake(s): " + "; ".join(unknown),
            where=where,
            remedy="define them in the file or correct the names",
        )
