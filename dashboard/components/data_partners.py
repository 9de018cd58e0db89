"""Test channels without a partner, and what could be their partner."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import dash_mantine_components as dmc
from dash import html

from correlate.plots import channel_title
from dashboard import ids
from dashboard.components.labelled import labelled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate import Proposal

AS_PROPOSED: Final = "as proposed"
KEPT: Final = "kept"
TURNED: Final = "turned"
SIGNS: Final[tuple[str, ...]] = (AS_PROPOSED, KEPT, TURNED)
"""Options for the sign of the model."""

_SHOWN: Final = 3


def open_channel(
    load_case: str, title: str, proposals: Sequence[Proposal], *, may_write: bool
) -> html.Article:
    """Return one channel with its ranked partners.

    Parameters
    ----------
    load_case, title
        Name and words.
    proposals
        Best first; at least one.
    may_write
        Whether the account may accept one.

    Returns
    -------
    dash.html.Article
    """
    test = proposals[0].test
    words = channel_title(test)
    code = html.Code(test) if words != test else None
    ranked = html.Ol([_reasons(one) for one in proposals[:_SHOWN]], className="partner-reasons")
    parts = [html.H3([words, " ", code]), html.P(title, className="note"), ranked]
    if may_write:
        parts.append(_choice(load_case, test, words, proposals))
    return html.Article(parts, className="open-channel")


def _reasons(one: Proposal) -> html.Li:
    score = html.Span(f"{one.score:.2f}", className="line-number")
    return html.Li([score, " ", html.Span(_name(one)), html.Span("; ".join(one.reasons), className="note")])


def _name(one: Proposal) -> str:
    return f"{one.model}, sign inverted" if one.sign < 0 else one.model


def _choice(load_case: str, test: str, words: str, proposals: Sequence[Proposal]) -> html.Div:
    place = {"case": load_case, "channel": test}
    return html.Div(
        [
            dmc.Select(
                id={"type": ids.DATA_PARTNER, **place},
                label="Model channel",
                data=[{"value": one.model, "label": f"{_name(one)} ({one.score:.2f})"} for one in proposals],
                value=proposals[0].model,
                allowDeselect=False,
                searchable=len(proposals) > _SHOWN,
                className="partner-menu",
            ),
            dmc.Select(
                id={"type": ids.DATA_TURNED, **place},
                label="Sign of the model",
                data=list(SIGNS),
                value=AS_PROPOSED,
                allowDeselect=False,
                className="sign-menu",
            ),
            html.Button(
                "Pair channels",
                id={"type": ids.DATA_ACCEPT, **place},
                className="button",
                type="button",
                **labelled(f"Pair {words}"),
            ),
        ],
        className="partner-choice",
    )
