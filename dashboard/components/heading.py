"""Which pair is shown, and what differs from the campaign."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from dash import dcc, html

from correlate.plots import channel_title, filter_words
from dashboard import paths
from dashboard.components.labelled import DECORATION
from dashboard.selection import number_text

if TYPE_CHECKING:
    from correlate import CampaignPair
    from dashboard.address import Address


def heading(pair: CampaignPair) -> list[html.H1 | html.P]:
    """Return channel, load case, test and model in words, codes beside them.

    Parameters
    ----------
    pair
        Shown.

    Returns
    -------
    list
        Of components.
    """
    release = f"{pair.release.name} ({pair.release.note})" if pair.release.note else pair.release.name
    held_out = html.Span("held out of tuning", className="tag") if pair.load_case.held_out else None
    return [
        html.H1(channel_title(pair.channel.words)),
        html.P([pair.load_case.title or pair.load_case.name, held_out], className="heading-case"),
        html.P(
            [
                _side("test", pair.repeat_words, pair.channel.name),
                _side("model", release, pair.channel.model_words),
            ],
            className="heading-pair",
        ),
    ]


def changes(address: Address, pair: CampaignPair) -> list[html.P] | str:
    """Return that something differs from the campaign and a link back, or nothing.

    Parameters
    ----------
    address
        As asked for.
    pair
        That it names.

    Returns
    -------
    list or str
        Components, or an empty text.
    """
    plain = replace(address, cfc="", start_ms="", end_ms="")
    if plain == address:
        return ""
    link = dcc.Link(f"Back to {plain_words(pair)}", href=paths.PAIR + plain.as_search())
    return [html.P("Differs from the campaign."), html.P(link)]


def plain_words(pair: CampaignPair) -> str:
    """Return filter and interval of the campaign in words.

    Parameters
    ----------
    pair
        Whose.

    Returns
    -------
    str
    """
    start_ms, end_ms = pair.load_case.interval_ms
    return f"{filter_words(pair.recipe.cfc)}, {number_text(start_ms)} to {number_text(end_ms)} ms"


def _side(role: str, name: str, code: str) -> html.Span:
    key = html.Span(className=f"key {role}-key", **DECORATION)
    return html.Span([key, f"{role} {name}, ", html.Code(code)])
