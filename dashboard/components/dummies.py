"""Tables and lists of dummies, their results, exchanged parts and sensors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import dcc, html

from correlate.plots import (
    INTERVALS,
    LIMITS_SOURCE,
    as_sentence,
    channel_title,
    due_words,
    number,
    result_words,
    rounded,
    signals_words,
    unit_words,
)
from dashboard.components.controls import NO_NUMBER, head_row, state, with_label
from dashboard.components.laboratory import facts

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from dash.development.base_component import Component

    from correlate import (
        DueSensor,
        DummyState,
        Exchange,
        KeptQualification,
        KeptQuantity,
        LaboratoryOverview,
        QuantityHistory,
        Sensor,
    )
    from correlate.plots import Remark


MOST_RESULTS: Final = 40
"""Results that are listed at first."""


def dummies_table(
    states: Sequence[DummyState], picked: str, link: Callable[[DummyState], str]
) -> list[Component]:
    """Return one row per dummy, each a link that selects it."""
    columns = [
        ("Dummy", "name"),
        ("Type", "kind"),
        ("Build", "build"),
        ("Last qualification", "last"),
        ("Next due", "due"),
        ("Open signals", "signals"),
    ]
    rows = [_dummy_row(one, is_picked=one.dummy.serial == picked, link=link(one)) for one in states]
    return [
        html.Div(
            html.Table([head_row(columns), html.Tbody(rows)], className="lines dummy-lines"),
            className="dummy-list",
        ),
        html.P("Overdue dummies first, then those with open signals.", className="note"),
    ]


def _dummy_row(one: DummyState, *, is_picked: bool, link: str) -> html.Tr:
    dummy = one.dummy
    name = dcc.Link(dummy.serial, href=link, className="row-link", title="Show this dummy")
    signals = signals_words(one.signals)
    return html.Tr(
        [
            html.Th(name, scope="row", className="cell-name"),
            html.Td(with_label("Type", dummy.type), className="cell-kind"),
            html.Td(with_label("Build", dummy.build_level or NO_NUMBER), className="cell-build"),
            html.Td(_last(one), className="cell-last"),
            html.Td(_next_due(one), className="cell-due"),
            html.Td(
                state(signals, "doubtful") if signals else state("none", "quiet"), className="cell-signals"
            ),
        ],
        className="pick-row is-picked" if is_picked else "pick-row",
    )


def _last(one: DummyState) -> list[Component]:
    if not one.results:
        return [state("no result kept", "doubtful")]
    newest = one.results[0]
    return [
        *with_label("Last", newest.date.isoformat()),
        html.Span(result_words(newest), className="note" if newest.passed else "note is-outside"),
        html.Span(newest.test, className="note"),
    ]


def _next_due(one: DummyState) -> list[Component]:
    if not one.due:
        return [html.Span("no interval in the register", className="note")]
    first = one.due[0]
    if first.overdue:
        more = f", and {len(one.overdue) - 1} more" if len(one.overdue) > 1 else ""
        reason = f"{first.test}: {first.reason}{more}"
        return [state("overdue", "bad"), html.Span(reason, className="note is-outside")]
    day = NO_NUMBER if first.due is None else first.due.isoformat()
    left = [] if first.tests_left is None else [html.Span(f"{first.tests_left} tests left", className="note")]
    return [*with_label("Due", day), html.Span(first.test, className="note"), *left]


def dummy_facts(one: DummyState) -> list[Component]:
    """Return what is due of a dummy, its exchanged parts in the order of time, and what it is made of."""
    due = [html.Li(_due_item(due.test, due_words(due), overdue=due.overdue)) for due in one.due]
    known = [("Type", one.dummy.type), ("Build", one.dummy.build_level)]
    known += [("Body parts", ", ".join(one.dummy.assemblies))]
    return [
        html.H2("Next due"),
        html.Ul(due, className="due-items")
        if due
        else html.P("The register has no interval for this type of dummy.", className="note"),
        html.H2("Parts exchanged"),
        html.Ol([_exchange_item(exchange) for exchange in one.exchanges], className="time-line")
        if one.exchanges
        else html.P("The register has no exchange of parts.", className="note"),
        html.H2("Register"),
        facts([(name, text) for name, text in known if text]),
    ]


def _due_item(test: str, words: str, *, overdue: bool) -> list[Component]:
    said = state(f"overdue: {words}", "bad") if overdue else html.Span(as_sentence(words), className="note")
    return [html.Span(test, className="due-test"), said]


def _exchange_item(one: Exchange) -> html.Li:
    tests = f" Can influence: {', '.join(one.tests)}." if one.tests else ""
    return html.Li(
        [
            html.Span(one.date.isoformat(), className="time-line-day"),
            html.Span(one.part, className="time-line-part"),
            html.Span(f"{as_sentence(one.reason)} {one.who}.{tests}", className="note"),
        ]
    )


def remark_list(remarks: Sequence[Remark]) -> html.Ul:
    """Return what a quantity shows over time; what is to be looked at is marked and first."""
    ordered = sorted(remarks, key=lambda one: not one.is_open)
    entries = [
        html.Li(state(one.words, "doubtful") if one.is_open else one.words, className="remark")
        for one in ordered
    ]
    return html.Ul(entries, className="remarks")


def chart_sources(history: QuantityHistory) -> list[Component]:
    """Return what the lines of the chart are and where they come from."""
    newest = history.results[-1]
    low, high = history.windows[-1]
    unit = unit_words(history.unit)
    window = f"Window: {rounded(low)} to {rounded(high)} {unit} ({newest.device}, {newest.source})."
    return [html.P(words, className="note") for words in (window, LIMITS_SOURCE, INTERVALS)]


def history_table(
    results: Sequence[KeptQualification],
    link: Callable[[KeptQualification], str],
    picked: KeptQualification | None,
) -> html.Table:
    """Return one row per result, each with a link to its details."""
    columns = [
        ("Day", "moment"),
        ("Test", "name"),
        ("Result", "result"),
        ("Recording", "recording"),
        ("", "link"),
    ]
    rows = [_history_row(one, link(one), is_picked=one is picked) for one in results]
    return html.Table([head_row(columns), html.Tbody(rows)], className="lines history-lines")


def _history_row(one: KeptQualification, link: str, *, is_picked: bool) -> html.Tr:
    said = state(result_words(one), "quiet" if one.passed else "bad")
    what = f"Details of {one.test}, {one.date.isoformat()}"
    return html.Tr(
        [
            html.Td(with_label("Day", one.date.isoformat()), className="cell-moment"),
            html.Th(one.test, scope="row", className="cell-name"),
            html.Td(said, className="cell-result"),
            html.Td(html.Span(one.recording, className="note"), className="cell-recording"),
            html.Td(dcc.Link("Details", href=link, title=what), className="cell-link"),
        ],
        className="is-picked" if is_picked else "",
    )


def result_parts(one: KeptQualification, close: str) -> list[Component]:
    """Return every quantity of a kept result against its window, and what it stands on."""
    columns = [("Quantity", "quantity"), ("Window", "window"), ("Value", "number"), ("Verdict", "result")]
    inputs = [html.Li([html.Code(channel), f" {sha256}"]) for channel, sha256 in one.inputs.items()]
    written = f"{one.written:%Y-%m-%d %H:%M} UTC, version {one.version}"
    return [
        html.Div(
            [
                html.H2(f"{one.dummy}: {one.test}, {one.date.isoformat()}"),
                dcc.Link("Close", href=close, className="close-link"),
            ],
            className="card-head",
        ),
        html.P(as_sentence(result_words(one)), className="limits-words"),
        html.Table(
            [head_row(columns), html.Tbody([_quantity_row(quantity) for quantity in one.quantities])],
            className="lines result-lines",
        ),
        facts(
            [
                ("Windows", f"{one.device}, {one.source}"),
                ("Recording", one.recording),
                ("Kept", written),
                *_conditions(one),
            ]
        ),
        html.Details([html.Summary("Hashes of the recorded channels (SHA-256)"), html.Ul(inputs)]),
        html.P(one.caution, className="note"),
    ]


def _quantity_row(one: KeptQuantity) -> html.Tr:
    unit = unit_words(one.unit)
    value = NO_NUMBER if one.value is None else f"{rounded(one.value)} {unit}"
    reason = [html.Span(one.reason, className="note")] if one.reason else []
    kinds = {"inside": "quiet", "outside": "bad", "not measurable": "doubtful"}
    return html.Tr(
        [
            html.Th(f"{one.words[:1].upper()}{one.words[1:]}", scope="row", className="cell-quantity"),
            html.Td(
                with_label("Window", f"{rounded(one.low)} to {rounded(one.high)} {unit}"),
                className="cell-window",
            ),
            html.Td(with_label("Value", value), className="cell-number"),
            html.Td([state(one.verdict, kinds[one.verdict]), *reason], className="cell-result"),
        ]
    )


def _conditions(one: KeptQualification) -> list[tuple[str, str]]:
    """Return the settings of the comparison, flat."""
    found: list[tuple[str, str]] = []
    for name, value in one.settings.items():
        inner = value if isinstance(value, dict) else {name: value}
        found += [(key.replace("_", " "), _setting(text)) for key, text in inner.items()]
    return found


def _setting(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "not given" if value is None else str(value)


def sensors_table(overview: LaboratoryOverview) -> list[Component]:
    """Return one row per sensor, overdue calibrations first."""
    if not overview.due.sensors:
        return [html.H2("Sensors"), html.P("The register has no sensors.", className="note")]
    columns = [
        ("Sensor", "name"),
        ("Place", "place"),
        ("Calibration due", "due"),
        ("Calibrated", "moment"),
        ("Sensitivity", "few"),
        ("Range", "few"),
        ("Polarity", "few"),
    ]
    late = sum(one.overdue for one in overview.due.sensors)
    words = (
        f"{late} of {len(overview.due.sensors)} calibrations {'is' if late == 1 else 'are'} overdue."
        if late
        else f"No calibration of {len(overview.due.sensors)} is overdue."
    )
    by_serial = {one.serial: one for one in overview.register.sensors}
    rows = [_sensor_row(due, by_serial[due.serial]) for due in overview.due.sensors]
    return [
        html.H2("Sensors"),
        html.P(words, className="limits-words"),
        html.Div(
            html.Table([head_row(columns), html.Tbody(rows)], className="lines sensor-lines"),
            className="held",
            tabIndex="0",
        ),
    ]


def _sensor_row(due: DueSensor, sensor: Sensor) -> html.Tr:
    day = due.due.isoformat()
    until = [state(f"overdue since {day}", "bad")] if due.overdue else with_label("Due", day)
    sensitivity = f"{number(sensor.latest.sensitivity)} {sensor.sensitivity_unit}".rstrip()
    return html.Tr(
        [
            html.Th(due.serial, scope="row", className="cell-name"),
            html.Td(
                [channel_title(sensor.channel), html.Span(sensor.channel, className="note")],
                className="cell-place",
            ),
            html.Td(until, className="cell-due"),
            html.Td(with_label("Calibrated", due.calibrated.isoformat()), className="cell-moment"),
            html.Td(with_label("Sensitivity", sensitivity), className="cell-few"),
            html.Td(
                with_label("Range", f"± {number(sensor.range)} {unit_words(sensor.unit)}"),
                className="cell-few",
            ),
            html.Td(
                with_label("Polarity", "inverted" if sensor.polarity < 0 else "normal"), className="cell-few"
            ),
        ]
    )
