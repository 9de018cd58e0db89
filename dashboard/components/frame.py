"""The frame around every page: header, heading, problems."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import dash_mantine_components as dmc
from dash import dcc, html

from correlate import SettingsError
from correlate.plots import CAUTION, channel_title, filter_words
from dashboard import ids, paths, theme
from dashboard.components.controls import DECORATION, labelled, shortened
from dashboard.selection import SHARED, number_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from dash.development.base_component import Component

    from correlate import CampaignPair, CorrelateError
    from dashboard.selection import Selection


def heading(selection: Selection) -> list[html.H1 | html.P]:
    """Return channel, load case, test and model in words, codes beside them; long names are shortened."""
    pair = selection.pair
    release = f"{pair.release.name} ({pair.release.note})" if pair.release.note else pair.release.name
    held_out = html.Span("held out of tuning", className="tag") if pair.load_case.held_out else None
    return [
        html.H1(shortened(channel_title(pair.channel.words))),
        html.P([shortened(pair.load_case.title or pair.load_case.name), held_out], className="heading-case"),
        html.P(
            [
                _side("test", selection.repeat_words, pair.channel.name),
                _side("model", release, pair.channel.model_words),
            ],
            className="heading-pair",
        ),
    ]


def changes(pair: CampaignPair, back: str) -> list[html.P]:
    """Return that something differs from the campaign, and a link back to an address."""
    link = dcc.Link(f"Back to {plain_words(pair)}", href=back)
    return [html.P("Differs from the campaign."), html.P(link)]


def plain_words(pair: CampaignPair) -> str:
    """Return filter and interval of the campaign in words."""
    start_ms, end_ms = pair.load_case.interval_ms
    return f"{filter_words(pair.recipe.cfc)}, {number_text(start_ms)} to {number_text(end_ms)} ms"


def _side(role: str, name: str, code: str) -> html.Span:
    key = html.Span(className=f"key {role}-key", **DECORATION)
    return html.Span([key, shortened(f"{role} {name}"), html.Code(shortened(code))], className="side")


def problem(title: str, error: CorrelateError | str, *, way_out: Component) -> html.Section:
    """Return a message in place of a page, whose heading it is."""
    parts = [html.H1(title), html.P(str(error), className="problem-words")]
    return html.Section([*parts, way_out], className="problem card", role="alert")


def no_campaign(error: CorrelateError) -> html.Section:
    """Return the message for a folder without a campaign."""
    advice = (
        "A campaign is a file campaign.toml that defines which tests are compared with which model "
        "results. Put one into the folder and reload this page."
    )
    return problem("There is no campaign in this folder yet", error, way_out=_advice(advice))


def faulty_campaign(error: CorrelateError) -> html.Section:
    """Return the message for a campaign file that cannot be used."""
    advice = "Correct the file and reload this page."
    return problem("The campaign file contains errors", error, way_out=_advice(advice))


def no_ratings(error: CorrelateError, folder: Path, *, then: str) -> html.Section:
    """Return the message where nothing is rated, or where the store cannot say what is."""
    if isinstance(error, SettingsError):
        return problem("Nothing is rated yet", error, way_out=_rating_commands(folder, then=then))
    return problem("The saved ratings cannot be read", error, way_out=_advice("Then reload this page."))


def _rating_commands(folder: Path, *, then: str) -> html.Div:
    """Return what to run where nothing is rated yet, and what the page shows then."""
    return html.Div(
        [
            html.P(f"Rate the campaign once; this page then {then}:"),
            html.Pre(f"correlate score {folder}\ncorrelate ceiling {folder}"),
            html.P("The second command rates the tests against each other, which gives the ceiling."),
        ],
        className="way-out",
    )


def _advice(words: str) -> html.P:
    return html.P(words, className="way-out")


_THEMES: Final = [
    {"value": "auto", "label": "Auto"},
    {"value": "light", "label": "Light"},
    {"value": "dark", "label": "Dark"},
]


def frame(links: Sequence[tuple[str, str]], page: Component | None = None) -> dmc.MantineProvider:
    """Return the frame of the pages."""
    return dmc.MantineProvider(
        [
            dcc.Location(id=ids.ADDRESS, refresh=False),
            dcc.Store(id=ids.THEME),
            dcc.Store(id=ids.PAGE_NAME),
            dcc.Store(id=ids.SHARED_KEYS, data=list(SHARED)),
            html.A("Skip to the content", href=f"#{ids.CONTENT}", className="skip"),
            _head(links),
            html.Div(id=ids.NOTICE, role="status"),
            html.Div(page, id=ids.CONTENT, tabIndex="-1"),
            html.Footer(html.P(CAUTION), className="foot"),
        ],
        id=ids.PROVIDER,
        theme=theme.MANTINE,
    )


def read_only_notice(*, folder: str, store: str, rated: str) -> html.P:
    """Return what the page says above a project where something cannot be written, and why."""
    disabled = [*(["rating"] if store else []), *(["importing, pairing, fitting"] if folder else [])]
    shown = f" The ratings shown were saved on {rated}; stale and missing ratings are marked."
    return html.P(
        [
            html.Strong("This project is read-only."),
            f"{shown if store and rated else ''} Disabled: {', '.join(disabled)}, because {folder or store}.",
        ],
        className="read-only",
    )


def campaign_words(title: str, device: str) -> list[html.Span]:
    """Return what the head says of the campaign."""
    return [html.Span(title, className="campaign-title"), html.Span(device, className="campaign-device")]


def account_link(name: str) -> html.A:
    """Return the way to the page of the person who is signed in."""
    return html.A(name, href=paths.ACCOUNT, className="account", title="Account and signing out")


def _head(links: Sequence[tuple[str, str]]) -> html.Header:
    menu = html.Ul(
        [html.Li(dcc.Link(name, href=path, id={"type": ids.PAGE_LINK, "path": path})) for path, name in links]
    )
    return html.Header(
        [
            html.Div([html.Span(className="mark", **DECORATION), "correlate"], className="name"),
            html.Nav(menu, id=ids.NAVIGATION, className="navigation", **labelled("Pages")),
            html.Div(id=ids.CAMPAIGN, className="campaign"),
            _copy_link(),
            dmc.SegmentedControl(
                id=ids.THEME_CHOICE,
                data=_THEMES,
                value="auto",
                size="xs",
                persistence=True,
                persistence_type="local",
                className="theme-choice",
                **labelled("Colours of the page"),
            ),
        ],
        className="head",
    )


def _copy_link() -> html.Div:
    """Return the button that hands out the address of what is shown, and the place of its answer."""
    return html.Div(
        [
            html.Button("Copy link", id=ids.COPY_LINK, type="button", className="button"),
            html.Span(id=ids.LINK_COPIED, role="status", className="link-copied"),
        ],
        className="link-copy",
    )
