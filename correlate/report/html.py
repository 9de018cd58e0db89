"""Pages that need no other file and no network: one pair, or every pair of a campaign."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from correlate import version
from correlate.plots.graph import drawing_library, figure_html
from correlate.plots.pair import pair_figure
from correlate.plots.palette import LIGHT
from correlate.plots.record_words import choice_words, recipe_words, step_words
from correlate.plots.typeface import FONT, font_face
from correlate.plots.wording import (
    CAUTION,
    COMPONENTS,
    channel_title,
    delay_in_words,
    grade_zones,
    number,
    unit_words,
)
from correlate.report.summary import summarise

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jinja2 import Environment

    from correlate.campaign import CampaignPair, PairScore
    from correlate.signal import Signal


def pair_html(score: PairScore, title: str) -> str:
    """Write a pair as a page: rating, figure, settings, inputs and every step of both signals.

    Parameters
    ----------
    score
        From ``score_pair``.
    title
        Heading of the page.

    Returns
    -------
    str
        A whole HTML document, typeface and drawing library inside. A content policy in the page forbids
        every request.

    Notes
    -----
    Every text that comes from a file is escaped. The page shows the numbers of ``score`` and computes none.
    """
    return render_page(
        "pair.html",
        title=title,
        rating=score.rating,
        zones=_zones(score.rating.grade),
        components=_components(score),
        shift=delay_in_words(score.rating.shift_s),
        flags=score.flags,
        settings=recipe_words(score.recipe, score.rating),
        choices=choice_words(score.rating.settings),
        inputs=[_input("Test", score.reference), _input("Model", score.candidate)],
        figure=figure_html(pair_figure(score, theme="light")),
    )


def campaign_html(rated: Sequence[tuple[CampaignPair, PairScore]], *, title: str) -> str:
    """Write the pairs of a campaign as a page: a table of means, and of each channel the lowest-rated repeat.

    Parameters
    ----------
    rated
        Pairs with their scores.
    title
        Heading of the page.

    Returns
    -------
    str
        A whole HTML document like that of :func:`pair_html`.
    """
    groups: dict[tuple[str, str, str], list[tuple[CampaignPair, PairScore]]] = {}
    for pair, score in rated:
        key = (pair.release.name, pair.load_case.name, pair.channel.name)
        groups.setdefault(key, []).append((pair, score))
    return render_page(
        "campaign.html",
        title=title,
        pairs=len(rated),
        summaries=summarise(rated),
        channels=[_channel(group) for group in groups.values()],
    )


def render_page(template: str, **content: Any) -> str:
    """Fill a template that lies in this folder.

    Parameters
    ----------
    template
        Name of the file.
    **content
        What it shows; colours, typeface, caution, version and drawing library are added.

    Returns
    -------
    str
        A whole HTML document. Texts are escaped unless the template says that they are markup.
    """
    return (
        _environment()
        .get_template(template)
        .render(
            caution=CAUTION,
            library=drawing_library,
            colours=LIGHT.as_css(),
            font=FONT,
            font_face=font_face(),
            version=version.VERSION,
            **content,
        )
    )


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - imports stay quick

    return Environment(
        loader=PackageLoader("correlate.report", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _components(score: PairScore) -> list[dict[str, Any]]:
    rating = score.rating
    return [
        {
            "name": name,
            "meaning": meaning,
            "value": getattr(rating, name),
            "weight": number(getattr(rating.settings.weights, name)),
        }
        for name, meaning in COMPONENTS.items()
    ]


def _zones(grade: str) -> list[dict[str, Any]]:
    return [
        {
            "word": word,
            "floor": number(floor),
            "from": floor,
            "size": ceiling - floor,
            "reached": word == grade,
        }
        for word, floor, ceiling in grade_zones()
    ]


def _input(role: str, signal: Signal) -> dict[str, Any]:
    return {
        "role": role,
        "title": channel_title(signal.channel),
        "signal": signal,
        "unit": unit_words(signal.unit),
        "steps": [step_words(step) for step in signal.history],
    }


def _channel(group: list[tuple[CampaignPair, PairScore]]) -> dict[str, Any]:
    """Return what the page shows of one channel of one load case and release."""
    pair, lowest = min(group, key=lambda entry: entry[1].rating.overall)
    return {
        "title": channel_title(pair.channel.words),
        "load_case": pair.load_case.title or pair.load_case.name,
        "release": pair.release.name,
        "shown": pair.repeat,
        "repeats": [
            {
                "name": entry.repeat,
                "rating": score.rating,
                "shift": delay_in_words(score.rating.shift_s),
                "test": score.reference.source,
                "model": score.candidate.source,
            }
            for entry, score in group
        ],
        "settings": recipe_words(lowest.recipe, lowest.rating),
        "figure": figure_html(pair_figure(lowest, theme="light")),
    }
