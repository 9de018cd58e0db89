"""The menus of the repeats page and their selection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate import CorrelateError
from dashboard.menus import Menu, channel_menu, menu_of
from dashboard.pages.repeats_address import NO_CROSS_PLOT, WIDTHS, across_channel, window_names

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import Campaign, LoadCase


def repeats_menus(campaign: Campaign, asked: Mapping[str, str]) -> dict[str, Any]:
    """Return options and value of every menu; a name that is not there leaves its menu open.

    Parameters
    ----------
    campaign
        Of the project.
    asked
        Text by key of the query.

    Returns
    -------
    dict
        By the names of the outputs of the page.
    """
    case = menu_of({one.name: one.title or one.name for one in campaign.load_cases}, asked["case"])
    nothing = Menu(options=[], value=None)
    found = {"case": case, "channel": nothing, "across": nothing}
    if case.value is not None:
        load_case = campaign.load_case(case.value)
        channel = channel_menu(load_case, asked["channel"])
        found |= {"channel": channel, "across": _across(load_case, channel, asked["across"])}
    found["width"] = menu_of(WIDTHS, asked["width"])
    found["windows"] = _windows(asked["windows"])
    return {
        **{f"{name}_options": one.options for name, one in found.items()},
        **{name: one.value for name, one in found.items()},
    }


def _across(load_case: LoadCase, channel: Menu, name: str) -> Menu:
    """Return the other channels, and that there is no cross-plot."""
    words: dict[str, str] = {NO_CROSS_PLOT: "No cross-plot"}
    for option in _flat(channel_menu(load_case, "")):
        if option["value"] != channel.value:
            words[option["value"]] = option["label"]
    if channel.value is None:
        return menu_of(words, NO_CROSS_PLOT)
    try:
        shown = across_channel(load_case, load_case.plan(channel.value), name)
    except CorrelateError:  # said when the channel is looked up
        return Menu(options=menu_of(words, "").options, value=None)
    return menu_of(words, NO_CROSS_PLOT if shown is None else shown.test)


def _windows(name: str) -> Menu:
    groups: dict[str, list[dict[str, str]]] = {}
    for key, (device, test) in window_names().items():
        groups.setdefault(device, []).append({"value": key, "label": test})
    options: list[Any] = [{"group": "", "items": [{"value": "", "label": "No windows"}]}]
    options += [{"group": device, "items": items} for device, items in groups.items()]
    return Menu(options=options, value=name if name in window_names() else "")


def _flat(menu: Menu) -> list[dict[str, str]]:
    found: list[Any] = []
    for entry in menu.options:
        found += entry.get("items", [entry])
    return found
