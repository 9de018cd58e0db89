"""The table that states the health of the reference data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import channel_title
from dashboard import paths
from dashboard.components.controls import NO_NUMBER, head_row, state, with_label
from dashboard.components.data import CASES_PART, data_link, data_part
from dashboard.components.paging import pager
from dashboard.laboratory import CheckedCase
from dashboard.selection import write_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import CaseHealth, LoadCase
    from dashboard.laboratory import CampaignHealth


def health_table(found: CampaignHealth, search: str | None) -> list[Component]:
    """Return one row per load case, each with a link to its repeats; those not examined yet are last."""
    columns = [
        ("Load case", "name"),
        ("State", "state"),
        ("Tests", "few"),
        ("Channels", "few"),
        ("Errors", "few"),
        ("Warnings", "few"),
        ("Waived", "few"),
        ("Missing", "few"),
        ("Repeatability", "repeatability"),
        ("Checked", "checked"),
    ]
    listed: list[CheckedCase | LoadCase] = [*found.cases, *found.waiting]
    part = data_part(listed, search, CASES_PART)
    rows = [_row(one, search) if isinstance(one, CheckedCase) else _waiting_row(one) for one in part.rows]
    return [
        html.P(_words(found), className="limits-words", role="status"),
        html.Table(
            [head_row(columns), html.Tbody(rows)],
            className="lines health-lines",
        ),
        *pager(part, "Load cases", data_link(search, CASES_PART)),
        html.P(
            "Worst first. Tests are checked again when a file changes. Missing: planned channels that a test "
            "lacks. Repeatability: rating of the tests against each other in the channel that agrees least.",
            className="note",
        ),
    ]


def _words(found: CampaignHealth) -> str:
    count = len(found.cases)
    open_cases = sum(not one.health.is_sound for one in found.cases)
    if found.waiting:
        so_far = f"{open_cases} {'needs' if open_cases == 1 else 'need'} attention so far."
        return f"Checking the tests: {count} of {count + len(found.waiting)} load cases checked. {so_far}"
    if open_cases:
        return f"{open_cases} of {count} load cases {'needs' if open_cases == 1 else 'need'} attention."
    return f"All {count} load cases are complete, with no open error or warning."


def _waiting_row(case: LoadCase) -> html.Tr:
    """Return the row of a load case that is not examined yet, with the same columns as the others."""
    cells = [html.Td(NO_NUMBER, className="cell-few") for _ in range(6)]
    code = [html.Span(case.name, className="note")] if case.title else []
    name: list[Component | str] = [case.title or case.name, *code]
    return html.Tr(
        [
            html.Th(name, scope="row", className="cell-name"),
            html.Td(state("waiting", "quiet"), className="cell-state"),
            *cells,
            html.Td(NO_NUMBER, className="cell-repeatability"),
            html.Td(NO_NUMBER, className="cell-checked"),
        ],
        className="is-waiting",
    )


def _row(one: CheckedCase, search: str | None) -> html.Tr:
    health = one.health
    if health.problem and not one.checked:
        counts = [NO_NUMBER] * 6
    else:
        tests = f"{len(health.tests)} of {health.expected_tests}"
        numbers = (health.channels, health.errors, health.warnings, health.waived, health.missing_channels)
        counts = [tests, *map(str, numbers)]
    labels = ("Tests", "Channels", "Errors", "Warnings", "Waived", "Missing")
    loud = (health.errors, health.warnings, health.missing_channels)
    classes = {"Errors": loud[0], "Warnings": loud[1], "Missing": loud[2]}
    return html.Tr(
        [
            html.Th(_name(health, search), scope="row", className="cell-name"),
            html.Td(_state(health), className="cell-state"),
            *(
                html.Td(
                    with_label(label, count),
                    className=f"cell-few{' is-loud' if classes.get(label) else ''}",
                )
                for label, count in zip(labels, counts, strict=True)
            ),
            html.Td(_repeatability(health), className="cell-repeatability"),
            html.Td(with_label("Checked", one.checked or NO_NUMBER), className="cell-checked"),
        ],
        className="" if health.is_sound else "is-open",
    )


def _state(health: CaseHealth) -> html.Span:
    """Return the state of a load case."""
    if health.problem or health.errors:
        return state("cannot be checked" if health.problem else "errors", "bad")
    if not health.is_sound:
        return state("incomplete" if _lacks(health) else "warnings", "doubtful")
    return state("nothing open", "quiet")


def _lacks(health: CaseHealth) -> bool:
    return bool(health.missing) or len(health.tests) < health.expected_tests


def _repeatability(health: CaseHealth) -> list[Component]:
    where = channel_title(health.weakest.channel) if health.weakest else ""
    return [
        *with_label("Repeatability", health.repeatability_words),
        html.Span(where, className="note"),
    ]


def _name(health: CaseHealth, search: str | None) -> list[Component]:
    case = health.load_case
    query = {"case": case.name, "channel": health.worst_channel, "repeat": "", "package": "", "job": ""}
    link = dcc.Link(case.title or case.name, href=paths.REPEATS + write_query(query, search))
    tags = [html.Span("held out of tuning", className="tag")] if case.held_out else []
    code = [html.Span(case.name, className="note")] if case.title else []
    missing = [
        f"missing in {test}: {', '.join(map(channel_title, channels))}"
        for test, channels in health.missing.items()
    ]
    released = [one.words for one in health.released]
    problem = [health.problem] if health.problem else []
    notes = [html.Span(words, className="note is-absent") for words in (*problem, *missing, *released)]
    return [link, *tags, *code, *notes]
