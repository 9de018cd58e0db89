"""The layout of the pair page and its parts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from dash import dcc, html

from correlate import CorrelateError, CurveChange
from correlate.plots import (
    MOST_OTHERS,
    PairView,
    ceiling_words,
    change_reach,
    channel_title,
    interval_reach,
    interval_words,
    pair_view_figure,
    stored_words,
    unit_words,
)
from dashboard import ids, paths
from dashboard.access import Role, current_account
from dashboard.components import pair_ids
from dashboard.components.controls import graph, labelled
from dashboard.components.frame import changes, heading
from dashboard.components.laboratory import provenance
from dashboard.components.pair_controls import change_card, changed_words, pair_controls, tools
from dashboard.components.pair_reasons import reasons
from dashboard.components.pair_verdict import details, findings_part, ratings_table, scatter_line, verdict
from dashboard.components.states import loading
from dashboard.components.stepping import stepping_place
from dashboard.pages.page import page_parts
from dashboard.pages.pair.address import CORRIDORS, LINKS, PARTS, SPREAD
from dashboard.selection import number_text, write_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign, ChannelRating, MeanRating, Stretch
    from correlate.plots import Reach, Theme
    from dashboard.laboratory import Laboratory
    from dashboard.pages.pair.address import PairAddress
    from dashboard.pages.pair.analysis import PairAnalysis
    from dashboard.selection import Selection


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A channel as it is looked at.

    Attributes
    ----------
    address
        That was asked for.
    selection
        What it names.
    rated
        Against one repeat or all of them.
    others
        Further releases by name.
    refused
        Why a further release could not be rated, by name.
    changed
        After the change of the curve; None without one.
    """

    address: PairAddress
    selection: Selection
    rated: ChannelRating
    others: dict[str, ChannelRating]
    refused: dict[str, str]
    changed: MeanRating | None


def looked_at(analysis: PairAnalysis, campaign: Campaign, address: PairAddress) -> Looked:
    """Look up and rate what an address names."""
    selection = analysis.selected(campaign, address.pair)
    names = tuple(name for name in address.overlays if name != selection.pair.release.name)
    if len(names) > MOST_OTHERS:
        raise CorrelateError(
            f"{len(names)} further releases are too many for one figure",
            where="'against' and 'over' in the address",
            remedy=f"name up to {MOST_OTHERS}",
        )
    rated = analysis.rated(campaign, selection)
    change = address.change
    others, refused = analysis.others(campaign, selection, names)
    return Looked(
        address=address,
        selection=selection,
        rated=rated,
        others=others,
        refused=refused,
        changed=None if change == CurveChange() else rated.changed(change),
    )


def picture(analysis: PairAnalysis, campaign: Campaign, looked: Looked, theme: Theme) -> Any:
    """Return the figure of a channel."""
    address, selection = looked.address, looked.selection
    # Several repeats are drawn as curves, so that their range would say the same again.
    wide = SPREAD in address.parts and len(looked.rated.scores) == 1
    view = PairView(
        release=selection.pair.release.name,
        rated=looked.rated,
        account=analysis.account(campaign, selection),
        others=looked.others,
        changed=looked.changed,
        repeats=SPREAD in address.parts,
        spread=analysis.spread(campaign, selection) if wide else None,
        corridors=CORRIDORS in address.parts,
        links=LINKS in address.parts,
        window_s=address.window_s,
    )
    return pair_view_figure(view, theme=theme)


def pair_parts(
    analysis: PairAnalysis, campaign: Campaign, address: PairAddress, theme: Theme
) -> dict[str, Any]:
    """Return what the page shows of a channel."""
    looked = looked_at(analysis, campaign, address)
    pair, rated = looked.selection.pair, looked.rated
    title = channel_title(pair.channel.words)
    differs = address.pair != address.plain.pair
    return {
        "changes": changes(pair, paths.PAIR + address.plain.as_search()) if differs else "",
        "heading": heading(looked.selection),
        "rated_hidden": False,
        "below_hidden": False,
        "verdict": verdict(rated),
        "details": details(rated, _repeat_links(looked)),
        "releases": _releases(looked),
        "figure": picture(analysis, campaign, looked, theme),
        "window": window_words(address),
        "provenance": provenance(rated, analysis.project.shown_path),
        "changed": changed_part(looked),
        "offset_unit": unit_words(rated.unit),
        "tab_title": f"{rated.rating.overall:.3f} {rated.rating.grade} · {title}",
        **_sliders(analysis, campaign, looked),
    }


def _repeat_links(looked: Looked) -> dict[str, str]:
    """Return the address of every repeat that is part of a mean."""

    def to_repeat(name: str) -> str:
        address = looked.address
        return paths.PAIR + replace(address, pair=replace(address.pair, repeat=name)).as_search()

    return {name: to_repeat(name) for name in looked.rated.scores if not looked.selection.repeat}


def reason_parts(analysis: PairAnalysis, campaign: Campaign, address: PairAddress) -> list[Component]:
    """Return what may lie behind the loss of a channel."""
    selection = analysis.selected(campaign, address.pair)
    rated = analysis.rated(campaign, selection)

    def to_stretch(stretch: Stretch) -> str:
        window_ms = (1e3 * stretch.start_s, 1e3 * stretch.end_s)
        return paths.PAIR + address.looking_at(window_ms).as_search()

    def to_change(change: CurveChange) -> str:
        tried = {"shift_ms": 1e3 * change.shift_s, "scale": change.scale, "offset": change.offset}
        return paths.PAIR + address.changed(tried).as_search()

    return reasons(
        analysis.explained(campaign, selection),
        analysis.account(campaign, selection),
        of_repeat=rated.typical if len(rated.scores) > 1 else "",
        to_stretch=to_stretch,
        to_change=to_change,
    )


def scatter_parts(analysis: PairAnalysis, campaign: Campaign, address: PairAddress) -> list[Component]:
    """Return the scatter of the hardware, and where the results store has another number."""
    selection = analysis.selected(campaign, address.pair)
    project, pair = analysis.project, selection.pair
    hardware = analysis.scatter(campaign, selection)
    notes = []
    # Another filter or interval gives other numbers than the stored ones, which is no fault.
    if address.pair == address.plain.pair:
        rated = analysis.rated(campaign, selection)
        stored = project.stored_channel(campaign, pair)
        notes.append(stored_words(stored, rated, repeat=selection.repeat))
        if hardware is not None:
            notes.append(ceiling_words(project.stored_ceiling(campaign, pair), hardware))
    return scatter_line(hardware, why=_to_repeats(selection, address), notes=notes)


def finding_parts(
    analysis: PairAnalysis, laboratory: Laboratory, campaign: Campaign, address: PairAddress
) -> list[Component]:
    """Return what the data check found in the tests of the channel that is shown."""
    selection = analysis.selected(campaign, address.pair)
    pair = selection.pair
    found = laboratory.findings_of(campaign, pair.load_case, pair.channel.name)
    return findings_part(
        found.findings,
        found.waived,
        repeats=_to_repeats(selection, address),
        tidy=laboratory.project.without_folder,
    )


def _to_repeats(selection: Selection, address: PairAddress) -> str:
    """Return the address of the repeats of the channel, for the same releases."""
    pair = selection.pair
    asked = {"release": pair.release.name, "against": address.against, "case": pair.load_case.name}
    return paths.REPEATS + write_query({**asked, "channel": pair.channel.name})


def changed_part(looked: Looked) -> list[Component]:
    """Return the rating after the change of the curve."""
    address, rated = looked.address, looked.rated
    back = replace(address, shift_ms="", scale="", offset="")
    return changed_words(
        rated.rating,
        looked.changed,
        address.change,
        rated.unit,
        interval=interval_words(rated.first.rating),
        back=paths.PAIR + back.as_search(),
    )


def window_words(address: PairAddress) -> list[Component] | str:
    """Return what part of the time is looked at and the way back, or how to zoom."""
    if address.window_s is None:
        return "Drag to zoom, double-click to reset."
    whole = dcc.Link("Show all", href=paths.PAIR + address.looking_at(None).as_search())
    return [html.Span(f"Zoomed to {address.left_ms} to {address.right_ms} ms. "), whole]


def _releases(looked: Looked) -> html.Section | str:
    if not looked.others and not looked.refused:
        return ""
    name = looked.selection.pair.release.name
    rows = {name: looked.rated.rating} | {other: one.rating for other, one in looked.others.items()}
    table = ratings_table("release", rows, first=name, refused=looked.refused)
    return html.Section([html.H2("Releases drawn together"), table], className="card releases-card")


def _sliders(analysis: PairAnalysis, campaign: Campaign, looked: Looked) -> dict[str, Any]:
    """Return ends, steps and values of the sliders."""
    change = looked.address.change
    reach = change_reach(looked.rated.first, change)
    interval = interval_reach(analysis.signals(campaign, looked.selection))
    time = looked.rated.time
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
    # What has to be in sight without scrolling stands in one part, which is as high as the window.
    content = [
        html.Div(
            [
                stepping_place(),
                html.Div(id=ids.HEADING, className="heading"),
                html.Div(id=ids.PROBLEM),
                html.Div(_in_sight(), id=ids.RATED, className="rated", hidden=True),
            ],
            className="in-sight",
        ),
        html.Div(_below(), id=pair_ids.BELOW, hidden=True),
    ]
    # What a slider or a zoom sends again is no reason to cover the page.
    covers = {ids.HEADING: "children"}
    shown = loading(html.Div(content), "curves", "Rating the pair", covers, parent_className="content")
    return html.Main(
        [
            *page_parts(NAME, search),
            dcc.Store(id=pair_ids.SHOWN),
            dcc.Store(id=pair_ids.ZOOM),
            pair_controls(PARTS),
            shown,
        ],
        className="page pair-page",
    )


def _in_sight() -> list[Component]:
    may_download = current_account().role.allows(Role.ANALYST)
    rating = html.Section(
        [html.Div(id=ids.VERDICT), html.Div(id=pair_ids.SCATTER, className="scatter-line", role="status")],
        className="card verdict-card",
        **labelled("Rating"),
    )
    figure = html.Section(
        [tools(may_download=may_download), graph(ids.FIGURE, kind="pair-view")],
        className="card figure-card pair-figure",
        **labelled("Curves of test and model, and the loss over time"),
    )
    return [rating, figure]


def _below() -> list[Component]:
    reasons = loading(
        html.Div(id=pair_ids.REASONS, className="reasons"),
        "rows",
        "Looking for reasons",
        parent_className="reasons-place",
    )
    findings = loading(
        html.Section(id=pair_ids.FINDINGS, className="card findings-card", **labelled("Data check")),
        "rows",
        "Checking the tests",
    )
    return [
        html.Div(id=pair_ids.RELEASES),
        html.Section(id=pair_ids.DETAILS, className="card details-card", **labelled("The rating in detail")),
        change_card(),
        reasons,
        findings,
        html.Div(id=ids.PROVENANCE, className="provenance"),
    ]
