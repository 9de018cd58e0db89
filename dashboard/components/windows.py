"""The repeats against the windows of a qualification test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

from correlate.plots import qualification_words, rounded, unit_words, verdict_words, window_strip
from dashboard.components.cells import NO_NUMBER, head_row
from dashboard.components.labelled import DECORATION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

    from correlate import Qualification, QuantityVerdict


def window_parts(found: Sequence[Qualification], names: Sequence[str]) -> list[Component]:
    """Return every quantity of every repeat against its window.

    Parameters
    ----------
    found
        One a repeat, all against the same windows; at least one.
    names
        Of the tests, in their order.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    window = found[0].window
    columns = [("quantity", "quantity"), ("window", "window"), ("", "strip")]
    head = head_row([*columns, *((name, "repeat") for name in names)])
    rows = [_row(verdicts) for verdicts in zip(*(one.verdicts for one in found), strict=True)]
    words = qualification_words(found)
    return [
        html.P(f"{words[0].upper()}{words[1:]}.", className="limits-words"),
        html.Div(
            html.Table([head, html.Tbody(rows)], className="lines window-lines"),
            className="wide",
            tabIndex="0",
        ),
        *_reasons(found, names),
        html.P(f"{window.device}: {window.test}; {window.provenance}.", className="note"),
    ]


def _row(verdicts: Sequence[QuantityVerdict]) -> html.Tr:
    first = verdicts[0]
    limits = f"{rounded(first.low)} to {rounded(first.high)} {unit_words(first.unit)}"
    return html.Tr(
        [
            html.Th(first.words, scope="row", className="cell-quantity"),
            html.Td(limits, className="cell-window"),
            html.Td(_strip(verdicts), className="cell-strip"),
            *(html.Td(_cell(verdict), className="cell-repeat") for verdict in verdicts),
        ]
    )


def _cell(verdict: QuantityVerdict) -> list[Component]:
    value = NO_NUMBER if verdict.value is None else rounded(verdict.value)
    kind = "note" if verdict.verdict == "inside" else "note is-outside"
    return [html.Span(value, className="line-number"), html.Span(verdict_words(verdict), className=kind)]


def _strip(verdicts: Sequence[QuantityVerdict]) -> html.Div:
    strip = window_strip(verdicts)
    band = html.Span(
        className="strip-window", style={"left": f"{strip.low:.2%}", "right": f"{1 - strip.high:.2%}"}
    )
    marks = [
        html.Span(className="strip-mark", style={"left": f"{mark:.2%}"})
        for mark in strip.marks
        if mark is not None
    ]
    return html.Div([band, *marks], className="strip", **DECORATION)


def _reasons(found: Sequence[Qualification], names: Sequence[str]) -> list[Component]:
    """Say once why a quantity could not be measured, and in which repeats."""
    where: dict[tuple[str, str], list[str]] = {}
    for name, one in zip(names, found, strict=True):
        for verdict in one.verdicts:
            if verdict.reason:
                where.setdefault((verdict.words, verdict.reason), []).append(name)
    entries = [
        html.Li(f"{words[0].upper()}{words[1:]} ({', '.join(tests)}): {reason}")
        for (words, reason), tests in where.items()
    ]
    return [html.Ul(entries, className="assumptions")] if entries else []
