"""Write delimited text: commas, decimal points, units in brackets, numbers that read back exactly."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.conditioning import signal_on_constant_step
from correlate.errors import CorrelateError, FormatError
from correlate.files import FIRST_LOOK, whole_file
from correlate.formats.delimited.header import COMMENT, SEPARATORS, FileHead, parsed_head
from correlate.formats.delimited.reading import INTERVAL_KEY
from correlate.formats.text import encoded, shortened

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.formats.recording import Recording
    from correlate.signal import Signal

_ROWS_AT_ONCE: Final = 4096


def write(recording: Recording, path: str | Path) -> None:
    """Write a recording as delimited text.

    Details are written as comments above the header; header lines of another format are not kept.

    Parameters
    ----------
    recording
        Its signals must share start, time step and number of samples.
    path
        The file. An older one is replaced, once the new one is complete.

    Raises
    ------
    FormatError
        The signals have different times, a name, unit or detail would not be read back unchanged, or the
        file cannot be written.
    """
    path = Path(path)
    _check_one_time_base(recording.signals, path)
    details = dict(recording.details)
    if recording.title:
        details.setdefault("Title", recording.title)
    head = encoded("".join(f"{line}\n" for line in _head_lines(recording.signals, details)))
    _check_reads_back(head, recording.signals, details, path)
    with whole_file(path) as stream:
        stream.write(head)
        for text in _rows(recording.signals):
            stream.write(text.encode("ascii"))


def _check_one_time_base(signals: tuple[Signal, ...], path: Path) -> None:
    if not signals:
        raise FormatError("there is no channel to write", where=str(path), remedy="give at least one signal")
    first = signals[0]
    for signal in signals[1:]:
        if (signal.start_s, signal.step_s, len(signal)) != (first.start_s, first.step_s, len(first)):
            raise FormatError(
                f"'{signal.channel}' and '{first.channel}' have different times",
                where=str(path),
                remedy="resample them to one grid, or write separate files",
            )


def _head_lines(signals: tuple[Signal, ...], details: dict[str, str]) -> Iterator[str]:
    for key, text in details.items():
        for line in text.split("\n"):
            yield f"{COMMENT} {key}: {line}"
    time = signals[0]
    times = signal_on_constant_step(time.time_s, time.time_s, unit="s", channel="time", source=time.source)
    if times.step_s != time.step_s:
        yield f"{COMMENT} {INTERVAL_KEY}: {time.step_s!r}"
    cells = ["time [s]", *(f"{signal.channel} [{signal.unit}]" for signal in signals)]
    yield ",".join(_quoted(cell) for cell in cells)


def _quoted(cell: str) -> str:
    """Quote a cell that holds a quote or any separator: the reader tells the separator from the header."""
    return '"' + cell.replace('"', '""') + '"' if set(cell) & {'"', *SEPARATORS} else cell


def _check_reads_back(head: bytes, signals: tuple[Signal, ...], details: dict[str, str], path: Path) -> None:
    """Refuse names, units and details that the reader would take for something else."""
    try:
        seen = parsed_head(head[:FIRST_LOOK], file=str(path))
    except CorrelateError as error:
        raise FormatError(
            f"this cannot be written as delimited text ({error.what})",
            where=str(path),
            remedy="use other names",
        ) from error
    for signal, column in zip(signals, seen.columns[1:], strict=False):
        if column.fault is not None:
            raise FormatError(
                f"this cannot be written as delimited text ({column.fault.what})",
                where=str(path),
                remedy="use other names",
            )
        if (column.name, column.unit) != (signal.channel, signal.unit.strip()):
            raise _not_kept(f"the name '{shortened(signal.channel)}'", path)
    for key, text in details.items():
        if _kept(seen, key) != text:
            raise _not_kept(f"the detail '{shortened(key)}'", path)


def _kept(seen: FileHead, key: str) -> str | None:
    return None if key == INTERVAL_KEY else seen.details.get(key)


def _not_kept(what: str, path: Path) -> FormatError:
    return FormatError(
        f"{what} would not be read back unchanged",
        where=str(path),
        remedy="use one line without leading or trailing blanks",
    )


def _rows(signals: tuple[Signal, ...]) -> Iterator[str]:
    """Yield the rows as text, some thousand at a time."""
    columns = [signals[0].time_s, *(signal.samples for signal in signals)]
    for begin in range(0, columns[0].size, _ROWS_AT_ONCE):
        part = zip(*(column[begin : begin + _ROWS_AT_ONCE].tolist() for column in columns), strict=True)
        yield "".join(",".join(map(repr, row)) + "\n" for row in part)
