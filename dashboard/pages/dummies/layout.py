"""The layout of the dummies page, and what it shows of a choice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import dcc, html

from correlate import REGISTER_FILE
from correlate.plots import (
    control_chart_figure,
    control_chart_keys,
    day_words,
    overview_title,
    quantity_remarks,
    signals_words,
)
from dashboard import ids, paths
from dashboard.components.controls import empty_state, graph, labelled, menu
from dashboard.components.dummies import (
    LISTED,
    chart_legend,
    chart_sources,
    dummies_table,
    dummy_facts,
    history_table,
    remark_list,
    result_parts,
    sensors_table,
)
from dashboard.components.paging import part_of
from dashboard.components.states import loading, not_yet
from dashboard.pages.dummies.address import PARTS, quantities, quantity_key, result_key
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import DummyState, KeptQualification, LaboratoryOverview
    from correlate.plots import Theme
    from dashboard.components.dummies import PartLink
    from dashboard.menus import Group
    from dashboard.pages.dummies.address import DummyChoice

NAME: Final = "dummies"
"""Of the page, in its ids."""
_COMMAND: Final = "correlate qualify DATA --device DEVICE --test TEST --keep laboratory.toml"


def content() -> html.Div:
    """Return the places of everything that is shown."""
    facts = html.Section(id=ids.DUMMIES_FACTS, className="card dummy-facts", **labelled("Dummy"))
    result = html.Section(
        id=ids.DUMMIES_RESULT, className="card inspection-card", hidden=True, **labelled("Result")
    )
    shown = html.Div(
        [
            result,
            html.Section(id=ids.DUMMIES_LIST, className="card", **labelled("Dummies")),
            html.Div([_chart_card(), facts], className="dummy-columns"),
            html.Section(id=ids.DUMMIES_HISTORY, className="card", **labelled("Qualification results")),
            html.Section(id=ids.DUMMIES_SENSORS, className="card", **labelled("Sensors")),
        ],
        id=ids.DUMMIES_SHOWN,
        hidden=True,
    )
    heading = html.Div(id=ids.DUMMIES_HEADING, className="heading")
    parts = html.Div([heading, html.Div(id=ids.DUMMIES_PROBLEM), shown])
    waited = {ids.DUMMIES_FIGURE: "figure"}
    return html.Div(loading(parts, "runs", "Reading register and results", waited))


def _chart_card() -> html.Section:
    quantity = html.Div(menu(ids.DUMMIES_QUANTITY, "Quantity"), id=ids.DUMMIES_MENU)
    measured = html.Div(
        [
            html.Div(id=ids.DUMMIES_REMARKS, role="status"),
            html.Div(id=ids.DUMMIES_LEGEND),
            graph(ids.DUMMIES_FIGURE, kind="control-chart"),
            html.Div(id=ids.DUMMIES_SOURCES),
        ],
        id=ids.DUMMIES_MEASURED,
    )
    head = html.Div([html.H2(id=ids.DUMMIES_TITLE), quantity], className="card-head")
    parts = [head, measured, html.Div(id=ids.DUMMIES_EMPTY)]
    return html.Section(parts, className="card", **labelled("Control chart"))


def no_register() -> html.Section:
    """Return what to do where the project has no register."""
    example = (
        '[[dummy]]\nserial = "KM-W-002"\ntype = "KELP-M"\n\n[[interval]]\ntest = "head drop"\nmonths = 12'
    )
    return not_yet(
        "No register of dummies yet",
        "This page shows which dummies and sensors are due, how the results of qualification tests change "
        "over time, and the effect of exchanged parts.",
        [
            html.Span([f"Write the register {REGISTER_FILE} beside the campaign file:", html.Pre(example)]),
            html.Span(["Save the results of qualification tests:", html.Pre(_COMMAND)]),
            "Reload this page.",
        ],
    )


def heading(overview: LaboratoryOverview, back: str) -> list[Component]:
    """Return what is overdue, on which day, and on how many dummies something is to be looked at.

    ``back`` is the address of today where another day is shown.
    """
    count = sum(bool(one.signals) for one in overview.dummies)
    signals = (
        f"Open signals on {count} {'dummy' if count == 1 else 'dummies'}." if count else "No open signal."
    )
    laboratory = f"{overview.register.laboratory}, " if overview.register.laboratory else ""
    day = day_words(overview.due.day)
    words = f"{laboratory}{'state on ' if back else ''}{day}. {signals} "
    link = dcc.Link("Show today", href=back) if back else None
    return [html.H1(overview_title(overview)), html.P([words, link], className="heading-case")]


def quantity_menu(choice: DummyChoice) -> dict[str, Any]:
    """Return the options of the menu of quantities, grouped by test, and which is picked."""
    groups: list[Group] = []
    for test in choice.state.tests:
        items = [
            {
                "value": quantity_key(test, one),
                "label": " · ".join([one.words, *one.open_signals]),
            }
            for one in test.quantities
        ]
        groups.append({"group": test.test, "items": items})
    value = (
        None if choice.test is None or choice.quantity is None else quantity_key(choice.test, choice.quantity)
    )
    return {"quantity_options": groups, "quantity": value}


def parts_of(
    overview: LaboratoryOverview, choice: DummyChoice, theme: Theme, search: str | None
) -> dict[str, Any]:
    """Return what the page shows of a choice."""
    state = choice.state

    def select(other: DummyState) -> str:
        known = quantities(other)
        key = quantity_menu(choice)["quantity"]
        asked = {
            "dummy": other.dummy.serial,
            "quantity": key if key in known else "",
            "result": "",
            PARTS["results"]: "",
        }
        return paths.DUMMIES + write_query(asked, search)

    return {
        "list": dummies_table(
            part_of(overview.dummies, asked_part(search, "dummies"), rows=LISTED),
            picked=state,
            link=select,
            part_link=link_of(search, "dummies"),
        ),
        "title": state.dummy.serial,
        **_chart(choice, theme),
        "facts": dummy_facts(state),
        "history": _history(choice, search),
        **_result(choice, search),
    }


def parts_without_dummies() -> dict[str, Any]:
    """Return what the page shows of a register of sensors alone."""
    words = "Add a [[dummy]] with its serial number and type to the register."
    return {
        "list": empty_state("The register has no dummies", words),
        "title": "No dummies",
        "measured_hidden": True,
        "empty": "",
        "facts": "",
        "history": "",
        "result_hidden": True,
    }


def _chart(choice: DummyChoice, theme: Theme) -> dict[str, Any]:
    if choice.test is None or choice.quantity is None:
        words = f"Save the result of a qualification test with: {_COMMAND}"
        return {
            "measured_hidden": True,
            "empty": empty_state(f"No result of {choice.state.dummy.serial} is saved yet", words),
        }
    exchanges = choice.state.dummy.exchanges(choice.test.test)
    figure = control_chart_figure(choice.quantity, exchanges=exchanges, theme=theme)
    return {
        "measured_hidden": False,
        "empty": "",
        "legend": chart_legend(control_chart_keys(figure)),
        "remarks": remark_list(
            quantity_remarks(choice.quantity, exchanges=exchanges, due=choice.state.due_of(choice.test.test))
        ),
        "figure": figure,
        "sources": chart_sources(choice.quantity),
    }


def _history(choice: DummyChoice, search: str | None) -> list[Component]:
    results = choice.state.results
    title = html.H2(f"Qualification results of {choice.state.dummy.serial}")
    if not results:
        return [title, html.P("No result is saved yet.", className="note")]

    def details(one: KeptQualification) -> str:
        return paths.DUMMIES + write_query(
            {"dummy": choice.state.dummy.serial, "result": result_key(one)}, search
        )

    rows = history_table(
        part_of(results, asked_part(search, "results"), rows=LISTED),
        picked=choice.result,
        link=details,
        part_link=link_of(search, "results"),
    )
    return [title, *rows]


def sensors(overview: LaboratoryOverview, search: str | None) -> list[Component]:
    """Return the sensors of the register."""
    return sensors_table(overview, asked_part(search, "sensors"), link_of(search, "sensors"))


def asked_part(search: str | None, table: str) -> str:
    """Return the part of a table that the URL selects."""
    return read_query(search, [PARTS[table]])[PARTS[table]]


def link_of(search: str | None, table: str) -> PartLink:
    """Return a function that gives the URL of a part of a table from its number."""
    return lambda number: paths.DUMMIES + write_query({PARTS[table]: number}, search)


def _result(choice: DummyChoice, search: str | None) -> dict[str, Any]:
    if choice.result is None:
        return {"result_hidden": True, "result": ""}
    close = paths.DUMMIES + write_query({"result": ""}, search)
    return {"result_hidden": False, "result": result_parts(choice.result, close)}


def tab_title(overview: LaboratoryOverview, choice: DummyChoice) -> str:
    """Return what the tab is called."""
    found = signals_words(choice.state.signals) or overview_title(overview)
    return f"{choice.state.dummy.serial}: {found}"
