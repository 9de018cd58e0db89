"""What a page shows when there is nothing to show: the reason and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dash import html

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import CorrelateError


def problem(title: str, error: CorrelateError | str, *, way_out: Component) -> html.Section:
    """Return a message as a part of a page.

    Parameters
    ----------
    title
        What did not work, in a few words.
    error
        Its one sentence says what, where and what to do.
    way_out
        What to press or read next.

    Returns
    -------
    dash.html.Section
    """
    parts = [html.H2(title), html.P(str(error), className="problem-words")]
    return html.Section([*parts, way_out], className="problem card", role="alert")


def no_campaign(error: CorrelateError) -> html.Section:
    """Return the message for a folder without a campaign.

    Parameters
    ----------
    error
        From reading it.

    Returns
    -------
    dash.html.Section
    """
    advice = (
        "A campaign is a file campaign.toml that defines which tests are compared with which model "
        "results. Put one into the folder and reload this page."
    )
    return problem("There is no campaign in this folder yet", error, way_out=_advice(advice))


def faulty_campaign(error: CorrelateError) -> html.Section:
    """Return the message for a campaign file that cannot be used.

    Parameters
    ----------
    error
        Lists its mistakes.

    Returns
    -------
    dash.html.Section
    """
    advice = "Correct the file and reload this page."
    return problem("The campaign file contains errors", error, way_out=_advice(advice))


def _advice(words: str) -> html.P:
    return html.P(words, className="way-out")
