"""What the URL of the repeats page names, looked up in the campaign."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from correlate import (
    CorrelateError,
    prediction_corridor,
    range_corridor,
    spread_corridor,
    whole_curve_corridor,
    window_book,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from correlate import Campaign, ChannelPlan, Corridor, LoadCase, RepeatSet, Window


WIDTHS: Final[dict[str, str]] = {
    "1": "± 1 SD",
    "2": "± 2 SD",
    "3": "± 3 SD",
    "range": "Least to largest",
    "instant": "95 % of further tests, at each instant",
    "whole": "95 % of further tests, whole curve",
}
"""Corridors that can be picked, in words."""

_BANDS: Final[dict[str, Callable[[RepeatSet], Corridor]]] = {
    "range": range_corridor,
    "instant": prediction_corridor,
    "whole": whole_curve_corridor,
}

BETWEEN_NAMES: Final = "~"
"""Separator of the names of repeats in the URL."""

NO_CROSS_PLOT: Final = "none"
"""How the URL writes that there is no cross-plot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatsChoice:
    """What is shown.

    Attributes
    ----------
    load_case, channel
        Whose repeats.
    band
        Makes the corridor.
    times
        Half width of the corridor of the cross-plot in standard deviations; 1 where the corridor over time is
        measured in another way.
    across
        Channel of the x axis of the cross-plot; None for no cross-plot.
    window
        Windows that the repeats are compared with; None for none.
    names
        Of all repeats.
    shown
        Names of the repeats that are drawn.
    picked
        Name of the repeat that is drawn in front of the others; empty for none.
    """

    load_case: LoadCase
    channel: ChannelPlan
    band: Callable[[RepeatSet], Corridor]
    times: float
    across: ChannelPlan | None
    window: Window | None
    names: tuple[str, ...]
    shown: tuple[str, ...]
    picked: str


def chosen(campaign: Campaign, asked: Mapping[str, str]) -> RepeatsChoice:
    """Look up what an address names; what it leaves open is the first entry."""
    load_case = campaign.load_case(asked["case"]) if asked["case"] else campaign.load_cases[0]
    channel = load_case.plan(asked["channel"]) if asked["channel"] else load_case.channel[0]
    width = asked["width"] or "1"
    if width not in WIDTHS:
        known = ", ".join(WIDTHS)
        raise CorrelateError(
            f"'{width}' is not a valid corridor width", where="'width' in the address", remedy=f"use {known}"
        )
    names = tuple(campaign.tests(load_case))
    picked = asked["repeat"]
    shown = tuple(asked["shown"].split(BETWEEN_NAMES)) if asked["shown"] else names
    _refuse_unknown([*shown, *([picked] if picked else [])], names, load_case)
    return RepeatsChoice(
        load_case=load_case,
        channel=channel,
        band=_BANDS.get(width) or partial(spread_corridor, times=float(width)),
        times=1.0 if width in _BANDS else float(width),
        across=across_channel(load_case, channel, asked["across"]),
        window=_window(asked["windows"]),
        names=names,
        shown=shown,
        picked=picked,
    )


def shown_text(shown: Sequence[str], names: Sequence[str]) -> str:
    """Return how the URL writes which repeats are drawn; empty for all, and for none, which shows nothing.

    Examples
    --------
    >>> shown_text(["T3", "T1"], ["T1", "T2", "T3"]), shown_text(["T1"], ["T1"])
    ('T1~T3', '')
    """
    inside = [name for name in names if name in shown]
    return BETWEEN_NAMES.join(inside) if len(inside) < len(names) else ""


def _refuse_unknown(asked: Sequence[str], names: Sequence[str], load_case: LoadCase) -> None:
    for name in asked:
        if name not in names:
            raise CorrelateError(
                f"there is no repeat '{name}'",
                where=f"load case '{load_case.name}'",
                remedy=f"it has {', '.join(names)}",
            )


def with_axis(campaign: Campaign, asked: Mapping[str, str]) -> tuple[dict[str, str], str]:
    """Return what is asked for with the first axis in the place of a resultant, and the resultant's title.

    Resultants have no recording of their own; other pages select them like any channel.
    """
    cases = [case for case in campaign.load_cases if case.name == asked["case"] or not asked["case"]]
    for resultant in cases[0].resultant if cases else ():
        if resultant.name == asked["channel"]:
            return {**asked, "channel": resultant.axes[0]}, resultant.words
    return dict(asked), ""


def across_channel(load_case: LoadCase, channel: ChannelPlan, name: str) -> ChannelPlan | None:
    """Return the channel of the x axis: the one named, or the first other one."""
    if name == NO_CROSS_PLOT:
        return None
    if name and name != channel.test:
        return load_case.plan(name)
    return next((plan for plan in load_case.channel if plan.test != channel.test), None)


def window_names() -> dict[str, tuple[str, str]]:
    """Return the windows that can be asked for: device and test by the name that an address writes."""
    return {f"{one.device}: {one.test}": (one.device, one.test) for one in window_book().windows}


def _window(name: str) -> Window | None:
    if not name:
        return None
    known = window_names()
    if name not in known:
        raise CorrelateError(
            f"there are no windows '{name}'",
            where="'windows' in the address",
            remedy="select them on the page",
        )
    device, test = known[name]
    return window_book().find(device=device, test=test)
