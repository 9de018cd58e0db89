"""Read delimited text block by block, so that a bad line stops the reading where it stands."""

from __future__ import annotations

import hashlib
import itertools
import re
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

import numpy as np

from correlate.conditioning import signal_on_constant_step
from correlate.errors import FormatError, SignalError, UnfinishedError
from correlate.files import FIRST_LOOK, first_bytes, opened
from correlate.formats.delimited.header import SEPARATORS, UTF_16, FileHead, parsed_head
from correlate.formats.number_text import data_lines, plain_number, usable_columns
from correlate.formats.recording import Recording, SetAside, refuse_unusable
from correlate.formats.text import looks_like_text, refuse_cut_file
from correlate.limits import count_recording, current_limits
from correlate.signal import Signal, Source, Step
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping

    from numpy.typing import NDArray

    from correlate.errors import CorrelateError

NAME: Final = "delimited text"
INTERVAL_KEY: Final = "sampling interval [s]"
"""Comment that gives a time step which the times alone, being rounded, would not give exactly."""
_BLOCK: Final = 2**20


def is_text(path: Path) -> bool:
    """Say whether a path is a text file.

    Parameters
    ----------
    path
        Any path.

    Returns
    -------
    bool
        True also for UTF-16, which the reader then refuses with a remedy.
    """
    if not path.is_file():
        return False
    start = first_bytes(path)
    return looks_like_text(start) or start.startswith(UTF_16)


def read(path: str | Path) -> Recording:
    """Read a delimited text file.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Recording
        One signal for each column but the time. ``details`` holds the comments above the header,
        ``set_aside`` the columns that hold no numbers, or have no name or known unit.

    Raises
    ------
    FormatError
        It cannot be opened or is no text with header, units and time column, or a line has another number of
        cells than the header.
    UnfinishedError
        It ends inside a row.
    SignalError
        The times do not increase, or are too uneven.
    CorrelateError
        No column can be used: the error of the first.
    """
    return read_so_far(path).finished()


def read_so_far(path: str | Path) -> Recording:
    """Read a delimited text file as far as its rows are whole, see `read`."""
    path = Path(path)
    file = str(path)
    digest = hashlib.sha256()
    with opened(path) as stream:
        start = stream.read(FIRST_LOOK)
        digest.update(start)
        head = parsed_head(start, file=file)
        faults = {index: one.fault for index, one in enumerate(head.columns) if one.fault is not None}
        rows = _Rows(head, path, faults)
        for block, first_line in _blocks(start, stream, head, digest, file):
            rows.take(block, first_line)
    samples = rows.joined()
    source = Source(file, digest.hexdigest())
    details = dict(head.details)
    interval = details.pop(INTERVAL_KEY, "")
    return Recording(
        signals=_signals(head, samples, source, interval, faults),
        path=path,
        format=NAME,
        title=details.get("Title", ""),
        details=details,
        warnings=head.warnings,
        unfinished=rows.unfinished,
        set_aside=_set_aside(head, faults),
    )


def _set_aside(head: FileHead, faults: Mapping[int, CorrelateError]) -> tuple[SetAside, ...]:
    return tuple(SetAside(head.columns[index].name, faults[index]) for index in sorted(faults))


_BEGUN_NUMBER: Final = re.compile(rb"[+-]?\d*[.,]?\d*(?:[eEdD][+-]?)?")


class _Rows:
    """Takes block after block; a last row without a line break that is not whole is left out."""

    def __init__(self, head: FileHead, path: Path, faults: dict[int, CorrelateError]) -> None:
        self._head = head
        self._path = path
        self._faults = faults
        self._tables: list[NDArray[np.float64]] = []
        self._latest = -np.inf
        self._rows = 0
        self._limits = current_limits()
        self.unfinished: UnfinishedError | None = None

    def take(self, block: bytes, first_line: int) -> None:
        """Take a block of whole lines, or the rest of the file behind the last line break."""
        self._rows += block.count(b"\n")
        self._limits.refuse_table(self._rows, len(self._head.columns), str(self._path))
        if block.endswith(b"\n"):
            self._keep(self._table(block, first_line, self._faults))
            return
        try:
            refuse_cut_file(self._path, separator=self._head.layout.separator)
            faults = dict(self._faults)
            table = self._table(block, first_line, faults)
            self._refuse_begun_number(block, faults)
        except FormatError as error:
            self.unfinished = UnfinishedError(error.what, where=error.where, remedy=error.remedy)
        else:
            self._faults |= faults
            self._keep(table)

    def joined(self) -> list[NDArray[np.float64]]:
        """Return every column as one array, shape ``(rows,)``, read-only, and let go of the blocks."""
        tables, self._tables = self._tables, []
        count_recording(sum(table.nbytes for table in tables), str(self._path))
        if self.unfinished is not None and sum(table.shape[1] for table in tables) < 2:
            raise self.unfinished
        return _joined(tables, str(self._path))

    def _keep(self, table: NDArray[np.float64]) -> None:
        if table.shape[1]:
            self._latest = float(table[self._head.time, -1])
            self._tables.append(table)

    def _refuse_begun_number(self, row: bytes, faults: Mapping[int, CorrelateError]) -> None:
        """Refuse a last cell that is no number where one may just have begun."""
        last = len(self._head.columns) - 1
        cell = row.rsplit(self._head.layout.separator.encode())[-1].strip()
        if last in faults and last not in self._faults and _BEGUN_NUMBER.fullmatch(cell):
            fault = faults[last]
            raise FormatError(fault.what, where=fault.where, remedy=fault.remedy)

    def _table(self, block: bytes, first_line: int, faults: dict[int, CorrelateError]) -> NDArray[np.float64]:
        """Return the rows of a block, shape ``(columns, rows)``, after a check that time goes on.

        Reading stops where the times are no numbers or no other column is left.
        """
        head, file = self._head, str(self._path)
        table = usable_columns(block, head.layout, file=file, first_line=first_line, faults=faults)
        if head.time in faults:
            raise faults[head.time]
        refuse_unusable(_set_aside(head, faults), len(head.columns) - 1 - len(faults))
        time = table[head.time]
        stuck = np.flatnonzero(np.diff(time, prepend=self._latest) <= 0)
        if stuck.size:
            row = int(stuck[0])
            lines = data_lines(block, head.layout, first_line)
            number, _ = next(itertools.islice(lines, row, None))
            before = self._latest if row == 0 else time[row - 1]
            unit = head.columns[head.time].unit
            raise SignalError(
                f"the time {time[row]:.9g} {unit} is not above that of the row before, {before:.9g} {unit}",
                where=f"{file}, line {number}",
                remedy="export it again with times in increasing order",
            )
        return table


def _blocks(
    start: bytes, stream: BinaryIO, head: FileHead, digest: hashlib._Hash, file: str
) -> Iterator[tuple[bytes, int]]:
    """Yield blocks of whole lines and the number of their first line."""
    waiting = start[head.size :]
    number = head.lines + 1
    while more := stream.read(_BLOCK):
        digest.update(more)
        end = more.rfind(b"\n") + 1
        if not end:
            raise FormatError(
                f"the line is longer than {_BLOCK // 2**20} MiB",
                where=f"{file}, line {number + waiting.count(10)}",
                remedy="check that it is the file you mean",
            )
        block = b"".join((waiting, memoryview(more)[:end]))
        yield block, number
        number += block.count(b"\n")
        waiting = more[end:]
    whole = waiting[: waiting.rfind(b"\n") + 1]
    if whole:
        yield whole, number
    if len(whole) < len(waiting):
        yield waiting[len(whole) :], number + whole.count(b"\n")


def _joined(tables: list[NDArray[np.float64]], file: str) -> list[NDArray[np.float64]]:
    """Return every column as one array, shape ``(rows,)``, read-only."""
    rows = sum(table.shape[1] for table in tables)
    if rows < 2:
        raise FormatError(
            "there is no row of numbers below the header"
            if rows == 0
            else "there is one row of numbers only",
            where=file,
            remedy="export it again with at least two rows",
        )
    if len(tables) == 1:
        return list(tables[0])
    columns = []
    for index in range(tables[0].shape[0]):
        column = np.concatenate([table[index] for table in tables])
        column.flags.writeable = False
        columns.append(column)
    return columns


def _signals(
    head: FileHead,
    samples: list[NDArray[np.float64]],
    source: Source,
    interval: str,
    faults: Container[int],
) -> tuple[Signal, ...]:
    time_s = samples[head.time] * conversion_factor(head.columns[head.time].unit, "s")
    # The times themselves as samples tell, once for all channels, whether the step counts as constant.
    times = signal_on_constant_step(
        time_s, time_s, unit="s", channel=head.columns[head.time].name, source=source
    )
    even = np.array_equal(times.samples, time_s)
    step_s = _stated_step(interval, time_s, times.step_s, source.file) if even else times.step_s
    signals = []
    for index, column in enumerate(head.columns):
        if index == head.time or index in faults:
            continue
        history = (_read_step(head, index, source, time_s.size),)
        if even:
            signal = Signal(
                samples=samples[index],
                start_s=times.start_s,
                step_s=step_s,
                unit=column.unit,
                channel=column.name,
                source=source,
                history=history + times.history,
            )
        else:
            signal = signal_on_constant_step(
                time_s,
                samples[index],
                unit=column.unit,
                channel=column.name,
                source=source,
                history=history,
            )
        signals.append(signal)
    return tuple(signals)


def _stated_step(interval: str, time_s: NDArray[np.float64], step_s: float, file: str) -> float:
    """Return the time step that a comment states, if there is one and the times agree with it."""
    if not interval:
        return step_s
    stated = plain_number(interval)
    if stated is not None and stated > 0:
        expected = time_s[0] + stated * np.arange(time_s.size)
        if np.abs(expected - time_s).max() <= 4 * np.spacing(np.abs(time_s).max()):
            return stated
    raise FormatError(
        f"the comment '{INTERVAL_KEY}: {interval}' does not agree with the times",
        where=file,
        remedy="take the comment out",
    )


def _read_step(head: FileHead, index: int, source: Source, rows: int) -> Step:
    settings = {
        "format": NAME,
        "file": source.file,
        "channel": head.columns[index].name,
        "unit": head.columns[index].unit,
        "rows": rows,
        "time_unit": head.columns[head.time].unit,
        "separator": SEPARATORS[head.layout.separator],
        "decimal_mark": head.layout.decimal,
    }
    return Step("read", settings)
