"""The table that states the health of the reference data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import channel_title
from dashboard import paths
from dashboard.components.controls import NO_NUMBER, head_row, state, with_label
from dashboard.components.data import CASES_PART, data_link, data_part
from dashboard.components.paging import pager
from dashboard.selection import write_query

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

    from correlate import CaseHealth
    from dashboard.laboratory import CheckedCase


def health_table(found: Sequence[CheckedCase], search: str | None) -> list[Component]:
    """Return one row per load case, in the order given, each with a link to its repeats."""
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
    part = data_part(found, search, CASES_PART)
    open_cases = sum(not one.health.is_sound for one in found)
    words = (
        f"{open_cases} of {len(found)} load cases {'needs' if open_cases == 1 else 'need'} attention."
        if open_cases
        else f"All {len(found)} load cases are complete, with no open error or warning."
    )
    return [
        html.P(words, className="limits-words"),
        html.Table(
            [head_row(columns), html.Tbody([_row(one, search) for one in part.rows])],
            className="lines health-lines",
        ),
        *pager(part, "Load cases", data_link(search, CASES_PART)),
        html.P(
            "Worst first. Tests are checked again when a file changes. Missing: planned channels that a test "
            "lacks. Repeatability: rating of the tests against each other in the channel that agrees least.",
            className="note",
        ),
    ]


def _row(one: CheckedCase, search: str | None) -> html.Tr:
    health = one.health
    moment = f"{one.moment:%Y-%m-%d %H:%M} UTC" if one.moment else NO_NUMBER
    if health.problem and one.moment is None:
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
            html.Td(with_label("Checked", moment), className="cell-checked"),
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
