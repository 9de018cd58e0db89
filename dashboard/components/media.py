"""Photos and films of a test, with what they show and where a film is at time zero."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from dash import html

from correlate.plots import as_sentence
from dashboard import paths

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import PackageMedia


def media_list(media: Mapping[tuple[str, PackageMedia], Sequence[str]]) -> html.Ul:
    """Return photos and films, each by its package with the names of the tests that it belongs to."""
    entries = [html.Li(_figure(package, one, tests)) for (package, one), tests in media.items()]
    return html.Ul(entries, className="media-list")


def media_address(package: str, one: PackageMedia) -> str:
    """Return the URL of a photo or film; a film whose time zero is known in seconds begins there."""
    start = f"#t={one.time_zero_s:g}" if one.time_zero_s is not None else ""
    return f"{paths.MEDIA}/{quote(package, safe='')}/{quote(one.file)}{start}"


def _figure(package: str, one: PackageMedia, tests: Sequence[str]) -> html.Figure:
    source = media_address(package, one)
    shown: Component
    if one.is_film:
        shown = html.Video(src=source, controls=True, preload="metadata", muted=True, title=one.shows)
    else:
        shown = html.Img(src=source, alt=f"{one.shows}; view: {one.view}")
    names = list(tests) or ([one.test] if one.test else [])
    belongs = (
        f"test{'' if len(names) == 1 else 's'} {', '.join(names)}" if names else "all tests of the package"
    )
    lines = [one.shows, f"view: {one.view}", belongs, one.time_zero_words]
    caption = [html.Span(as_sentence(line), className="media-line") for line in lines if line]
    return html.Figure([shown, html.Figcaption(caption, title=f"SHA-256 {one.sha256}")])
