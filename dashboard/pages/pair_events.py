"""Which address an event on the pair page leads to."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from correlate import CorrelateError
from dashboard import ids
from dashboard.address import Address
from dashboard.components import pair_ids
from dashboard.menus import menus
from dashboard.pages.pair_address import PARTS, PairAddress
from dashboard.selection import number_text, without_repetition

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate import Campaign
    from dashboard.pages.page import Event

PAIR: Final[dict[str, str]] = {
    "release": ids.RELEASE,
    "case": ids.CASE,
    "repeat": ids.REPEAT,
    "channel": ids.CHANNEL,
    "cfc": ids.CFC,
    "start_ms": ids.START,
    "end_ms": ids.END,
}
"""Field of the pair that each menu or field of the page sets."""

CHANGE: Final[dict[str, str]] = {
    "shift_ms": pair_ids.SHIFT,
    "scale": pair_ids.SCALE,
    "offset": pair_ids.OFFSET,
}
"""Change of the curve that each slider sets."""

PICKED: Final[dict[str, str]] = (
    PAIR
    | CHANGE
    | {
        "others": pair_ids.OTHERS,
        "parts": pair_ids.PARTS,
        "interval": pair_ids.INTERVAL,
    }
)
"""Everything on the page that one can set, with its id."""

_CLEARED: Final[dict[str, dict[str, str]]] = {
    ids.CASE: {"repeat": "", "channel": "", "cfc": "", "start_ms": "", "end_ms": ""},
    ids.CHANNEL: {"cfc": ""},
}
"""What loses its meaning when something else is picked."""

_ANOTHER_MODEL: Final = frozenset({ids.CASE, ids.CHANNEL, ids.RELEASE})
"""What leads to another curve of a model, so that a change of the old one has no meaning."""


def address_after(campaign: Campaign, event: Event) -> PairAddress:
    """Return the address that an event leads to.

    Parameters
    ----------
    campaign
        Of the project.
    event
        From the browser.

    Returns
    -------
    PairAddress
        That of the URL, or after a pick the one that names everything picked.
    """
    before = PairAddress.from_search(event.search)
    picked, trigger = event.picked, event.trigger
    # A field may report itself before the menus are filled: then there is nothing picked yet.
    if trigger is None or trigger not in PICKED.values() or not any(picked[name] for name in PAIR):
        return before
    if trigger in CHANGE.values():
        named = _named(campaign, before.pair)
        return replace(before, pair=named).changed({name: picked[name] for name in CHANGE})
    after = replace(
        before,
        pair=_pair_after(campaign, trigger, picked),
        others=tuple(picked["others"] or ()),
        parts=tuple(part for part in PARTS if part in (picked["parts"] or ())),
    )
    if trigger in _ANOTHER_MODEL:
        after = after.changed({"shift_ms": 0.0, "scale": 1.0, "offset": 0.0})
    if trigger in {ids.CASE, ids.START, ids.END, pair_ids.INTERVAL}:
        after = after.looking_at(None)
    return replace(after, others=tuple(name for name in after.others if name != after.pair.release))


def window_of(relayout: Mapping[str, Any] | None, whole_ms: Sequence[float]) -> tuple[float, float] | None:
    """Return the time that the picture was zoomed to.

    Parameters
    ----------
    relayout
        What the picture says of a change of its axes.
    whole_ms
        Start and end of all that is drawn.

    Returns
    -------
    tuple of float or None
        None for all of it.
    """
    said = relayout or {}
    ends = said.get("xaxis.range") or [said.get("xaxis.range[0]"), said.get("xaxis.range[1]")]
    if None in ends:
        return None
    left, right = (float(end) for end in ends)
    return None if left <= whole_ms[0] and right >= whole_ms[1] else (left, right)


def _pair_after(campaign: Campaign, trigger: str, picked: Mapping[str, Any]) -> Address:
    texts = {name: _text(picked[name]) for name in PAIR}
    if trigger == pair_ids.INTERVAL:
        texts |= dict(zip(("start_ms", "end_ms"), map(_text, picked["interval"]), strict=True))
    return _named(campaign, Address(**(texts | _CLEARED.get(trigger, {}))))


def _named(campaign: Campaign, asked: Address) -> Address:
    """Return an address that names everything that is shown, and nothing that the campaign says anyway."""
    shown = menus(campaign, asked)
    named = replace(
        asked,
        release=shown.release.value or asked.release,
        case=shown.case.value or asked.case,
        repeat=shown.repeat.value or asked.repeat,
        channel=shown.channel.value or asked.channel,
    )
    try:
        return without_repetition(campaign, named)
    except CorrelateError:  # said when the pair is looked up
        return named


def _text(value: object) -> str:
    """Return what a menu or field holds as an address writes it."""
    if isinstance(value, (int, float)):
        return number_text(value)
    return "" if value is None else str(value)
