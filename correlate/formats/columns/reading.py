"""Reading tables of columns, block by block."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import signal_on_constant_step
from correlate.errors import CorrelateError, FormatError, NoNumberError, SignalError, UnfinishedError
from correlate.files import last_bytes, opened
from correlate.formats.columns.cells import RowReader, TimedRows, read_table, texts
from correlate.formats.columns.layout import LinePattern
from correlate.formats.recording import Recording, SetAside, refuse_unusable
from correlate.formats.text import LOOKED_AT, decoded, refuse_cut_file, shortened, text_lines
from correlate.signal import Signal, Source, Step
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

    from correlate.formats.columns.layout import Column, ColumnLayout, RepeatedBlock


def read_blocks(
    pieces: Iterable[tuple[int, str]],
    layout: ColumnLayout,
    block: RepeatedBlock,
    rows: RowReader,
    *,
    file: str,
    cut_end: Callable[[], FormatError | None],
) -> TimedRows:
    """Read a file of repeated blocks, but for a last block that is cut off."""
    collector = _Collector(layout, block, rows, file)
    for first, text in pieces:
        if not text.endswith("\n"):
            collector.take_last(text, first, cut_end())
            break
        for number, line in enumerate(text_lines(text), start=first):
            if number > layout.skip_lines:
                collector.take(line, number)
        rows.read_on()
    return collector.finished()


@dataclass(slots=True)
class _Block:
    """One block: its time, the line it starts on, and the keys and lines of its rows."""

    time: float
    line: int
    keys: list[str] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)


class _Collector:
    """Takes line by line and sorts rows into blocks."""

    def __init__(self, layout: ColumnLayout, block: RepeatedBlock, rows: RowReader, file: str) -> None:
        self._layout, self._block, self._rows, self._file = layout, block, rows, file
        self._start = LinePattern(block.start, layout.decimal)
        self._end = None if block.end is None else LinePattern(block.end, layout.decimal)
        self._open: _Block | None = None
        self._cut: FormatError | None = None
        self._to_skip = 0
        self._times: list[float] = []
        self._lines: list[int] = []
        self._keys: list[str] = []
        self._order: list[NDArray[np.intp]] = []

    def take(self, line: str, number: int) -> None:
        """Take the next line of the file."""
        if self._to_skip:
            self._to_skip -= 1
            return
        time = self._start.time_in(line)
        if time is not None:
            self._begin(time, number)
            return
        block = self._open
        if block is None:
            return  # between blocks stands whatever the solver likes to say
        if block.lines and self._end is not None and self._end.fits(line):
            self._close()
            return
        if self._rows.is_row(line, number):
            block.keys.append(self._rows.take(line, number))
            block.lines.append(number)

    def take_last(self, line: str, number: int, cut: FormatError | None) -> None:
        """Take a last line without a line break; where it is cut off, leave out the block it stands in."""
        try:
            if cut is not None:
                raise cut
            self.take(line, number)
            self._rows.read_on()
        except FormatError as error:
            self._cut, self._open = error, None

    def finished(self) -> TimedRows:
        """Return everything once the file has ended, but for a last block that lacks rows."""
        try:
            self._close()
        except UnfinishedError as error:
            self._cut = error
        numbers = self._rows.numbers()
        if len(self._times) < 2:
            raise self._cut or self._too_few()
        order = np.concatenate(self._order)
        shape = (len(self._times), len(self._keys))
        per_column = []
        for row in numbers:
            ordered = np.ascontiguousarray(row[order].reshape(shape).T)
            ordered.flags.writeable = False
            per_column.append(ordered)
        name = self._block.key
        channels = tuple(
            (f"{name} {key} {column.name}" if name else column.name, column)
            for key in self._keys
            for column in self._layout.channels
        )
        samples = [column[index] for index in range(len(self._keys)) for column in per_column]
        faults = self._rows.faults([(key, column) for key in self._keys for column in self._layout.channels])
        lines = np.array(self._lines, dtype=np.int64)
        return TimedRows(np.array(self._times), lines, channels, samples, faults, self._cut)

    def _begin(self, time: float, number: int) -> None:
        self._close()
        if not math.isfinite(time):
            fault = self._fault("the time is not finite", number, "export the file again")
            raise NoNumberError(fault.what, where=fault.where, remedy=fault.remedy)
        self._open = _Block(time, number)
        self._to_skip = self._block.skip_lines

    def _close(self) -> None:
        """Keep the open block, if there is one."""
        block, self._open = self._open, None
        if block is None:
            return
        if not block.keys:
            raise self._short(
                "the block that starts here has no rows",
                block.line,
                f"let the run finish, or correct the block of layout '{self._layout.name}'",
            )
        if not self._times:
            self._keys = block.keys
        self._order.append(len(self._keys) * len(self._times) + self._places(block))
        self._times.append(block.time)
        self._lines.append(block.line)

    def _places(self, block: _Block) -> NDArray[np.intp]:
        """Return where in this block the rows of the first one stand."""
        places = {key: index for index, key in enumerate(block.keys)}
        if len(places) < len(block.keys):
            raise self._twice(block)
        if block.keys == self._keys:
            return np.arange(len(self._keys))
        more = sorted(places.keys() - set(self._keys))
        lost = [key for key in self._keys if key not in places]
        if more or lost:
            said = "lacks" if lost else "also has"
            fault = self._fault if more else self._short
            raise fault(
                f"the block that starts here {said} '{self._block.key} {shortened((lost or more)[0])}', "
                f"unlike the first one",
                block.line,
                "let the run finish, or take the block out",
            )
        return np.array([places[key] for key in self._keys])

    def _twice(self, block: _Block) -> FormatError:
        index = next(index for index, key in enumerate(block.keys) if key in block.keys[:index])
        named = f"two rows of '{self._block.key} {shortened(block.keys[index])}'"
        return self._fault(
            f"the block has {named if self._block.key else 'a second row'}",
            block.lines[index],
            "name under 'key' the column that distinguishes rows, or describe under 'end' what follows them",
        )

    def _too_few(self) -> FormatError:
        found = "only one line" if self._times else "no line"
        return FormatError(
            f"{found} fits '{self._block.start}', the start of a block",
            where=self._file,
            remedy=f"correct 'start' of layout '{self._layout.name}', or export at least two output times",
        )

    def _fault(self, what: str, number: int, remedy: str) -> FormatError:
        """Return the error for a line, unless a row before it holds what is no number."""
        self._rows.read_on()
        return FormatError(what, where=f"{self._file}, line {number}", remedy=remedy)

    def _short(self, what: str, number: int, remedy: str) -> UnfinishedError:
        """Return the error for a block that lacks rows, as the last one of a run does that goes on."""
        fault = self._fault(what, number, remedy)
        return UnfinishedError(fault.what, where=fault.where, remedy=fault.remedy)


NAME: Final = "columns"


def read_columns(path: str | Path, layout: ColumnLayout) -> Recording:
    """Read a text file in columns.

    Parameters
    ----------
    path
        The file.
    layout
        What its lines hold.

    Returns
    -------
    Recording
        One signal for each column with a unit but the time; in a file of blocks with a key, one for each
        key and column, called for instance ``node 12 x``. A column in which NaN, infinity or asterisks
        stand for a number is set aside.

    Raises
    ------
    FormatError
        The file cannot be opened, is no text, or a line is not what the layout says.
    UnfinishedError
        The file is cut off at its end, or the mark of a normal end that the layout names is not there.
    ChannelError
        Two channels have the same name.
    SignalError
        The times do not increase, or are too uneven.
    """
    return read_columns_so_far(path, layout).finished()


def read_columns_so_far(path: str | Path, layout: ColumnLayout) -> Recording:
    """Read a text file in columns as far as it is written, see `read_columns`."""
    path = Path(path)
    file = str(path)
    _check_header(path, layout)
    digest = hashlib.sha256()
    rows = RowReader(layout, file)
    with opened(path) as stream:
        pieces = texts(stream, digest, file)
        cut_end = partial(_cut_end, path, layout)
        if layout.block is None:
            found = read_table(pieces, layout, rows, file=file, cut_end=cut_end)
        else:
            found = read_blocks(pieces, layout, layout.block, rows, file=file, cut_end=cut_end)
    _check_increasing(found, layout, file)
    signals, set_aside = _signals(found, layout, Source(file, digest.hexdigest()))
    return Recording(
        signals=signals,
        set_aside=set_aside,
        path=path,
        format=NAME,
        unfinished=_unfinished(found, layout, path),
    )


def _check_header(path: Path, layout: ColumnLayout) -> None:
    """Refuse a file in which the lines that name the columns are others."""
    if not layout.header:
        return
    with opened(path) as stream:
        top = decoded(b"".join(islice(stream, layout.skip_lines)))
    seen = [line.split() for line in text_lines(top)]
    for line in layout.header:
        if line.split() not in seen:
            raise FormatError(
                f"'{shortened(line)}', the header of layout '{layout.name}', is not among its first lines, "
                "so its columns may be others",
                where=str(path),
                remedy="describe this file by a layout of its own, or correct 'header'",
            )


def _cut_end(path: Path, layout: ColumnLayout) -> FormatError | None:
    """Return why the last number of a file seems to be cut off; None when it does not."""
    try:
        refuse_cut_file(path, separator=layout.separator or None)
    except FormatError as error:
        return error
    return None


def _unfinished(found: TimedRows, layout: ColumnLayout, path: Path) -> UnfinishedError | None:
    if found.cut is not None:
        return UnfinishedError(found.cut.what, where=found.cut.where, remedy=found.cut.remedy)
    return without_normal_end(path, layout)


def without_normal_end(path: Path, layout: ColumnLayout) -> UnfinishedError | None:
    """Return the error for a file that lacks the mark of a normal end; None where none is required."""
    end = layout.normal_end
    if end is None:
        return None
    file = end.file_of(path)
    pattern = LinePattern(end.text)
    last_lines = text_lines(decoded(last_bytes(file, LOOKED_AT))) if file.is_file() else []
    if any(pattern.fits(line) for line in last_lines):
        return None
    place = f"in the last lines of {file.name}" if end.file else "in its last lines"
    return UnfinishedError(
        f"the run is unfinished: '{end.text}' is not {place}",
        where=str(path),
        remedy="wait until it ends, or rate the data so far with 'correlate score --unfinished'",
    )


def _check_increasing(found: TimedRows, layout: ColumnLayout, file: str) -> None:
    stuck = np.flatnonzero(np.diff(found.times) <= 0)
    if stuck.size:
        before = int(stuck[0])
        unit = layout.time_unit
        raise SignalError(
            f"the time {found.times[before + 1]:.9g} {unit} is not above the one before, "
            f"{found.times[before]:.9g} {unit}",
            where=f"{file}, line {found.lines[before + 1]}",
            remedy="export it again with times in increasing order",
        )


def _signals(
    found: TimedRows, layout: ColumnLayout, source: Source
) -> tuple[tuple[Signal, ...], tuple[SetAside, ...]]:
    """Make the channels; one without a number somewhere, or with too few, is set aside."""
    time_s = found.times * conversion_factor(layout.time_unit, "s")
    # The times themselves as samples tell, once for all channels, whether the step counts as constant.
    times = signal_on_constant_step(time_s, time_s, unit="s", channel="time", source=source)
    even = np.array_equal(times.samples, time_s)
    settings = _settings(layout, source, time_s.size)
    signals, set_aside = [], []
    for place, ((name, column), samples) in enumerate(zip(found.channels, found.samples, strict=True)):
        own = settings | _own_settings(name, column)
        if place in found.faults:
            set_aside.append(SetAside(name, found.faults[place]))
        elif layout.missing and not np.isfinite(samples).all():
            try:
                signals.append(_bridged(time_s, samples, column, source, own))
            except CorrelateError as error:
                set_aside.append(SetAside(name, error))
        elif even:
            signals.append(
                Signal(
                    samples=samples,
                    start_s=times.start_s,
                    step_s=times.step_s,
                    unit=column.unit,
                    channel=name,
                    source=source,
                    history=(Step("read", own), *times.history),
                )
            )
        else:
            signals.append(
                signal_on_constant_step(
                    time_s,
                    samples,
                    unit=column.unit,
                    channel=name,
                    source=source,
                    history=(Step("read", own),),
                )
            )
    refuse_unusable(tuple(set_aside), len(signals))
    return tuple(signals), tuple(set_aside)


def _bridged(
    time_s: NDArray[np.float64],
    samples: NDArray[np.float64],
    column: Column,
    source: Source,
    settings: dict[str, object],
) -> Signal:
    """Return a channel without its missing values: those between others are bridged by resampling."""
    present = np.isfinite(samples)
    if present.sum() < 2:
        raise SignalError(
            f"column '{column.name}' has fewer than two values that are not missing",
            where=source.file,
            remedy="export it again, or correct 'missing' of the layout",
        )
    read = Step("read", settings | {"missing_values": int(samples.size - present.sum())})
    return signal_on_constant_step(
        time_s[present],
        samples[present],
        unit=column.unit,
        channel=str(settings["channel"]),
        source=source,
        history=(read,),
    )


def _settings(layout: ColumnLayout, source: Source, rows: int) -> dict[str, object]:
    return {
        "format": NAME,
        "file": source.file,
        "layout": layout.name,
        "layout_sha256": layout.sha256,
        "rows": rows,
        "time_unit": layout.time_unit,
        "decimal_mark": layout.decimal,
    }


def _own_settings(name: str, column: Column) -> dict[str, object]:
    own: dict[str, object] = {"channel": name, "unit": column.unit, "column": column.name}
    if column.characters:
        own["characters"] = column.characters
    return own
