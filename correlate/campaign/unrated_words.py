"""What could not be rated, in words: pairs that share a cause in one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.display import common_reason, grouped
from correlate.reference.finding import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from correlate.evaluation.evidence import Unrated

MOST_PLACES = 3
"""Load cases that are listed by name."""


def unrated_lines(entries: Iterable[Unrated]) -> list[str]:
    """Return one sentence for each cause, with the places that it concerns and the number of pairs.

    Parameters
    ----------
    entries
        Pairs that could not be rated.

    Returns
    -------
    list of str
    """
    groups = grouped(entries, lambda one: one.cause or one.reason)
    return [
        f"{_places(group)}: {common_reason(group)}: {counted(len(group), 'pair')}{_of_what(group)}"
        for group in groups
    ]


def _places(group: Sequence[Unrated]) -> str:
    places = list(dict.fromkeys(f"{one.release} {one.load_case}" for one in group))
    if len(places) <= MOST_PLACES:
        return ", ".join(places)
    releases = ", ".join(dict.fromkeys(one.release for one in group))
    cases = dict.fromkeys(one.load_case for one in group)
    return f"{counted(len(cases), 'load case')} of {releases}"


def _of_what(group: Sequence[Unrated]) -> str:
    """Name the channel, and the repeat, where all pairs share it; else count."""
    channels = list(dict.fromkeys(one.channel for one in group))
    repeats = list(dict.fromkeys(one.repeat for one in group))
    channel = channels[0] if len(channels) == 1 else counted(len(channels), "channel")
    repeat = repeats[0] if len(repeats) == 1 else counted(len(repeats), "repeat")
    return f" ({channel}, {repeat})"
