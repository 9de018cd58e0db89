"""The data of a project as tables: releases, tests, packages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

from dashboard.components.cells import NO_NUMBER, head_row, with_label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

    from correlate import HeldLoadCase, HeldRelease, Holdings
    from dashboard.packages import PackageNote


def releases_table(held: Holdings) -> html.Table:
    """Return the releases with their results and how much of them is rated, the last one first.

    Parameters
    ----------
    held
        By the project.

    Returns
    -------
    dash.html.Table
    """
    columns = [("Release", "name"), ("Results", "count"), ("Pairs rated", "count"), ("Last rated", "moment")]
    rows = [_release(one, held) for one in reversed(held.releases)]
    return html.Table([head_row(columns), html.Tbody(rows)], className="lines held-lines")


def tests_table(held: Holdings) -> html.Table:
    """Return the load cases with their tests.

    Parameters
    ----------
    held
        By the project.

    Returns
    -------
    dash.html.Table
    """
    columns = [("Load case", "name"), ("Tests", "count"), ("Channels", "count")]
    rows = [_load_case(one) for one in held.load_cases]
    return html.Table([head_row(columns), html.Tbody(rows)], className="lines held-lines")


def packages_list(packages: Sequence[PackageNote]) -> Component:
    """Return the packages that were sent in, those in quarantine first.

    Parameters
    ----------
    packages
        Of the project.

    Returns
    -------
    dash.development.base_component.Component
    """
    if not packages:
        return html.P("No package has been uploaded yet.", className="note")
    ordered = sorted(packages, key=lambda one: (not one.quarantine, one.name))
    return html.Ul([_package(one) for one in ordered], className="packages")


def _release(one: HeldRelease, held: Holdings) -> html.Tr:
    cases = len(held.load_cases)
    there = f"{cases - len(one.absent)} of {cases}"
    absent = (
        html.Span(f"missing: {', '.join(one.absent)}", className="note is-absent") if one.absent else None
    )
    note = html.Span(one.release.note, className="note") if one.release.note else None
    moment = f"{one.last_rated:%Y-%m-%d %H:%M} UTC" if one.last_rated else NO_NUMBER
    return html.Tr(
        [
            html.Th([html.Span(one.release.name), note, absent], scope="row", className="cell-name"),
            html.Td(with_label("Results", there), className="cell-count"),
            html.Td(with_label("Pairs rated", _rated(one.rated_pairs, held.pairs)), className="cell-count"),
            html.Td(with_label("Last rated", moment), className="cell-moment"),
        ]
    )


def _rated(pairs: int, planned: int) -> str:
    """Return how many pairs are rated; those of an older campaign file are kept, so there may be more."""
    return f"{pairs}, {planned} planned" if pairs > planned else f"{pairs} of {planned}"


def _load_case(one: HeldLoadCase) -> html.Tr:
    case = one.load_case
    held_out = html.Span("held out of tuning", className="tag") if case.held_out else None
    code = html.Span(case.name, className="note") if case.title else None
    problem = html.Span(one.problem, className="note is-absent") if one.problem else None
    name = [html.Span(case.title or case.name), held_out, code, problem]
    return html.Tr(
        [
            html.Th(name, scope="row", className="cell-name"),
            html.Td(with_label("Tests", str(len(one.tests))), className="cell-count"),
            html.Td(with_label("Channels", str(len(case.channel))), className="cell-count"),
        ]
    )


def _package(one: PackageNote) -> html.Li:
    state = "in quarantine" if one.quarantine else "received"
    signed = f"signed by {one.signed_by}" if one.signed_by else "not signed"
    words = one.problem or f"{one.folder}, {signed}"
    parts: list[Component] = [
        html.Div(
            [
                html.Span(one.name, className="package-name"),
                html.Span(state, className="tag is-quarantined" if one.quarantine else "tag"),
            ]
        ),
        html.P(words, className="note package-words"),
    ]
    if one.findings:
        title = f"{one.errors} of {len(one.findings)} findings of the data check are errors"
        entries = html.Ul([html.Li(finding) for finding in one.findings], className="assumptions")
        parts.append(html.Details([html.Summary(title), entries]))
    return html.Li(parts, className="package is-quarantined" if one.quarantine else "package")
