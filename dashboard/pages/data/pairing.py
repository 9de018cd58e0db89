"""Pairing test channels that have no partner, by hand and with proposals."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, accept_partner, proposals_of
from correlate.plots import channel_title
from dashboard import ids, paths
from dashboard.access import Role, current_account, expensive, permitted, record
from dashboard.components.data import (
    AS_PROPOSED,
    CHANNELS_PART,
    KEPT,
    SIGNS,
    data_link,
    data_part,
    open_channel,
    refusal,
)
from dashboard.components.paging import pager
from dashboard.pages.data.layout import KEYS, NAME
from dashboard.pages.page import address_of
from dashboard.selection import read_query, write_query
from dashboard.state import read_only

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign, Proposal, Release
    from dashboard.state import Project


def open_channels(project: Project, search: str | None) -> list[Component]:
    """Return the channels without a partner in the release of the address."""
    try:
        campaign = project.campaign()
        release = _release(campaign, search)
        found = project.proposals(campaign, release)
    except CorrelateError as error:
        return [html.P(f"The channels cannot be compared. {error}", className="job-failure")]
    absent = _absent_words(campaign, release)
    closed = project.closed("folder")
    may_write = not closed and current_account().role.allows(Role.ANALYST)
    titles = {case.name: case.title or case.name for case in campaign.load_cases}
    part = data_part(found, search, CHANNELS_PART, rows=_CHANNELS)
    cards = [open_channel(case, titles[case], ranked, may_write=may_write) for case, ranked in part.rows]
    if not cards:
        words = "Every test channel has a partner in these results, or no channel has the same dimension."
        return [html.P(words), *absent]
    advice = (
        "Proposals are used only after pairing, which writes them to the campaign file. They are ranked "
        "by unit, names and similarity of the curves. Channels without a candidate of the same physical "
        "dimension are not listed."
    )
    said = [html.P(f"Pairing is disabled: {closed}.", className="note")] if closed else []
    return [
        *said,
        *absent,
        html.P(advice, className="note"),
        html.Div(cards, className="open-channels"),
        *pager(part, "Channels", data_link(search, CHANNELS_PART)),
    ]


_CHANNELS: Final = 20
"""Shown at once: each with its partners and menus."""


def _absent_words(campaign: Campaign, release: Release) -> list[Component]:
    """Return which load cases are not compared because the release has no result for them."""
    absent = campaign.without_result(release)
    if not absent:
        return []
    words = f"Not compared, because {release.name} has no result: {', '.join(absent)}."
    return [html.P(words, className="note is-absent")]


def pair_up(project: Project, search: str | None, wanted: dict[str, str]) -> tuple[html.P, Any]:
    """Write a partner into the campaign file."""
    try:
        if reason := project.closed("folder"):
            raise read_only(reason)
        campaign = project.campaign()
        proposal = picked(proposals_of(campaign, _release(campaign, search)), wanted)
        changed = accept_partner(campaign.path, wanted["case"], proposal)
    except CorrelateError as error:
        return refusal(error), no_update
    words = f"{wanted['case']}: {proposal.test} with '{proposal.model}'"
    record("paired a channel", words)
    turned = ", its sign inverted" if proposal.sign < 0 else ""
    pair = f"{channel_title(proposal.test)} is paired with {proposal.model}{turned}"
    said = f"{pair}. It will be rated from now on."
    return html.P(said, className="job-end"), changed.sha256


def picked(found: list[tuple[str, list[Proposal]]], wanted: dict[str, str]) -> Proposal:
    """Return the proposal that was picked, with the sign that was picked."""
    for case, ranked in found:
        for one in ranked:
            if (case, one.test, one.model) == (wanted["case"], wanted["channel"], wanted["model"]):
                if wanted["sign"] == AS_PROPOSED:
                    return one
                return replace(one, sign=1 if wanted["sign"] == KEPT else -1)
    raise CorrelateError(
        f"channel '{wanted['channel']}' cannot be paired with '{wanted['model']}'",
        where=f"load case '{wanted['case']}'",
        remedy="it may already be paired; reload the page",
    )


def picked_release(project: Project, release: str | None, search: str | None) -> Any:
    """Return the query for a release that was picked, or no change where it is shown already."""
    asked = read_query(search, KEYS)
    try:
        shown = asked["release"] or project.campaign().releases[0].name
    except CorrelateError:
        # The page says that there is no campaign.
        return no_update
    return (
        no_update
        if not release or release == shown
        else write_query({"release": release, CHANNELS_PART: ""}, search)
    )


def register(app: Dash, project: Project) -> None:
    """Connect the menus and buttons of the channels."""

    @app.callback(
        Output(ids.DATA_OPEN_CHANNELS, "children"),
        inputs={"address": address_of(NAME), "changed": Input(ids.job_part(NAME, "changed"), "data")},
    )
    @expensive
    def _open(address: dict[str, str], changed: str | None) -> list[Component]:  # noqa: ARG001 - it triggers
        if address["path"] != paths.DATA:
            raise PreventUpdate
        return open_channels(project, address["search"])

    @app.callback(
        Output(ids.address_of(NAME), "search", allow_duplicate=True),
        Input(ids.DATA_PAIRING_RELEASE, "value"),
        State(ids.address_of(NAME), "search"),
        prevent_initial_call=True,
    )
    def _pick(release: str | None, search: str | None) -> Any:
        return picked_release(project, release, search)

    with permitted(app, Role.ANALYST):

        @app.callback(
            Output(ids.DATA_PAIRING_SAID, "children"),
            Output(ids.job_part(NAME, "changed"), "data", allow_duplicate=True),
            Input({"type": ids.DATA_ACCEPT, "case": ALL, "channel": ALL}, "n_clicks"),
            State({"type": ids.DATA_PARTNER, "case": ALL, "channel": ALL}, "value"),
            State({"type": ids.DATA_TURNED, "case": ALL, "channel": ALL}, "value"),
            State(ids.address_of(NAME), "search"),
            prevent_initial_call=True,
        )
        def _accept(
            clicks: list[int | None], models: list[str | None], signs: list[str | None], search: str | None
        ) -> Any:
            pressed = ctx.triggered_id
            if not pressed or not any(clicks):
                raise PreventUpdate
            place = [one["id"] for one in ctx.inputs_list[0]].index(pressed)
            if not place < min(len(models), len(signs)):
                return refusal("The list of channels has changed; reload the page."), no_update
            sign = signs[place] if signs[place] in SIGNS else AS_PROPOSED
            wanted = {
                "case": str(pressed["case"]),
                "channel": str(pressed["channel"]),
                "model": models[place] or "",
                "sign": str(sign),
            }
            return pair_up(project, search, wanted)


def _release(campaign: Campaign, search: str | None) -> Release:
    name = read_query(search, KEYS)["release"]
    return campaign.release(name) if name else campaign.releases[0]
