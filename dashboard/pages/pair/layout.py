"""The layout of the pair page and its parts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from dash import dcc, html

from correlate import CorrelateError, CurveChange
from correlate.plots import (
    MOST_OTHERS,
    PairView,
    change_reach,
    channel_title,
    interval_reach,
    interval_words,
    pair_view_figure,
    unit_words,
)
from dashboard import ids, paths
from dashboard.access import Role, current_account
from dashboard.components import pair_ids
from dashboard.components.controls import graph, labelled
from dashboard.components.frame import changes, heading
from dashboard.components.laboratory import provenance
from dashboard.components.pair_controls import (
    change_card,
    changed_words,
    pair_controls,
    releases_table,
    tools,
)
from dashboard.components.pair_reasons import reasons, verdict
from dashboard.components.stepping import stepping_place
from dashboard.pages.page import page_parts
from dashboard.pages.pair.address import CORRIDORS, LINKS, PARTS, SPREAD
from dashboard.selection import number_text, selected

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign, PairScore, Rating, Stretch
    from correlate.plots import Reach, Theme
    from dashboard.pages.pair.address import PairAddress
    from dashboard.pages.pair.analysis import PairAnalysis
    from dashboard.selection import Selection


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A pair as it is looked at.

    Attributes
    ----------
    address
        That was asked for.
    selection
        What it names.
    score
        Of the pair.
    others
        Further releases by name.
    changed
        After the change of the curve; None without one.
    """

    address: PairAddress
    selection: Selection
    score: PairScore
    others: dict[str, PairScore]
    changed: Rating | None


def looked_at(analysis: PairAnalysis, campaign: Campaign, address: PairAddress) -> Looked:
    """Look up and rate what an address names."""
    if len(address.others) > MOST_OTHERS:
        raise CorrelateError(
            f"{len(address.others)} further releases are too many for one figure",
            where="'over' in the address",
            remedy=f"name up to {MOST_OTHERS}",
        )
    selection = selected(campaign, address.pair)
    score = analysis.score(campaign, selection)
    change = address.change
    return Looked(
        address=address,
        selection=selection,
        score=score,
        others=analysis.others(campaign, selection, address.others),
        changed=None if change == CurveChange() else analysis.changed(campaign, selection, change),
    )


def picture(analysis: PairAnalysis, campaign: Campaign, looked: Looked, theme: Theme) -> Any:
    """Return the figure of a pair."""
    address, selection = looked.address, looked.selection
    view = PairView(
        release=selection.pair.release.name,
        score=looked.score,
        account=analysis.account(campaign, selection),
        others=looked.others,
        changed=looked.changed,
        spread=analysis.spread(campaign, selection) if SPREAD in address.parts else None,
        corridors=CORRIDORS in address.parts,
        links=LINKS in address.parts,
        window_s=address.window_s,
    )
    return pair_view_figure(view, theme=theme)


def pair_parts(
    analysis: PairAnalysis, campaign: Campaign, address: PairAddress, theme: Theme
) -> dict[str, Any]:
    """Return what the page shows of a pair."""
    looked = looked_at(analysis, campaign, address)
    pair, score = looked.selection.pair, looked.score
    title = channel_title(pair.channel.words)
    return {
        "changes": changes(address.pair, pair),
        "heading": heading(pair),
        "rated_hidden": False,
        "verdict": verdict(score),
        "releases": _releases(looked),
        "figure": picture(analysis, campaign, looked, theme),
        "window": window_words(address),
        "provenance": provenance(score, analysis.project.shown_path),
        "changed": changed_part(looked),
        "offset_unit": unit_words(score.reference.unit),
        "tab_title": f"{score.rating.overall:.3f} {score.rating.grade} · {title}",
        **_sliders(analysis, campaign, looked),
    }


def reason_parts(analysis: PairAnalysis, campaign: Campaign, address: PairAddress) -> list[Component]:
    """Return what may lie behind the loss of a pair."""
    found = analysis.explained(campaign, selected(campaign, address.pair))

    def to_stretch(stretch: Stretch) -> str:
        window_ms = (1e3 * stretch.start_s, 1e3 * stretch.end_s)
        return paths.PAIR + address.looking_at(window_ms).as_search()

    def to_change(change: CurveChange) -> str:
        tried = {"shift_ms": 1e3 * change.shift_s, "scale": change.scale, "offset": change.offset}
        return paths.PAIR + address.changed(tried).as_search()

    return reasons(found, to_stretch=to_stretch, to_change=to_change)


def changed_part(looked: Looked) -> list[Component]:
    """Return the rating after the change of the curve."""
    address, score = looked.address, looked.score
    plain = replace(address, shift_ms="", scale="", offset="")
    return changed_words(
        score.rating,
        looked.changed,
        address.change,
        score.reference.unit,
        interval=interval_words(score.rating),
        back=paths.PAIR + plain.as_search(),
    )


def window_words(address: PairAddress) -> list[Component] | str:
    """Return what part of the time is looked at and the way back, or how to zoom."""
    if address.window_s is None:
        return "Drag to zoom, double-click to reset."
    whole = dcc.Link("Show all", href=paths.PAIR + address.looking_at(None).as_search())
    return [html.Span(f"Zoomed to {address.left_ms} to {address.right_ms} ms. "), whole]


def _releases(looked: Looked) -> html.Section | str:
    if not looked.others:
        return ""
    name = looked.selection.pair.release.name
    table = releases_table(name, {name: looked.score, **looked.others})
    return html.Section([html.H2("Releases drawn together"), table], className="card releases-card")


def _sliders(analysis: PairAnalysis, campaign: Campaign, looked: Looked) -> dict[str, Any]:
    """Return ends, steps and values of the sliders."""
    change = looked.address.change
    reach = change_reach(looked.score, change)
    curves = analysis.pair(campaign, looked.selection).curves
    interval = interval_reach(*(curve.signal for curve in curves))
    time = looked.score.rating.pair.time
    values: dict[str, tuple[Reach, Any]] = {
        "shift": (reach.shift_ms, _tidy(1e3 * change.shift_s)),
        "scale": (reach.scale, change.scale),
        "offset": (reach.offset, change.offset),
        "interval": (interval, [_tidy(1e3 * end) for end in (time[0], time[-1])]),
    }
    return {
        f"{name}_{what}": value
        for name, (ends, chosen) in values.items()
        for what, value in (("low", ends.low), ("high", ends.high), ("step", ends.step), ("value", chosen))
    }


def _tidy(value: float) -> float:
    """Return a number without the last digits, which are rounding."""
    return float(number_text(float(value)))


NAME: Final = "pair"
"""Of the page, in its ids."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run."""
    content = [
        stepping_place(),
        html.Div(id=ids.HEADING, className="heading"),
        html.Div(id=ids.PROBLEM),
        html.Div(_rated(), id=ids.RATED, hidden=True),
    ]
    # What a slider or a zoom sends again is no reason to cover the page.
    covers: Any = {ids.HEADING: "children"}
    shown = dcc.Loading(
        html.Div(content),
        custom_spinner=_waiting("Rating the pair …"),
        delay_show=200,
        overlay_style={"visibility": "visible"},
        parent_className="content",
        target_components=covers,
    )
    return html.Main(
        [
            *page_parts(NAME, search),
            dcc.Store(id=pair_ids.SHOWN),
            dcc.Store(id=pair_ids.ZOOM),
            pair_controls(PARTS),
            shown,
        ],
        className="page",
    )


def _rated() -> list[Component]:
    may_download = current_account().role.allows(Role.ANALYST)
    figure = html.Section(
        [tools(may_download=may_download), graph(ids.FIGURE, kind="pair-view")],
        className="card figure-card pair-figure",
        **labelled("Curves of test and model, and the loss over time"),
    )
    reasons = dcc.Loading(
        html.Div(id=pair_ids.REASONS, className="reasons"),
        custom_spinner=_waiting("Looking for reasons …"),
        delay_show=200,
        overlay_style={"visibility": "visible"},
        parent_className="reasons-place",
    )
    return [
        html.Section(id=ids.VERDICT, className="card verdict-card", **labelled("Rating")),
        html.Div(id=pair_ids.RELEASES),
        figure,
        change_card(),
        reasons,
        html.Div(id=ids.PROVENANCE, className="provenance"),
    ]


def _waiting(words: str) -> html.Div:
    return html.Div([html.Span(className="pulse"), words], className="waiting", role="status")
