"""The menus and fields that pick a pair and say how it is compared."""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc
from dash import html

from dashboard import ids
from dashboard.components.labelled import labelled

_LIST: Final[dict[str, Any]] = {"shadow": "md", "transitionProps": {"duration": 0}}


def controls() -> html.Aside:
    """Return the menus, empty until the campaign is read.

    Returns
    -------
    dash.html.Aside
    """
    return html.Aside(
        [
            html.Section(
                [
                    html.H2("Pair"),
                    _menu(ids.RELEASE, "Model release"),
                    _menu(ids.CASE, "Load case"),
                    _menu(ids.REPEAT, "Repeat of the test"),
                    _menu(ids.CHANNEL, "Channel"),
                ]
            ),
            html.Section(
                [
                    html.H2("Filter and interval"),
                    _menu(ids.CFC, "Channel frequency class"),
                    html.Div(
                        [_field(ids.START, "From [ms]"), _field(ids.END, "To [ms]")], className="interval"
                    ),
                    html.Div(id=ids.CHANGES, className="changes", role="status"),
                ],
                className="treatment",
            ),
        ],
        id=ids.CONTROLS,
        className="controls",
        **labelled("What is compared"),
    )


def _menu(menu_id: str, label: str) -> dmc.Select:
    return dmc.Select(
        id=menu_id,
        label=label,
        data=[],
        allowDeselect=False,
        checkIconPosition="right",
        comboboxProps=_LIST,
        maxDropdownHeight=360,
        placeholder="choose",
    )


def _field(field_id: str, label: str) -> dmc.NumberInput:
    return dmc.NumberInput(id=field_id, label=label, debounce=True, hideControls=True, decimalScale=4)
