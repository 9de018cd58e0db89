"""Read a text in columns by its layout."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import signal_on_constant_step
from correlate.errors import SignalError
from correlate.files import opened
from correlate.formats.columns.blocks import read_blocks
from correlate.formats.columns.cells import RowReader
from correlate.formats.columns.rows import texts
from correlate.formats.columns.table import read_table
from correlate.formats.cut_end import refuse_cut_file
from correlate.formats.recording import Recording
from correlate.signal import Signal, Source, Step
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from correlate.formats.columns.layout import Column, ColumnLayout
    from correlate.formats.columns.rows import TimedRows

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
        key and column, called for instance ``node 12 x``.

    Raises
    ------
    FormatError
        The file cannot be opened, is no text, or a line is not what the layout says.
    ChannelError
        Two channels have the same name.
    SignalError
        The times do not increase, or are too uneven.
    """
    path = Path(path)
    file = str(path)
    digest = hashlib.sha256()
    rows = RowReader(layout, file)
    with opened(path) as stream:
        pieces = texts(stream, digest, file)
        if layout.block is None:
            found = read_table(pieces, layout, rows, file)
        else:
            found = read_blocks(pieces, layout, layout.block, rows, file)
    refuse_cut_file(path, separator=None)
    _check_increasing(found, layout, file)
    source = Source(file, digest.hexdigest())
    return Recording(signals=_signals(found, layout, source), path=path, format=NAME)


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


def _signals(found: TimedRows, layout: ColumnLayout, source: Source) -> tuple[Signal, ...]:
    time_s = found.times * conversion_factor(layout.time_unit, "s")
    # The times themselves as samples tell, once for all channels, whether the step counts as constant.
    times = signal_on_constant_step(time_s, time_s, unit="s", channel="time", source=source)
    even = np.array_equal(times.samples, time_s)
    settings = _settings(layout, source, time_s.size)
    signals = []
    for (name, column), samples in zip(found.channels, found.samples, strict=True):
        read = Step("read", settings | _own_settings(name, column))
        if even:
            signal = Signal(
                samples=samples,
                start_s=times.start_s,
                step_s=times.step_s,
                unit=column.unit,
                channel=name,
                source=source,
                history=(read, *times.history),
            )
        else:
            signal = signal_on_constant_step(
                time_s, samples, unit=column.unit, channel=name, source=source, history=(read,)
            )
        signals.append(signal)
    return tuple(signals)


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
