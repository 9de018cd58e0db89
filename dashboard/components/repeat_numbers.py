"""The repeatability of a channel: what all repeats say together, and each of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

from correlate import repeat_numbers
from correlate.plots import milliseconds, repeatability_facts, rounded, unit_words
from dashboard.components.cells import head_row, number, with_label
from dashboard.components.provenance import facts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dash.development.base_component import Component

    from correlate import ChannelRepeats, OneRepeat


def repeat_tables(found: ChannelRepeats, names: Sequence[str]) -> list[Component]:
    """Return the numbers of the repeats as parts of a page.

    Parameters
    ----------
    found
        Of one channel.
    names
        Of the tests, in the order of the repeats.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    numbers = repeat_numbers(found.repeats, found.ceiling)
    unit = found.repeats.unit
    columns = [("repeat", "name"), (f"peak [{unit_words(unit)}]", "number"), ("at", "number")]
    head = head_row([*columns, ("moved by", "number"), ("rating against the others", "number")])
    rows = [
        _row(place, name, one)
        for place, (name, one) in enumerate(zip(names, numbers.repeats, strict=True), 1)
    ]
    parts: list[Component] = [
        html.H2("Repeatability"),
        facts(repeatability_facts(numbers, found.ceiling, unit)),
        html.Table([head, html.Tbody(rows)], className="lines repeat-lines"),
    ]
    if found.corridor is not None:
        parts.append(
            html.Details(
                [
                    html.Summary("Assumptions behind this corridor"),
                    html.Ul(
                        [html.Li(words) for words in found.corridor.assumptions], className="assumptions"
                    ),
                ]
            )
        )
    return parts


def _row(place: int, name: str, one: OneRepeat) -> html.Tr:
    cells = [
        ("peak", rounded(one.peak)),
        ("at", milliseconds(round(one.peak_s, 7))),
        ("moved by", milliseconds(round(one.shift_s, 7))),
        ("rating", number(one.rating)),
    ]
    return html.Tr(
        [
            html.Th(f"{place} · {name}", scope="row", className="cell-name"),
            *(html.Td(with_label(label, value), className="cell-number") for label, value in cells),
        ]
    )
