"""What the pair page shows if nothing can be rated: the reason and what to do."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dash import dcc, html

from correlate import CorrelateError
from dashboard import paths
from dashboard.components.heading import changes, heading, plain_words
from dashboard.components.problem import faulty_campaign, no_campaign, problem
from dashboard.pages.pair_address import PairAddress
from dashboard.selection import selected

if TYPE_CHECKING:
    from correlate import Campaign
    from dashboard.address import Address
    from dashboard.state import Project


def not_rated(campaign: Campaign, address: PairAddress, error: CorrelateError) -> dict[str, Any]:
    """Return the message; what was asked for is still named where that much is known.

    Parameters
    ----------
    campaign, address
        What was asked for.
    error
        Why it is not rated.

    Returns
    -------
    dict
        By the names of the outputs of the page.
    """
    plain = PairAddress(pair=_as_in_campaign(address.pair))
    try:
        pair = selected(campaign, plain.pair).pair
    except CorrelateError:
        way_out = dcc.Link("Show the first pair of the campaign", href=paths.PAIR, className="way-out")
        return {
            "problem": problem("There is no such pair", error, way_out=way_out),
            "tab_title": "No such pair",
        }
    back = dcc.Link(f"Back to {plain_words(pair)}, as in the campaign", href=paths.PAIR + plain.as_search())
    ways = back if plain != address else "Correct the files or the campaign, then reload this page."
    return {
        "changes": changes(address.pair, pair),
        "heading": heading(pair),
        "problem": problem("This pair cannot be rated", error, way_out=html.P(ways, className="way-out")),
        "tab_title": "Not rated",
    }


def _as_in_campaign(address: Address) -> Address:
    return replace(address, cfc="", start_ms="", end_ms="")


def without_campaign(project: Project, error: CorrelateError) -> dict[str, Any]:
    """Return the message for a project whose campaign is absent or holds mistakes.

    Parameters
    ----------
    project
        Of the server.
    error
        From reading the campaign.

    Returns
    -------
    dict
        By the names of the outputs of the page.
    """
    message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
    return {"controls_hidden": True, "problem": message, "tab_title": "No campaign"}
