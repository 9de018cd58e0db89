"""An unknown text file and its layout, in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from rich.padding import Padding
from rich.text import Text

from correlate.report.table import TextTable
from correlate.toml import toml_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from rich.console import Console

    from correlate.formats import Recording
    from correlate.formats.columns.looking import Look
    from correlate.formats.columns.proposal import LayoutProposal, Question

_LEVELS: Final = "▁▂▃▄▅▆▇█"
_SKETCH: Final = 20
"""Characters of a sketch; with name, unit and extremes it fits 80 columns."""
_BETWEEN: Final = {"": "blanks", "\t": "tabs"}
_SHOWN_ROWS: Final = 3


def sketch(values: NDArray[np.float64], width: int = _SKETCH) -> str:
    """Return the course of a curve in one line of text.

    Examples
    --------
    >>> sketch(np.array([0.0, 1.0, 2.0, 3.0]), width=4)
    '▁▃▆█'
    """
    present = values[np.isfinite(values)]
    if present.size == 0:
        return ""
    pieces = [piece.mean() for piece in np.array_split(present, min(width, present.size))]
    low, high = min(pieces), max(pieces)
    span = high - low or 1.0
    return "".join(_LEVELS[round((one - low) / span * (len(_LEVELS) - 1))] for one in pieces)


def print_look(console: Console, proposal: LayoutProposal) -> None:
    """Print what an unknown file looks like: title, first rows, and every column with a sketch."""
    look = proposal.look
    console.print(Text(str(look.path), style="bold"), soft_wrap=True)
    for line in (*look.titles[:_SHOWN_ROWS], *look.header, *look.first_rows[:_SHOWN_ROWS]):
        console.print(Padding(Text(line.expandtabs(), style="dim", overflow="fold"), (0, 0, 0, 2)))
    console.print(Text(_arrangement(look, proposal)))
    table = TextTable()
    for heading in ("column", "holds"):
        table.add_column(heading)
    for heading in ("lowest", "highest"):
        table.add_column(heading, justify="right")
    table.add_column("course")
    for column in look.columns:
        holds = proposal.unit_of(column) or proposal.guessed_quantity(column) or "?"
        values = column.values[np.isfinite(column.values)]
        extremes = (f"{values.min():.4g}", f"{values.max():.4g}") if values.size else ("", "")
        course = "text" if column.is_text else sketch(column.values)
        table.add_row(column.name, holds, *extremes, course)
    console.print(table)


def _arrangement(look: Look, proposal: LayoutProposal) -> str:
    """Return in one sentence where the rows are and what the times are."""
    is_counted = look.columns[0].characters is not None
    between = _BETWEEN.get(look.separator, repr(look.separator))
    columns = "fixed width" if is_counted else f"separated by {between}"
    steps = "no time column found"
    if proposal.time_values is not None:
        step = float(np.median(np.diff(proposal.time_values)))
        place = f"in '{proposal.time.name}'" if proposal.time is not None else "above each block"
        steps = f"times {place}, step {step:.6g}"
    skipped = f", {len(look.skip_like)} patterns of lines to skip" if look.skip_like else ""
    return f"{_begin(look)}, {len(look.columns)} columns, {columns}{skipped}; {steps}."


def _begin(look: Look) -> str:
    if look.block is None:
        return f"Rows from line {look.skip_lines + 1}"
    return f"{look.block.times.size} blocks of rows below '{look.block.start}'"


def print_questions(console: Console, questions: Sequence[Question]) -> None:
    """Print what the file does not say, as the options that answer it."""
    console.print("No layout was written. Open questions:")
    for question in questions:
        option, value = _option(question)
        console.print(Padding(Text(f"{option} {value}", style="bold"), (0, 0, 0, 2)))
        why = f" Proposed because {question.reason}." if question.proposal else f" {question.reason}"
        console.print(Padding(Text(f"{question.text[:1].upper()}{question.text[1:]}{why}"), (0, 0, 0, 6)))
    console.print("Repeat the command with these options, or accept all proposed values with --accept.")


def _option(question: Question) -> tuple[str, str]:
    options = {
        "units": "--units",
        "time": "--time",
        "missing": "--missing",
        "normal end": "--normal-end",
    }
    if question.about in options:
        return options[question.about], toml_value(question.proposal) if question.proposal else "…"
    return "--column", toml_value(f"{question.about}={question.proposal or '…'}")


def layout_toml(words: Mapping[str, Any], source: str) -> str:
    """Return a layout file, one line per key and per column."""
    lines = [f"# Layout of text files such as {source}."]
    for key, value in words.items():
        if key == "columns":
            lines += ["columns = [", *(f"  {toml_value(column)}," for column in value), "]"]
        else:
            lines.append(f"{key} = {toml_value(value)}")
    return "\n".join(lines) + "\n"


def print_recording(console: Console, recording: Recording) -> None:
    """Print the channels that a layout gives: unit, time span, extremes and course."""
    table = TextTable()
    table.add_column("channel")
    table.add_column("unit")
    for heading in ("from ms", "to ms", "lowest", "highest"):
        table.add_column(heading, justify="right")
    table.add_column("course")
    for signal in recording.signals:
        numbers = (1e3 * signal.start_s, 1e3 * signal.end_s, signal.samples.min(), signal.samples.max())
        table.add_row(
            signal.channel, signal.unit, *(f"{number:.4g}" for number in numbers), sketch(signal.samples, 16)
        )
    console.print(table)
    if recording.unfinished is not None:
        console.print(Text(f"Unfinished: {recording.unfinished}"))
