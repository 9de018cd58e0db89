"""The figure of a pair as a picture to save."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.plots import channel_title, filter_words, interval_words
from correlate.plots.explanation_words import change_words
from correlate.plots.picture import PictureWords, picture_svg
from dashboard.components.pictures import Picture
from dashboard.pages.pair.address import PairAddress
from dashboard.pages.pair.download import pair_named
from dashboard.pages.pair.layout import looked_at, picture
from dashboard.selection import file_name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from dashboard.pages.pair.analysis import PairAnalysis
    from dashboard.pages.pair.layout import Looked


def pair_picture(analysis: PairAnalysis, search: str | None, day: date) -> Picture:
    """Draw what the page shows of a pair, with overlays, changes and the time that is looked at."""
    campaign = analysis.project.campaign()
    address = PairAddress.from_search(search)
    looked = looked_at(analysis, campaign, address)
    pair = looked.selection.pair
    settings = [
        filter_words(looked.selection.recipe.cfc),
        f"rated {interval_words(looked.rated.first.rating)}",
    ]
    if address.window_s is not None:
        settings.append(f"shown {address.left_ms} ms to {address.right_ms} ms")
    words = PictureWords(
        title=f"{channel_title(pair.channel.words)} · {pair.load_case.title or pair.load_case.name}",
        ratings=tuple(_ratings(looked)),
        settings=" · ".join(settings),
        campaign=campaign.title,
        day=day,
    )
    named = [
        pair.load_case.name,
        pair.channel.name,
        looked.selection.repeat_words,
        pair.release.name,
        *looked.others,
    ]
    svg = picture_svg(picture(analysis, campaign, looked, "light"), words)
    return Picture(name=file_name(named), svg=svg, about=pair_named(looked))


def _ratings(looked: Looked) -> Iterator[str]:
    """Say the rating of every release that is drawn, and of the changed curve as what it is."""
    release, words = looked.selection.pair.release.name, looked.selection.repeat_words
    tests = words if len(looked.selection.pairs) > 1 else f"test {words}"
    for name, rated in {release: looked.rated, **looked.others}.items():
        yield f"{name}: {rated.rating.overall:.3f} {rated.rating.grade}, against {tests}"
    if looked.changed is not None:
        change = change_words(looked.address.change, looked.rated.unit)
        said = f"{looked.changed.overall:.3f} {looked.changed.grade}"
        yield f"Exploratory, {release} {change}: {said}"
