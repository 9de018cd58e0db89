"""Where a release loses its rating, for its document."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.costs import by_component, by_load_case
from correlate.diagnosis.accounting import largest_stretches
from correlate.plots.explanation_words import (
    cluster_words,
    finding_words,
    hint_words,
    place_words,
    points,
    stretch_words,
    suspect_words,
)
from correlate.plots.loss import loss_strip
from correlate.plots.svg_figure import figure_svg

if TYPE_CHECKING:
    from correlate.campaign.explained_case import ChannelExplanation, LoadCaseExplanation
    from correlate.report.release_contents import ReleaseContents

STRIP_HEIGHT: Final = 190
"""Of the drawing of the loss over time, px before it is fitted to the page."""
_MOST_STRIPS: Final = 3
_MOST_HINTS: Final = 2


def diagnosis(contents: ReleaseContents) -> dict[str, Any]:
    """Return what is known of the loss: costs, where in time, shared causes, suspects, hints.

    Parameters
    ----------
    contents
        Of the document.

    Returns
    -------
    dict
        Words, numbers and drawings for the section on diagnosis.
    """
    found = contents.explanation
    channels = [*found.channels, *found.unrated]
    return {
        "found": found,
        "lost": points(1.0 - found.overall),
        "by_component": list(by_component(found.costs).items()),
        "by_load_case": [
            (name, "not rated" if name in found.unrated_load_cases and not cost else f"{cost:.3f}")
            for name, cost in by_load_case(found.costs).items()
        ],
        "channels": [_cost(channel) for channel in found.channels],
        "strips": _strips(contents),
        "shared": _shared(contents),
        "suspects": [
            (place_words(one.cost), [suspect_words(suspect) for suspect in one.suspects])
            for one in channels
            if one.suspects
        ],
        "hints": [(case.load_case, points(case.cost), _hints(contents, case)) for case in found.load_cases],
    }


def _hints(contents: ReleaseContents, case: LoadCaseExplanation) -> list[str]:
    words = _words(contents, case.load_case)
    return [hint_words(hint, words) for hint in case.hints[:_MOST_HINTS]]


def _cost(channel: ChannelExplanation) -> dict[str, Any]:
    stretches = () if channel.account is None else largest_stretches(channel.account, 1)
    return {
        "place": place_words(channel.cost),
        "cost": channel.cost.cost,
        "hardware": channel.hardware_cost,
        "finding": finding_words(channel),
        "stretch": stretch_words(stretches[0]) if stretches else "",
    }


def _strips(contents: ReleaseContents) -> list[tuple[str, str]]:
    """Draw where in time the channels that cost most lose their rating."""
    listed = [one for one in contents.explanation.channels if one.account is not None][:_MOST_STRIPS]
    found = []
    for place, channel in enumerate(listed, start=1):
        if channel.account is None:
            continue
        title = f"{place_words(channel.cost)}, against {channel.repeat}"
        figure = loss_strip(channel.account, theme="light")
        words = f"Loss over time of {title}"
        found.append((title, figure_svg(figure, words=words, name=f"loss-{place}", height=STRIP_HEIGHT)))
    return found


def _shared(contents: ReleaseContents) -> list[dict[str, Any]]:
    return [
        {
            "load_case": case.load_case,
            "likeness": cluster.least_likeness,
            "words": cluster_words(cluster, _words(contents, case.load_case), case.step_s),
        }
        for case in contents.explanation.load_cases
        for cluster in case.clusters
    ]


def _words(contents: ReleaseContents, load_case: str) -> dict[str, str]:
    return {one.channel: one.words for one in contents.explanation.costs if one.load_case == load_case}
