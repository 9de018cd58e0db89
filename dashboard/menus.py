"""What can be picked on the pair page, and what is picked: text for display, names for the address."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate import FREQUENCY_CLASSES, ChannelPlan, CorrelateError, case_pairs
from correlate.plots import channel_title, filter_words
from dashboard.selection import NO_FILTER, as_in_campaign

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import Campaign, LoadCase
    from dashboard.selection import Address

Option = dict[str, str]
Group = dict[str, "str | list[Option]"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Menu:
    """One menu.

    Attributes
    ----------
    options
        Name and words of each entry, perhaps in groups.
    value
        Name of the entry that is picked; None where the address names one that is not there.
    """

    options: list[Option] | list[Group]
    value: str | None


MEAN: Final = ""
"""Name of the mean of the repeats: an address without a repeat."""
NOTHING: Final = Menu(options=[], value=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Menus:
    """All menus of the page, and the two ends of the interval in ms."""

    release: Menu = NOTHING
    case: Menu = NOTHING
    repeat: Menu = NOTHING
    channel: Menu = NOTHING
    cfc: Menu = NOTHING
    start_ms: str = ""
    end_ms: str = ""


def menus(campaign: Campaign, address: Address) -> Menus:
    """Return the menus for an address; a name that is not there leaves its menu open."""
    notes = {one.name: f"{one.name} · {one.note}" if one.note else one.name for one in campaign.releases}
    release = menu_of(notes, address.release or campaign.releases[-1].name)
    case = menu_of({one.name: one.title or one.name for one in campaign.load_cases}, address.case)
    if case.value is None:
        return Menus(release=release, case=case)
    load_case = campaign.load_case(case.value)
    channel = channel_menu(load_case, address.channel)
    repeat = repeat_menu(campaign, load_case, address.repeat)
    plan = next((plan for plan in load_case.plans if plan.name == channel.value), None)
    if plan is None:
        return Menus(release=release, case=case, repeat=repeat, channel=channel)
    axis = plan if isinstance(plan, ChannelPlan) else load_case.plan(plan.axes[0])
    plain = as_in_campaign(load_case, load_case.recipe(axis))
    return Menus(
        release=release,
        case=case,
        repeat=repeat,
        channel=channel,
        cfc=cfc_menu(plain["cfc"], address.cfc),
        start_ms=address.start_ms or plain["start_ms"],
        end_ms=address.end_ms or plain["end_ms"],
    )


def channel_menu(load_case: LoadCase, name: str) -> Menu:
    """Return the channels and resultants of a load case, grouped by body region where there are several."""
    titles = {plan.name: channel_title(plan.words) for plan in load_case.plans}
    shared = Counter(titles.values())
    words = {test: f"{title} · {test}" if shared[title] > 1 else title for test, title in titles.items()}
    flat = menu_of(words, name)
    regions = list(dict.fromkeys(plan.region for plan in load_case.plans))
    if len(regions) == 1:
        return flat
    grouped: list[Group] = [
        {"group": region, "items": _options(_of_region(load_case, region, words))} for region in regions
    ]
    return Menu(options=grouped, value=flat.value)


def repeat_menu(campaign: Campaign, load_case: LoadCase, name: str) -> Menu:
    """Return the mean and the repeats of a load case; none where its tests cannot be found."""
    try:
        pairs = list(case_pairs(campaign, campaign.releases[0], load_case))
    except CorrelateError:
        # Said where the pair is looked up; here there is just nothing to pick.
        return NOTHING
    words = {pair.repeat or MEAN: pair.repeat_words for pair in pairs}
    if MEAN in words:
        return menu_of(words, MEAN)
    repeats = {test: f"{place} · {test}" for place, test in enumerate(words, start=1)}
    return menu_of({MEAN: f"Mean of the repeats ({len(repeats)})", **repeats}, name)


def cfc_menu(plain: str, name: str) -> Menu:
    """Return the channel frequency classes, that of the campaign marked."""
    classes = {NO_FILTER: "No filter", **{str(cfc): filter_words(cfc) for cfc in FREQUENCY_CLASSES}}
    words = {key: f"{text} · as in campaign" if key == plain else text for key, text in classes.items()}
    return menu_of(words, name or plain)


def _of_region(load_case: LoadCase, region: str, words: Mapping[str, str]) -> dict[str, str]:
    return {plan.name: words[plan.name] for plan in load_case.plans if plan.region == region}


def menu_of(words: Mapping[str, str], name: str) -> Menu:
    """Return a menu of some entries."""
    value = name or next(iter(words), "")
    return Menu(options=_options(words), value=value if value in words else None)


def _options(words: Mapping[str, str]) -> list[Option]:
    return [{"value": name, "label": text} for name, text in words.items()]
