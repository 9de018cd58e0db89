"""Parts of the decision sheet: objections to a release, its limits and evidence, its sign-offs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate.plots import (
    OBJECTION_WORDS,
    as_sentence,
    channel_count,
    channel_title,
    day_words,
    sign_off_changes,
)
from dashboard import ids, paths
from dashboard.access import THIS_MACHINE, current_account, signs_as
from dashboard.components.board import pair_link
from dashboard.components.controls import number
from dashboard.components.paging import folded
from dashboard.selection import write_query

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from dash.development.base_component import Component

    from correlate import Campaign, Decision, Note, Objection, RatedPlace, Scoreboard, SignOffToday

MOST_SHOWN: Final = 12
"""Objections that are visible at first; the others open on demand."""


def objections_card(
    campaign: Campaign,
    board: Scoreboard,
    decision: Decision,
    *,
    asked: str,
    link: Callable[[str], str],
    tidy: Callable[[str], str],
) -> html.Section:
    """Return every objection to a release, each with a link to its subject.

    ``asked`` and ``link`` are for the parts of a long list, as in `folded`.
    """
    listed = decision.objections
    parts: list[Component] = [
        html.H2("Objections"),
        *folded(
            listed,
            asked,
            first=MOST_SHOWN,
            what="Objections",
            link=link,
            table=lambda rows: _groups(campaign, board, rows, tidy),
        ),
    ]
    if others := len(listed[MOST_SHOWN:]):
        on_paper = f"{others:,} more are on the screen."
        parts.append(html.P(on_paper, className="on-paper evidence-mark"))
    if not listed:
        parts.append(html.P("No objection was found."))
    return html.Section(parts, className="card objections-card")


def lowest_words(campaign: Campaign, board: Scoreboard, lowest: RatedPlace | None) -> list[Component | str]:
    """Return a link to the channel with the lowest rating."""
    if lowest is None:
        return []
    words = f"{channel_title(lowest.where)}, {lowest.within}"
    link = dcc.Link(words, href=pair_link(campaign, board, lowest.place))
    return ["Lowest channel: ", link, f", {number(lowest.rating)} {lowest.grade}."]


def evidence_card(board: Scoreboard, decision: Decision) -> html.Section:
    """Return the limits and the evidence: repeats, files, and the data check of the tests."""
    evidence = board.evidence
    parts: list[Component] = [html.H2("Limits and evidence"), _limits(board), _counts(decision)]
    if evidence is None:
        words = "There is no evidence for these ratings: rate the release again."
        return html.Section([*parts, html.P(words, className="evidence-mark")], className="card")
    channels = [channel for case in evidence.cases for channel in case.channels]
    expected, rated = sum(one.expected for one in channels), sum(len(one.rated) for one in channels)
    counts = f"{rated} of {expected} repeats of {channel_count(len(channels))} are rated."
    warnings = [f"{name}: {count} pair{'' if count == 1 else 's'}" for name, count in evidence.flags.items()]
    waived = [f"{one.finding.short_place}: {one.waiver.words}" for one in evidence.waived]
    released = [one.words for one in evidence.released]
    # What is missing, stale or found in the tests is among the objections.
    lists = [
        ("Warnings beside ratings", warnings),
        ("Waived findings", waived),
        ("Released from quarantine", released),
    ]
    details = [
        html.Details([html.Summary(f"{words}: {len(entries)}"), html.Ul([html.Li(one) for one in entries])])
        for words, entries in lists
        if entries
    ]
    return html.Section([*parts, html.P(counts), *details], className="card evidence-card")


def sign_off_list(signed: Sequence[SignOffToday]) -> Component:
    """Return the sign-offs, each with scope and what has changed since."""
    if not signed:
        return html.P("Not signed off.", className="note")
    return html.Ul([html.Li(_signed(one)) for one in signed], className="sign-offs")


def note_list(notes: Sequence[Note]) -> Component:
    """Return the remarks, the newest first."""
    if not notes:
        return html.P("No remark yet.", className="note")
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(one.text, className="remark-words"),
                    html.Span(_about(one), className="note"),
                ]
            )
            for one in reversed(notes)
        ],
        className="sign-offs",
    )


def sign_form() -> html.Div:
    """Return the fields of a sign-off; on a server the account is the signer."""
    roles = signs_as(current_account())
    return html.Div(
        [
            html.Div(
                [
                    dmc.Select(
                        id=ids.DECISION_ROLE,
                        label="Role",
                        data=list(roles),
                        value=roles[0] if roles else None,
                        allowDeselect=False,
                        comboboxProps={"shadow": "md", "transitionProps": {"duration": 0}},
                    ),
                    _signer(ids.DECISION_WHO, "Name of the signer"),
                ],
                className="sign-fields",
            ),
            dmc.TextInput(
                id=ids.DECISION_SCOPE,
                label="Scope",
                placeholder="for instance: seat development, not neck extension",
            ),
            dmc.Textarea(id=ids.DECISION_WORDS, label="Remark of the signer", autosize=True, minRows=2),
            html.Button("Sign off", id=ids.DECISION_SIGN, className="button", type="button"),
        ],
        className="sign-form",
    )


def note_form() -> html.Div:
    """Return the fields of a remark."""
    return html.Div(
        [
            _signer(ids.DECISION_NOTE_WHO, "Your name"),
            dmc.Textarea(id=ids.DECISION_NOTE, label="Remark on this release", autosize=True, minRows=2),
            html.Button("Add remark", id=ids.DECISION_NOTE_ADD, className="button", type="button"),
        ],
        className="sign-form",
    )


def _signer(field_id: str, label: str) -> html.Div:
    """Return the field of a name; where there are accounts it is known, and the field stays unseen."""
    return html.Div(dmc.TextInput(id=field_id, label=label), hidden=current_account() != THIS_MACHINE)


def _groups(
    campaign: Campaign, board: Scoreboard, listed: Sequence[Objection], tidy: Callable[[str], str]
) -> list[Component]:
    parts: list[Component] = []
    for kind, title in OBJECTION_WORDS.items():
        entries = [one for one in listed if one.kinds[0] == kind]
        if entries:
            lines = html.Ul([_line(campaign, board, one, tidy) for one in entries], className="objections")
            parts += [html.H3(title), lines]
    return parts


def _line(campaign: Campaign, board: Scoreboard, one: Objection, tidy: Callable[[str], str]) -> html.Li:
    address = objection_link(campaign, board, one)
    words = channel_title(one.where) if one.channel else one.where
    name = dcc.Link(words, href=address) if address else html.Span(words)
    within = html.Span(one.within, className="note") if one.within else None
    held_out = html.Span("held out", className="tag") if one.held_out and one.kinds != ("held out",) else None
    serious = "" if one.kinds == ("held out",) else " is-against"
    return html.Li(
        [
            html.Div([name, within, held_out], className="objection-place"),
            html.Span("" if one.rating is None else number(one.rating), className="line-number"),
            html.Span(tidy("; ".join(one.reasons)), className="objection-reasons"),
        ],
        className=f"objection{serious}",
    )


def objection_link(campaign: Campaign, board: Scoreboard, one: Objection) -> str:
    """Return the page that shows what an objection is about; empty where there is none."""
    if one.kinds[0] == "data" and one.load_case:
        plans = {plan.test for plan in campaign.load_case(one.load_case).channel}
        channel = one.channel if one.channel in plans else ""
        return paths.REPEATS + write_query({"case": one.load_case, "channel": channel})
    if one.channel:
        return pair_link(campaign, board, one.place) or pair_link(campaign, board, one.place[:1])
    if one.kinds[0] in {"evidence", "data"}:
        return paths.DATA + write_query({"release": board.release})
    # The curves of a load case show the number of one channel; its own number is on the scoreboard.
    if one.load_case or one.is_region or board.limits.are_set:
        asked = {"release": board.release, "against": board.against or "", "case": one.load_case}
        return paths.SCOREBOARD + write_query(asked)
    return ""


def _limits(board: Scoreboard) -> html.P:
    given = {"rating at least": board.limits.least, "loss at most": board.limits.largest_loss}
    known = [f"{words} {value:g}" for words, value in given.items() if value is not None]
    if known:
        return html.P(f"Limits in the campaign file: {', '.join(known)}.")
    advice: list[Component | str] = [
        "The campaign file sets no limits. Add for instance ",
        html.Code("[limits]"),
        " with ",
        html.Code("least = 0.8"),
        " and ",
        html.Code("largest_loss = 0.03"),
        " to it; this page then shows which limits are not met.",
    ]
    return html.P(advice)


def _counts(decision: Decision) -> html.P:
    met, proven = (
        f"{len([one for one in checks if one.is_passed])} of {len(checks)}"
        for checks in (decision.limits, decision.evidence)
    )
    as_rated = "" if decision.is_proven else " as rated"
    said = f"{met} limits are met{as_rated}; " if decision.limits else ""
    return html.P(f"{said}{proven} checks of the evidence are met.", className="limits-words")


def _signed(one: SignOffToday) -> list[Component]:
    signed = one.sign_off
    changed = sign_off_changes(one)
    parts: list[Component] = [
        html.Span(f"{signed.role}, {day_words(signed.date)}, {signed.who}", className="signed-by"),
        html.Span(f"Scope: {signed.scope or 'everything the campaign covers'}"),
    ]
    if signed.text:
        parts.append(html.Span(signed.text, className="remark-words"))
    if changed:
        parts.append(html.Span(as_sentence(changed), className="evidence-mark"))
    return parts


def _about(note: Note) -> str:
    place = " / ".join(word for word in (note.load_case, note.channel) if word)
    of_all = "" if note.release else "on the campaign"
    return ", ".join(word for word in (note.who, day_words(note.entered.date()), place, of_all) if word)
