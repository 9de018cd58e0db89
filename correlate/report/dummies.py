"""Dummies of a laboratory in the terminal, as JSON, as CSV and as a page."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from correlate.criteria import CAUTION
from correlate.plots.history_words import (
    CONTROL_SOURCE,
    INTERVALS,
    RANGE_SOURCE,
    RUN_SOURCE,
    WINDOW_SOURCE,
    history_sentences,
    quantity_words,
)
from correlate.report.table import TextTable
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.laboratory import (
        DueList,
        Dummy,
        KeptQualification,
        QuantityHistory,
        Register,
        TestHistory,
    )

_COLUMNS: Final = (
    "dummy", "device", "test", "quantity", "unit", "date", "recording", "value", "low", "high", "verdict",
    "mean", "lower_control_limit", "upper_control_limit", "moving_range", "upper_range_limit", "alarms",
)  # fmt: skip


def print_dummies(console: Console, register: Register, due: DueList) -> None:
    """Print the dummies of a register: type, build level, last test, what is due."""
    table = TextTable(title=register.laboratory)
    for heading in ("dummy", "type", "build", "exchanges", "last test"):
        table.add_column(heading)
    table.add_column("state", is_text=True)
    for dummy in register.dummies:
        own = [one for one in due.tests if one.dummy == dummy.serial]
        last = max((one.last for one in own if one.last), default=None)
        late = [f"overdue: {one.test}, {one.reason}" for one in own if one.overdue]
        state = "; ".join(late) or ("nothing overdue" if own else "no interval is given")
        day = "–" if last is None else last.isoformat()
        table.add_row(
            dummy.serial, dummy.type, dummy.build_level or "–", str(len(dummy.exchange)), day, state
        )
    console.print(table)


def print_dummy(console: Console, dummy: Dummy, tests: Sequence[TestHistory]) -> None:
    """Print one dummy: its exchanges, and every saved result."""
    console.print(
        f"{dummy.serial}, {dummy.type}, build level {dummy.build_level or 'not given'}", style="bold"
    )
    if dummy.assemblies:
        console.print(f"body parts: {', '.join(dummy.assemblies)}")
    for one in sorted(dummy.exchange, key=lambda exchange: exchange.date):
        console.print(f"{one.date}: {one.part} exchanged ({one.reason}; {one.who})")
    for test in tests:
        console.print()
        console.print(f"{test.test}, {test.device}", style="bold")
        table = TextTable(keys=2)
        for heading in ("date", "data", "inside"):
            table.add_column(heading)
        table.add_column("outside or not measurable", is_text=True)
        for result in test.results:
            table.add_row(result.date.isoformat(), result.recording, _share(result), _missing(result))
        console.print(table)
    if not tests:
        console.print("No result is saved; save results with: correlate qualify … --keep FILE")
    console.print(CAUTION, style="dim")


def print_charts(console: Console, tests: Sequence[TestHistory]) -> None:
    """Print what every quantity of some tests shows over time."""
    for test in tests:
        console.print(f"{test.dummy.serial}: {test.test}, {len(test.results)} tests", style="bold")
        for one in test.quantities:
            console.print(f"\n{one.words}, {_level_words(one)}")
            for sentence in history_sentences(one):
                console.print(f"  {sentence}")
    console.print(f"\n{INTERVALS}", style="dim")
    console.print(CAUTION, style="dim")


def print_due(console: Console, due: DueList) -> None:
    """Print what is due on a day, overdue ones first."""
    tests = TextTable(title=f"Qualification on {due.day}")
    for heading in ("dummy", "test", "last", "state"):
        tests.add_column(heading)
    tests.add_column("reason", is_text=True)
    for one in due.tests:
        last = "–" if one.last is None else one.last.isoformat()
        tests.add_row(one.dummy, one.test, last, "overdue" if one.overdue else "in time", one.reason)
    console.print(tests)
    sensors = TextTable(title=f"Calibration on {due.day}")
    for heading in ("sensor", "channel", "calibrated", "due", "state"):
        sensors.add_column(heading)
    for sensor in due.sensors:
        state = "overdue" if sensor.overdue else "in time"
        sensors.add_row(
            sensor.serial, sensor.channel, sensor.calibrated.isoformat(), sensor.due.isoformat(), state
        )
    if sensors.row_count:
        console.print(sensors)


def dummies_json(register: Register, due: DueList) -> str:
    """Return the dummies of a register and what is due as JSON text."""
    dummies = [one.model_dump(mode="json") for one in register.dummies]
    return _text({"laboratory": register.laboratory, "dummies": dummies, "due": due_object(due)})


def due_json(due: DueList) -> str:
    """Return what is due as JSON text."""
    return _text(due_object(due))


def due_object(due: DueList) -> dict[str, Any]:
    """Return what is due as plain values."""
    return asdict(due)


def histories_json(tests: Sequence[TestHistory]) -> str:
    """Return the history of a dummy with charts and changes as JSON text."""
    content = [
        {
            "dummy": test.dummy.serial,
            "device": test.device,
            "test": test.test,
            "results": [one.model_dump(mode="json") for one in test.results],
            "quantities": [_quantity(one) for one in test.quantities],
        }
        for test in tests
    ]
    return _text({"tests": content, "intervals": INTERVALS, "caution": CAUTION, "version": VERSION})


def histories_csv(tests: Sequence[TestHistory]) -> str:
    """Return one row for every value of a history as CSV text."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for test in tests:
        for one in test.quantities:
            writer.writerows(_rows(test, one))
    return stream.getvalue()


def histories_html(tests: Sequence[TestHistory], *, title: str) -> str:
    """Write the history of a dummy as a page: a control chart and its sentences for every quantity."""
    from correlate.plots.control_chart import control_chart_figure  # noqa: PLC0415 - only a page needs the
    from correlate.plots.graph import figure_html  # noqa: PLC0415 - drawing library
    from correlate.report.html import render_page  # noqa: PLC0415

    sections = [
        {
            "test": test,
            "quantities": [
                {
                    "words": _capital(one.words),
                    "levels": _capital(_level_words(one)),
                    "sentences": history_sentences(one),
                    "figure": figure_html(control_chart_figure(one, theme="light")),
                }
                for one in test.quantities
            ],
        }
        for test in tests
    ]
    return render_page(
        "dummy.html",
        title=title,
        sections=sections,
        intervals=INTERVALS,
        sources=(WINDOW_SOURCE, CONTROL_SOURCE, RANGE_SOURCE, RUN_SOURCE),
        criteria_caution=CAUTION,
    )


def _rows(test: TestHistory, one: QuantityHistory) -> list[list[Any]]:
    rows: list[list[Any]] = []
    for at, (result, value) in enumerate(zip(one.results, one.values, strict=True)):
        verdict = "inside" if one.inside[at] else "outside"
        row: list[Any] = [
            test.dummy.serial, test.device, test.test, one.name, one.unit, result.date, result.recording,
            value, *one.windows[at], verdict,
        ]  # fmt: skip
        if one.chart is None:
            row += [""] * 6
        else:
            chart = one.chart
            row += [chart.centre[at], chart.lower[at], chart.upper[at], chart.ranges[at], chart.upper_range]
            row.append("; ".join(chart.alarms[at]))
        rows.append(["" if cell is None else cell for cell in row])
    return rows


def _quantity(one: QuantityHistory) -> dict[str, Any]:
    chart = one.chart
    return {
        "name": one.name,
        "words": one.words,
        "unit": one.unit,
        "window": [one.low, one.high],
        "dates": list(one.dates),
        "values": list(one.values),
        "chart": None
        if chart is None
        else asdict(chart) | {"lower": chart.lower, "upper": chart.upper, "upper_range": chart.upper_range},
        "changes": asdict(one.changes),
        "exchanges": [
            {
                "parts": [part.model_dump(mode="json") for part in exchange.exchanges],
                "first_value_after": exchange.at,
                "effect": None if exchange.effect is None else asdict(exchange.effect),
                "distinguishable": exchange.effect is not None and exchange.effect.is_distinguishable,
            }
            for exchange in one.exchanges
        ],
        "sentences": history_sentences(one),
    }


def _level_words(one: QuantityHistory) -> str:
    """Return window, newest value and control limits of the newest part."""
    newest = quantity_words(one.values[-1], one.unit)
    window = f"window {quantity_words(one.low, '1')} to {quantity_words(one.high, one.unit)}"
    if one.chart is None:
        return f"{window}, newest {newest}"
    low, high = one.chart.lower[-1], one.chart.upper[-1]
    limits = f"control limits {quantity_words(low, '1')} to {quantity_words(high, one.unit)}"
    return f"{window}, {limits}, newest {newest}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _share(result: KeptQualification) -> str:
    inside = sum(one.verdict == "inside" for one in result.quantities)
    return f"{inside} of {len(result.quantities)}"


def _missing(result: KeptQualification) -> str:
    return ", ".join(
        f"{one.words} {one.verdict}"
        if one.value is None
        else f"{one.words} {quantity_words(one.value, one.unit)}"
        for one in result.quantities
        if one.verdict != "inside"
    )


def _text(content: dict[str, Any]) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False, default=str)
