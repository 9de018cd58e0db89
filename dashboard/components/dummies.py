"""Tables and lists of dummies, their results, exchanged parts and sensors."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from dash import dcc, html

from correlate.plots import (
    CONTROL_SOURCE,
    INTERVALS,
    RANGE_SOURCE,
    RUN_SOURCE,
    as_sentence,
    channel_title,
    due_words,
    number,
    result_words,
    rounded,
    setting_facts,
    signals_words,
    with_unit,
)
from dashboard.components.controls import DECORATION, NO_NUMBER, head_row, state, with_label
from dashboard.components.laboratory import facts
from dashboard.components.paging import ListPart, pager, part_of

if TYPE_CHECKING:
    from collections.abc import Sequence

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
    from correlate.plots import ChartKey, Remark
    from dashboard.components.controls import State


LISTED: Final = 20
"""Rows of one part of a table; with all tables full, the page sends less than 200 kB."""

PartLink = Callable[[str], str]
"""Returns the URL of a part of a table from its number."""


def dummies_table(
    part: ListPart[DummyState],
    *,
    picked: DummyState,
    link: Callable[[DummyState], str],
    part_link: PartLink,
) -> list[Component]:
    """Return one row per dummy, each a link that selects it; the selected dummy is always included."""
    columns = [
        ("Dummy", "name"),
        ("Type", "kind"),
        ("Build", "build"),
        ("Last qualification", "last"),
        ("Next due", "due"),
        ("Open signals", "signals"),
    ]
    elsewhere = [] if any(one is picked for one in part.rows) else [picked]
    rows = [_dummy_row(one, is_picked=one is picked, link=link(one)) for one in [*part.rows, *elsewhere]]
    return [
        html.Table([head_row(columns), html.Tbody(rows)], className="lines dummy-lines"),
        *pager(part, "Dummies", part_link),
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
        return [state("no result saved", "doubtful")]
    newest = one.results[0]
    kind = "beside" if newest.passed else "beside is-outside"
    return [
        *with_label("Last", newest.date.isoformat()),
        html.Span(result_words(newest), className=kind),
        html.Span(newest.test, className="note"),
    ]


def _next_due(one: DummyState) -> list[Component]:
    if not one.due:
        return [html.Span("no interval in the register", className="note")]
    first = one.due[0]
    if first.overdue:
        more = f", and {len(one.overdue) - 1} more" if len(one.overdue) > 1 else ""
        reason = f"{first.test}: {first.reason}{more}"
        return [state("overdue", "bad"), html.Span(reason, className="note")]
    day = NO_NUMBER if first.due is None else first.due.isoformat()
    left = "" if first.tests_left is None else f"{first.tests_left} tests left"
    return [
        *with_label("Due", day),
        html.Span(left, className="beside"),
        html.Span(first.test, className="note"),
    ]


def dummy_facts(one: DummyState) -> list[Component]:
    """Return what is due of a dummy, its exchanged parts in the order of time, and what it is made of."""
    due = [html.Li(_due_item(due.test, due_words(due), overdue=due.overdue)) for due in one.due]
    known = [("Type", one.dummy.type), ("Build", one.dummy.build_level)]
    known += [("Body parts", ", ".join(one.dummy.assemblies))]
    parts = [
        (
            "Next due",
            html.Ul(due, className="due-items")
            if due
            else _note("The register has no interval for this type of dummy."),
        ),
        (
            "Parts exchanged",
            html.Ol([_exchange_item(exchange) for exchange in one.exchanges], className="time-line")
            if one.exchanges
            else _note("The register has no exchange of parts."),
        ),
        ("Register", facts([(name, text) for name, text in known if text])),
    ]
    return [html.Div([html.H2(title), part]) for title, part in parts]


def _note(words: str) -> html.P:
    return html.P(words, className="note")


def _due_item(test: str, words: str, *, overdue: bool) -> list[Component]:
    said = state(f"overdue: {words}", "bad") if overdue else html.Span(as_sentence(words), className="note")
    return [html.Span(test, className="due-test"), said]


def _exchange_item(one: Exchange) -> html.Li:
    tests = f" Can influence: {', '.join(one.tests)}." if one.tests else ""
    return html.Li(
        [
            html.Span(one.date.isoformat(), className="time-line-day"),
            html.Span(one.part, className="time-line-part"),
            html.Span(f"{as_sentence(one.reason)} Exchanged by: {one.who}.{tests}", className="note"),
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


def chart_legend(keys: Sequence[ChartKey]) -> html.Ul:
    """Return what is what in the chart."""
    return html.Ul([html.Li([_key(one), one.words]) for one in keys], className="chart-legend")


def _key(one: ChartKey) -> html.Span:
    if one.mark:
        return html.Span(one.mark, className="chart-mark", style={"color": one.colour}, **DECORATION)
    line = f"{one.width:g}px {'dashed' if one.is_dashed else 'solid'} {one.colour}"
    return html.Span(className="key", style={"borderTop": line}, **DECORATION)


def chart_sources(history: QuantityHistory) -> list[Component]:
    """Return what the lines of the chart are and where they come from."""
    newest = history.results[-1]
    low, high = history.windows[-1]
    window = with_unit(f"{rounded(low)} to {rounded(high)}", history.unit)
    sources = [
        f"Window: {window}, {newest.device}, {newest.source}",
        f"Upper panel: {CONTROL_SOURCE}, for each part between two exchanges; {RUN_SOURCE}",
        f"Lower panel: {RANGE_SOURCE}",
        INTERVALS,
    ]
    return [_note(as_sentence(words)) for words in sources]


def history_table(
    part: ListPart[KeptQualification],
    *,
    picked: KeptQualification | None,
    link: Callable[[KeptQualification], str],
    part_link: PartLink,
) -> list[Component]:
    """Return one row per result, each with a link to its details."""
    columns = [
        ("Day", "moment"),
        ("Test", "name"),
        ("Result", "result"),
        ("Recording", "recording"),
        ("", "link"),
    ]
    rows = [_history_row(one, link(one), is_picked=one is picked) for one in part.rows]
    return [
        html.Table([head_row(columns), html.Tbody(rows)], className="lines history-lines"),
        *pager(part, "Results", part_link),
        html.P(part.rows[0].caution, className="note caution"),
    ]


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
    """Return every quantity of a saved result against its window, and what the result is based on."""
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
                *setting_facts(one),
            ]
        ),
        html.Details([html.Summary("Hashes of the recorded channels (SHA-256)"), html.Ul(inputs)]),
        html.P(one.caution, className="note"),
    ]


def _quantity_row(one: KeptQuantity) -> html.Tr:
    value = NO_NUMBER if one.value is None else with_unit(rounded(one.value), one.unit)
    window = with_unit(f"{rounded(one.low)} to {rounded(one.high)}", one.unit)
    reason = [html.Span(one.reason, className="note")] if one.reason else []
    kinds: dict[str, State] = {"inside": "quiet", "outside": "bad", "not measurable": "doubtful"}
    return html.Tr(
        [
            html.Th(f"{one.words[:1].upper()}{one.words[1:]}", scope="row", className="cell-quantity"),
            html.Td(
                with_label("Window", window),
                className="cell-window",
            ),
            html.Td(with_label("Value", value), className="cell-number"),
            html.Td([state(one.verdict, kinds[one.verdict]), *reason], className="cell-result"),
        ]
    )


def sensors_table(overview: LaboratoryOverview, asked: str, part_link: PartLink) -> list[Component]:
    """Return one row per sensor, overdue calibrations first; ``asked`` is the part in the URL."""
    known = overview.due.sensors
    if not known:
        return [html.H2("Sensors"), _note("The register has no sensors.")]
    columns = [
        ("Sensor", "name"),
        ("Place", "place"),
        ("Calibration due", "due"),
        ("Calibrated", "moment"),
        ("Sensitivity", "few"),
        ("Range", "few"),
        ("Polarity", "few"),
    ]
    late = sum(one.overdue for one in known)
    words = (
        f"{late} of {len(known)} calibrations {'is' if late == 1 else 'are'} overdue."
        if late
        else f"No calibration of {len(known)} is overdue."
    )
    by_serial = {one.serial: one for one in overview.register.sensors}
    part = part_of(known, asked, rows=LISTED)
    rows = [_sensor_row(due, by_serial[due.serial]) for due in part.rows]
    return [
        html.H2("Sensors"),
        html.P(words, className="limits-words"),
        html.Table([head_row(columns), html.Tbody(rows)], className="lines sensor-lines"),
        *pager(part, "Sensors", part_link),
    ]


def _sensor_row(due: DueSensor, sensor: Sensor) -> html.Tr:
    day = due.due.isoformat()
    until = [state(f"overdue: valid until {day}", "bad")] if due.overdue else with_label("Due", day)
    sensitivity = f"{number(due.sensitivity)} {sensor.sensitivity_unit}".rstrip()
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
                with_label("Range", with_unit(f"± {number(sensor.range)}", sensor.unit)),
                className="cell-few",
            ),
            html.Td(
                with_label("Polarity", "inverted" if sensor.polarity < 0 else "normal"), className="cell-few"
            ),
        ]
    )
