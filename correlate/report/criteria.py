"""Criteria and qualification in the terminal and as JSON."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate.criteria import CAUTION, ExceedanceResult, NijResult, compare_recorded
from correlate.evaluation.record import input_words, plain
from correlate.report.table import TextTable
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rich.console import Console

    from correlate.criteria import (
        CriterionComparison,
        Device,
        Limit,
        Qualification,
        QuantityVerdict,
        RecordedCriteria,
        RecordedCriterion,
        Window,
    )


def qualification_json(found: Sequence[Qualification]) -> str:
    """Return recordings against the windows of one test as JSON text."""
    window = found[0].window
    return _text(
        {
            "device": window.device,
            "test": window.test,
            "source": window.provenance,
            "checked": window.checked,
            "data": [
                {
                    "file": one.path,
                    "passed": one.passed,
                    "quantities": [asdict(verdict) for verdict in one.verdicts],
                    "signals": {name: input_words(signal) for name, signal in one.signals.items()},
                }
                for one in found
            ],
            "caution": CAUTION,
            "version": VERSION,
        }
    )


def criteria_json(repeats: Sequence[RecordedCriteria], candidate: RecordedCriteria | None) -> str:
    """Return the criteria of a test, its repeats and a model as JSON text."""
    device = repeats[0].device
    compared = () if candidate is None else compare_recorded(repeats, candidate)
    return _text(
        {
            "device": {"name": device.name, "source": device.source},
            "repeats": [_recording(one) for one in repeats],
            "candidate": None if candidate is None else _recording(candidate),
            "comparison": [asdict(one) for one in compared],
            "limits": _limits(device),
            "caution": CAUTION,
            "version": VERSION,
        }
    )


def _recording(one: RecordedCriteria) -> dict[str, Any]:
    return {"file": one.path, "criteria": [_criterion(entry, one.device) for entry in one.entries]}


def _criterion(entry: RecordedCriterion, device: Device) -> dict[str, Any]:
    exceeded = device.limits_exceeded(entry.criterion.name, entry.value)
    words: dict[str, Any] = {
        "name": entry.criterion.name,
        "place": entry.place,
        "unit": entry.criterion.unit,
        "value": entry.value,
        "over_the_limit": [asdict(limit) for limit in exceeded],
        "start_s": entry.start_s,
        "end_s": entry.end_s,
        "reason": entry.reason,
        "signals": [input_words(signal) for signal in entry.signals],
    }
    if isinstance(entry.result, NijResult):
        words |= {"case": entry.result.case, "cases": dict(entry.result.cases)}
    if isinstance(entry.result, ExceedanceResult):
        worst = entry.result
        words |= {"level": worst.level, "duration_s": worst.duration_s, "limit": worst.limit}
    return words


def _limits(device: Device) -> list[dict[str, Any]]:
    return [asdict(limit) for limit in device.limits]


def _text(content: dict[str, Any]) -> str:
    return json.dumps(plain(content), indent=2, ensure_ascii=False, allow_nan=False)


def print_qualification(console: Console, found: Sequence[Qualification]) -> None:
    """Print recordings against the windows of one test: a row a quantity, a column a recording."""
    window = found[0].window
    console.print(f"{window.device}: {window.test}", style="bold")
    console.print(f"windows: {window.provenance}")
    table = _table("quantity", "unit", "window")
    names = column_names([one.path for one in found])
    for name in names:
        table.add_column(name, justify="right")
    for verdicts in zip(*(one.verdicts for one in found), strict=True):
        first = verdicts[0]
        limits = f"{significant(first.low)} to {significant(first.high)}"
        table.add_row(first.words, unit_words(first.unit), limits, *(_cell(verdict) for verdict in verdicts))
    table.add_row("inside", "", "", *(_share(one) for one in found), style="bold")
    console.print(table)
    for name, one in zip(names, found, strict=True):
        at = f"{name}, " if len(found) > 1 else ""
        for verdict in one.verdicts:
            if verdict.reason:
                console.print(f"{at}{verdict.words}: not measurable, {verdict.reason}")
    console.print(CAUTION, style="dim")


def print_windows(console: Console, windows: Iterable[Window]) -> None:
    """Print which devices and tests have windows, and how far each was checked."""
    table = _table("device", "test", "windows", "source")
    for window in windows:
        table.add_row(window.device, window.test, str(len(window.limits)), window.provenance)
    console.print(table)
    console.print(CAUTION, style="dim")


def print_criteria(
    console: Console, repeats: Sequence[RecordedCriteria], candidate: RecordedCriteria | None
) -> None:
    """Print the criteria of a test, in each repeat and in the model, with errors and published limits."""
    device = repeats[0].device
    console.print(f"{device.name}; constants: {device.source}")
    console.print(_values_table(repeats, candidate))
    compared = () if candidate is None else compare_recorded(repeats, candidate)
    if compared:
        console.print(_errors_table(compared))
    for note in dict.fromkeys(one.note for one in compared if one.note):
        console.print(f"No error in standard deviations: {note}.")
    everything = [*repeats, *([] if candidate is None else [candidate])]
    limits = _limits_table(device, {entry.criterion.name for entry in _computed(repeats)})
    if limits.row_count:
        console.print(limits)
    for line in _over_the_limit(device, dict(zip(_columns(repeats, candidate), everything, strict=True))):
        console.print(line, style="bold")
    for line in _left_out(everything):
        console.print(line, style="dim")
    console.print(CAUTION, style="dim")


def column_names(paths: Sequence[str]) -> list[str]:
    """Return short names of recordings that tell them apart.

    Examples
    --------
    >>> column_names(["releases/A1/knee.csv", "releases/A2/knee.csv"]), column_names(["lab/KI01"])
    (['A1/knee', 'A2/knee'], ['KI01'])
    """
    parts = [Path(path).with_suffix("").parts for path in paths]
    for depth in range(1, max(len(one) for one in parts) + 1):
        names = ["/".join(one[-depth:]) for one in parts]
        if len(set(names)) == len(set(paths)):
            return names
    return list(paths)


def significant(value: float) -> str:
    """Return a number with about four significant digits and no exponent.

    Examples
    --------
    >>> significant(1150.11), significant(0.80417), significant(-61.776), significant(10000.0)
    ('1150', '0.8042', '-61.78', '10000')
    """
    decimals = 3 - math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:.{min(max(decimals, 0), 4)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def unit_words(unit: str) -> str:
    """Return a unit for people; nothing for a plain number.

    Examples
    --------
    >>> unit_words("Nm"), unit_words("1")
    ('N·m', '')
    """
    return {"1": "", "Nm": "N·m", "deg": "°", "m^2/s^2": "m²/s²"}.get(unit, unit)


def _table(*headings: str) -> TextTable:
    """Return a table that says by these columns what a row is, but for where it is from."""
    table = TextTable(keys=headings.index("source") if "source" in headings else len(headings))
    for heading in headings:
        table.add_column(heading, is_text=heading == "source")
    return table


def _cell(verdict: QuantityVerdict) -> str:
    if verdict.value is None or verdict.outside_by is None:
        return "not measurable"
    shown = significant(verdict.value)
    if verdict.verdict == "inside":
        return shown
    side = "below" if verdict.outside_by < 0 else "above"
    return f"{shown}, {significant(abs(verdict.outside_by))} {side}"


def _share(one: Qualification) -> str:
    return f"{one.count('inside')} of {len(one.verdicts)}"


def _computed(all_of_them: Sequence[RecordedCriteria]) -> list[RecordedCriterion]:
    return [entry for one in all_of_them for entry in one.entries if entry.result is not None]


def _left_out(all_of_them: Sequence[RecordedCriteria]) -> list[str]:
    """Return one line per reason: which criteria no recording gave, and why."""
    done = {entry.criterion.name for entry in _computed(all_of_them)}
    names: dict[str, dict[str, None]] = {}
    for one in all_of_them:
        for entry in one.entries:
            if entry.reason and entry.criterion.name not in done:
                names.setdefault(entry.reason, {})[entry.criterion.name] = None
    return [f"not computed: {'; '.join(found)}: {reason}" for reason, found in names.items()]


def _rows(one: RecordedCriteria) -> dict[tuple[str, str, str], float]:
    """Return values by name, place and unit; below Nij its cases, below a ratio where it is largest."""
    rows = {}
    for entry in one.entries:
        if entry.result is not None:
            unit = unit_words(entry.criterion.unit)
            rows[entry.criterion.name, entry.place, unit] = entry.result.value
            if isinstance(entry.result, NijResult):
                rows |= {(f"  {case}", entry.place, unit): v for case, v in entry.result.cases.items()}
            if isinstance(entry.result, ExceedanceResult):
                rows |= _worst_rows(entry, entry.result)
    return rows


def _worst_rows(entry: RecordedCriterion, worst: ExceedanceResult) -> dict[tuple[str, str, str], float]:
    """Return where the ratio of a force to its time-dependent limit is largest."""
    force, unit = entry.criterion.name.split(",")[0], next(iter(entry.criterion.channels.values()))
    return {
        (f"  {force}, governing level", entry.place, unit): worst.level,
        (f"  {force}, total time at it", entry.place, "ms"): 1e3 * worst.duration_s,
        (f"  {force}, limit for that time", entry.place, unit): worst.limit,
    }


def _values_table(repeats: Sequence[RecordedCriteria], candidate: RecordedCriteria | None) -> TextTable:
    columns = [*repeats, *([] if candidate is None else [candidate])]
    table = _table("criterion", "at", "unit")
    for name in _columns(repeats, candidate):
        table.add_column(name, justify="right")
    values = [_rows(one) for one in columns]
    for row in dict.fromkeys(key for one in values for key in one):
        cells = [one.get(row) for one in values]
        table.add_row(*row, *(_value_words(row[0], value, repeats[0].device) for value in cells))
    return table


def _columns(repeats: Sequence[RecordedCriteria], candidate: RecordedCriteria | None) -> list[str]:
    return [*column_names([one.path for one in repeats]), *([] if candidate is None else ["model"])]


def _value_words(name: str, value: float | None, device: Device) -> str:
    if value is None:
        return "–"
    return significant(value) + (", over the limit" if device.limits_exceeded(name, value) else "")


def _errors_table(compared: Sequence[CriterionComparison]) -> TextTable:
    table = _table("criterion", "unit")
    for heading in ("test", "deviation", "model", "error", "relative", "in deviations"):
        table.add_column(heading, justify="right")
    for one in compared:
        table.add_row(
            one.name,
            unit_words(one.unit),
            significant(one.reference),
            "–" if one.scatter is None else significant(one.scatter),
            significant(one.candidate),
            significant(one.error),
            "–" if one.relative_error is None else f"{100 * one.relative_error:+.1f} %",
            "–" if one.error_in_scatter is None else f"{one.error_in_scatter:+.1f}",
        )
    return table


def _limits_table(device: Device, names: set[str]) -> TextTable:
    table = _table("published limit", "at most", "source", "edition")
    for limit in device.limits:
        if limit.criterion in names:
            table.add_row(limit.criterion, significant(limit.at_most), limit.source, limit.edition)
    return table


def _over_the_limit(device: Device, columns: Mapping[str, RecordedCriteria]) -> list[str]:
    """Return one line for each limit that recordings are over."""
    lines = []
    for limit in device.limits:
        over = [name for name, one in columns.items() if _exceeds(one, limit)]
        if over:
            what = f"{limit.criterion}, at most {significant(limit.at_most)} ({limit.source})"
            lines.append(f"over the limit: {what}: {', '.join(over)}")
    return lines


def _exceeds(one: RecordedCriteria, limit: Limit) -> bool:
    return any(
        limit in one.device.limits_exceeded(entry.criterion.name, entry.value) for entry in one.entries
    )
