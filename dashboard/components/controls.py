"""Menus, and the fields of the pair page that pick a pair and say how it is compared."""

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
                    menu(ids.RELEASE, "Model release"),
                    menu(ids.CASE, "Load case"),
                    menu(ids.REPEAT, "Repeat of the test"),
                    menu(ids.CHANNEL, "Channel"),
                ]
            ),
            html.Section(
                [
                    html.H2("Filter and interval"),
                    menu(ids.CFC, "Channel frequency class"),
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


def menu(menu_id: str, label: str, placeholder: str = "choose") -> dmc.Select:
    """Return a menu, empty until a callback fills it.

    Parameters
    ----------
    menu_id
        From ``ids``.
    label
        Above it.
    placeholder
        Shown while nothing is picked.

    Returns
    -------
    dash_mantine_components.Select
    """
    return dmc.Select(
        id=menu_id,
        label=label,
        data=[],
        allowDeselect=False,
        checkIconPosition="right",
        comboboxProps=_LIST,
        maxDropdownHeight=360,
        placeholder=placeholder,
    )


def _field(field_id: str, label: str) -> dmc.NumberInput:
    return dmc.NumberInput(id=field_id, label=label, debounce=True, hideControls=True, decimalScale=4)
