"""Menus that pages share."""

from __future__ import annotations

from typing import Any, Final

import dash_mantine_components as dmc

_LIST: Final[dict[str, Any]] = {"shadow": "md", "transitionProps": {"duration": 0}}


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
