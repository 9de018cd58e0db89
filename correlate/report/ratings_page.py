"""The ratings of a release as one page: the numbers of the scoreboard, then every channel with its curves."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.comparison import leaves
from correlate.plots.pair import pair_figure
from correlate.plots.scoreboard_words import (
    chance_words,
    limits_words,
    scatter_sentence,
    signed,
)
from correlate.plots.svg_figure import figure_svg
from correlate.plots.wording import COMPONENTS, channel_title, delay_in_words, recipe_words
from correlate.report.board_rows import board_row
from correlate.report.html import render_page

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from correlate.campaign import BoardLine, CampaignPair, ChannelCeiling, PairScore, Score, Scoreboard
    from correlate.store import StoredBoard

    Rated = Sequence[tuple[CampaignPair, PairScore]]

HEIGHT: Final = 380
"""Of the drawing of a pair, px before it is fitted to the page."""


def ratings_html(
    stored: StoredBoard, rated: Rated, *, title: str, ceilings: Iterable[ChannelCeiling] = ()
) -> str:
    """Write the ratings of a release as a page.

    Parameters
    ----------
    stored
        Scoreboard of the release, where every number is counted, and what follows from it.
    rated
        Its pairs with their curves.
    title
        Of the page.
    ceilings
        Of its channels, where they are known.

    Returns
    -------
    str
        A page that needs no other file. Its one script, named in the policy of the page by its hash, sorts
        tables and folds load cases.
    """
    script, board = _script(), stored.board
    by_place: dict[tuple[str, str], list[tuple[CampaignPair, PairScore]]] = {}
    for pair, score in rated:
        by_place.setdefault((pair.load_case.name, pair.channel.name), []).append((pair, score))
    hardware = {(one.load_case, one.channel): one.median for one in ceilings}
    lines = [(line, False) for line in board.load_cases] + [(line, True) for line in board.held_out_cases]
    return render_page(
        "ratings.html",
        title=title,
        pairs=len(rated),
        against=board.against,
        headline=stored.decision.verdict,
        totals=list(_totals(board)),
        checks=f"{limits_words(board).capitalize()}.",
        objections=[one.words for one in stored.decision.objections],
        cases=[
            {
                "anchor": f"case-{place}",
                "row": board_row(line, held_out=held_out),
                "channels": [
                    _channel(line.score, leaf, f"case-{place}-channel-{number}", by_place, hardware)
                    for number, (_, leaf) in enumerate(leaves(line.score, ()), start=1)
                ],
            }
            for place, (line, held_out) in enumerate(lines, start=1)
        ],
        regions=[board_row(line) for line in board.regions],
        components=list(COMPONENTS),
        script=script,
        script_hash=f"sha256-{b64encode(sha256(script.encode()).digest()).decode()}",
    )


@cache
def _script() -> str:
    return files("correlate.report").joinpath("ratings.js").read_text(encoding="utf-8")


def _totals(board: Scoreboard) -> Iterable[dict[str, Any]]:
    """Return the number over the load cases that tuning may use, and the one over the others."""
    for words, line in (("Load cases open to tuning", board.total), ("Held out of tuning", board.held_out)):
        if line is not None:
            yield {
                "words": words,
                "row": board_row(line),
                "change": _change(line, board.against),
                "scatter": scatter_sentence(line.score),
            }


def _change(line: BoardLine, against: str | None) -> str:
    if line.change is None or against is None:
        return "the first rated release"
    if line.change.difference is None:
        return line.change.verdict
    return f"{signed(line.change.difference)} against {against}, {chance_words(line.change)}"


def _channel(
    case: Score,
    score: Score,
    anchor: str,
    by_place: Mapping[tuple[str, str], Rated],
    hardware: Mapping[tuple[str, str], float],
) -> dict[str, Any]:
    """Return what the page shows of one channel: all repeats, and the curves of the one rated lowest."""
    place = (case.name, score.name)
    group = by_place.get(place, ())
    means = {
        name: sum(getattr(one.rating, name) for _, one in group) / len(group) if group else None
        for name in COMPONENTS
    }
    found: dict[str, Any] = {
        "anchor": anchor,
        "title": channel_title(score.words),
        "score": score,
        "means": means,
        "hardware": hardware.get(place),
        "repeats": [
            {"name": pair.repeat, "rating": one.rating, "shift": delay_in_words(one.rating.shift_s)}
            for pair, one in group
        ],
    }
    if not group:
        return found | {"reason": "no pair of test and model of this channel could be rated"}
    pair, lowest = min(group, key=lambda entry: entry[1].rating.overall)
    words = f"Test and model of {channel_title(score.words)}, rated {lowest.rating.overall:.3f}"
    sources = [one.reference.source for _, one in group] + [lowest.candidate.source]
    return found | {
        "shown": pair.repeat,
        "figure": figure_svg(
            pair_figure(lowest, theme="light"), words=words, name=f"{anchor}-drawing", height=HEIGHT
        ),
        "settings": recipe_words(lowest.recipe, lowest.rating),
        "files": [(source.file, source.sha256 or "none: computed") for source in sources],
    }
