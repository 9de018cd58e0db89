"""Before there is anything to show: the outline while a page loads, and the text of an empty page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal

from dash import dcc, html

from dashboard.components.controls import DECORATION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

Kind = Literal["board", "curves", "runs", "rows"]

_SHAPES: Final[dict[Kind, tuple[str, ...]]] = {
    "board": ("title", "line", "third", "third", "third", "half tall", "half tall"),
    "curves": ("title", "line", "full", "full tall"),
    "runs": ("title", "line", "wide-left", "narrow-right", "full tall"),
    "rows": ("row", "row", "row", "row"),
}
"""Parts of each kind, in their order on the page."""


def skeleton(kind: Kind, words: str) -> html.Div:
    """Return the shape of a page or of a part of it, and for screen readers what is being done.

    Parameters
    ----------
    kind
        ``board``: numbers above tables; ``curves``: a rating above a figure; ``runs``: figures side by side;
        ``rows``: a table.
    words
        What is being done, without a full stop.
    """
    shapes = [html.Div(className=f"shape shape-{part}") for part in _SHAPES[kind]]
    return html.Div(
        [html.Span(words, className="unseen"), html.Div(shapes, className="shapes", **DECORATION)],
        className="skeleton",
        role="status",
    )


def loading(
    place: Component, kind: Kind, words: str, targets: Mapping[str, str] | None = None, **look: Any
) -> dcc.Loading:
    """Return a place of the page that shows the shape of what comes while a callback fills it.

    Parameters
    ----------
    place
        To be filled.
    kind, words
        Of the `skeleton`.
    targets
        The only outputs that are waited for, id and property; all outputs inside when left out.
    **look
        Further properties, such as ``parent_className``.
    """
    # Typed by dash as a form of its own.
    waited_for: Any = targets
    return dcc.Loading(
        place,
        custom_spinner=skeleton(kind, words),
        delay_show=300,
        overlay_style={"visibility": "visible"},
        target_components=waited_for,
        **look,
    )


def not_yet(title: str, words: str, steps: Sequence[Component | str]) -> html.Section:
    """Return the text of a page that has nothing to show yet, where nothing is wrong.

    Parameters
    ----------
    title
        Heading of the page.
    words
        What the page will show.
    steps
        What to do for that, in order.
    """
    ordered = html.Ol([html.Li(step) for step in steps])
    return html.Section([html.H1(title), html.P(words), ordered], className="card not-yet")
