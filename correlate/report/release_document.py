"""The report of a release as a page and as PDF."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pypdf import PdfReader

from correlate.campaign import PairScore, decide
from correlate.child_processes import attached
from correlate.criteria.result import CAUTION as CRITERIA_CAUTION
from correlate.errors import FormatError
from correlate.plots.explanation_words import HINT_CAUTION
from correlate.plots.pair import pair_figure
from correlate.plots.palette import LIGHT
from correlate.plots.scoreboard_trend import trend_svg
from correlate.plots.scoreboard_words import chance_brief, chance_words, signed
from correlate.plots.sign_off_words import day_words, sign_off_words
from correlate.plots.small_pair import SMALL_HEIGHT, small_pair_figure
from correlate.plots.svg_figure import figure_svg
from correlate.plots.wording import (
    COMPONENTS,
    channel_title,
    delay_in_words,
    filter_words,
    grade_zones,
    number,
)
from correlate.report.board_rows import board_row, difference_words
from correlate.report.html import render_page, without_folder
from correlate.report.release_parts import (
    MOST_CRITERIA,
    criteria_rows,
    diagnosis,
    leading_criteria,
    leading_window_rows,
    method,
)
from correlate.report.release_words import (
    held_out_words,
    objections,
    signed_today,
    standing,
    unrated_words,
    windows_words,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from correlate.campaign import BoardLine, Change
    from correlate.report.release_contents import CasePart, ChannelPart, ReleaseContents


_LARGE_HEIGHTS: Final = (200, 420)
"""Least and largest height of the drawing of a pair over the width of a page, px before it is fitted."""
_TREND_WIDTH: Final = 760
"""Of the drawing of all releases, px."""
_SMALL: Final[dict[int, int]] = {2: 450, 3: 300}
"""Width of a small drawing, px, by the number of columns."""
_ALL_LARGE: Final = 2
"""Up to so many channels of a load case are all drawn large; of more, the one rated lowest."""
_TWO_COLUMNS: Final = frozenset({2, 4})
"""Up to so many small drawings are in two columns; more are in three."""

SECTIONS: Final = (
    ("decision", "Decision"),
    ("scoreboard", "Scoreboard, limits of use, sign-offs"),
    ("diagnosis", "Diagnosis"),
    ("changes", "What changed"),
    ("method", "Method and settings"),
)
"""Name and heading of each section; the load cases come before the diagnosis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AppendixFile:
    """The file beside the report that holds hashes, evidence and steps.

    Attributes
    ----------
    name
        Of the file.
    sha256
        Of its content.
    """

    name: str
    sha256: str


def release_html(
    contents: ReleaseContents,
    *,
    pages: Mapping[str, int] | None = None,
    appendix: AppendixFile | None = None,
) -> str:
    """Write the report of a release.

    Parameters
    ----------
    contents
        What it says.
    pages
        On which page of the print each section begins; None for a screen.
    appendix
        The file beside it; None where this copy has none, which it then says.
    """
    board = contents.board
    page = render_page(
        "release.html",
        **page_frame(contents),
        headline=decide(contents.campaign, board).verdict,
        zones=grade_zones(),
        objections=objections(contents),
        points=standing(contents),
        lines=[_line(line, contents) for line in [*board.load_cases, *board.held_out_cases]],
        regions=[_line(line, contents) for line in board.regions],
        trend=trend_svg(
            board.trend,
            release=board.release,
            ceiling=board.total.ceiling_rating,
            width=_TREND_WIDTH,
            height=230,
        ),
        listed=_listed(contents, pages),
        method=method(contents),
        cases=[_case(case, place, contents) for place, case in enumerate(contents.cases, start=1)],
        diagnosis=diagnosis(contents),
        moved=[change_row(change) for change in board.moved],
        unrated_words=unrated_words(contents),
        held_out_words=held_out_words(contents),
        criteria_caution=CRITERIA_CAUTION,
        hint_caution=HINT_CAUTION,
        sign_offs=[(sign_off_words(one), one.sign_off.text) for one in signed_today(contents)],
        appendix=appendix,
        appendix_words=_appendix_words(appendix),
    )
    return without_folder(page, contents.campaign.folder)


def page_frame(contents: ReleaseContents) -> dict[str, Any]:
    """Return what report and appendix have in common: contents, day, and the line at the foot of a print."""
    day = day_words(contents.day)
    running = f"{contents.campaign.title} · release {contents.board.release} · {day}"
    return {
        "contents": contents,
        "board": contents.board,
        "day": day,
        "running": _in_style(running),
        "muted": LIGHT.muted,
    }


def _appendix_words(appendix: AppendixFile | None) -> str:
    if appendix is None:
        return "This copy has no appendix; correlate report writes one beside the report."
    return (
        f"Hashes of all inputs, evidence, every rating, every change and every recorded step: {appendix.name}"
        f" (SHA-256 {appendix.sha256[:16]}…, in full under Method and settings)."
    )


def _in_style(text: str) -> str:
    """Write a text for a string of a style sheet, where nothing of it can end string or sheet."""
    return "".join(one if one.isalnum() or one in " ·-.," else f"\\{ord(one):06x}" for one in text)


def case_anchor(place: int) -> str:
    """Return the name of the section of a load case, counted from 1."""
    return f"case-{place}"


def _listed(contents: ReleaseContents, pages: Mapping[str, int] | None) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for anchor, words in SECTIONS:
        if anchor == "diagnosis":
            found += [
                {"anchor": case_anchor(place), "words": case.score.words, "level": 1}
                for place, case in enumerate(contents.cases, start=1)
            ]
        found.append({"anchor": anchor, "words": words, "level": 0})
    return [{**entry, "page": (pages or {}).get(str(entry["anchor"]), "")} for entry in found]


def _line(line: BoardLine, contents: ReleaseContents) -> dict[str, Any]:
    """Return a line of the scoreboard, and where its load case is."""
    names = [case.load_case.name for case in contents.cases]
    score = line.score
    held_out = any(score is other.score for other in contents.board.held_out_cases)
    anchor = case_anchor(names.index(score.name) + 1) if score.name in names else ""
    return {**board_row(line, held_out=held_out), "anchor": anchor}


def _case(case: CasePart, place: int, contents: ReleaseContents) -> dict[str, Any]:
    """Return the page of a load case: the channel rated lowest large, the others small."""
    start_ms, end_ms = case.load_case.interval_ms
    board = contents.board
    lines = {line.score.name: line for line in [*board.load_cases, *board.held_out_cases]}
    large, small = _arranged(case)
    columns = 2 if len(small) in _TWO_COLUMNS else 3
    anchors = {
        id(one): f"{case_anchor(place)}-channel-{number}" for number, one in enumerate(case.channels, start=1)
    }
    height = _large_height(case, large, len(small), columns)
    criteria = None if case.criteria is None else criteria_rows(leading_criteria(case.criteria))
    windows = None if case.windows is None else leading_window_rows(case.windows)
    return {
        "part": case,
        "anchor": case_anchor(place),
        "line": _line(lines[case.load_case.name], contents),
        "interval": f"{number(start_ms)} to {number(end_ms)} ms",
        "large": [_channel(one, anchors[id(one)], _large_drawing(height)) for one in large],
        "small": [_channel(one, anchors[id(one)], _small_drawing(_SMALL[columns])) for one in small],
        "columns": columns,
        "criteria": criteria,
        "more_criteria": 0 if case.criteria is None else len(case.criteria.compared) - len(criteria or ()),
        "windows": windows,
        "more_windows": 0 if case.windows is None else len(case.windows.model.verdicts) - len(windows or ()),
        "windows_words": "" if case.windows is None else windows_words(case.windows),
    }


def _arranged(case: CasePart) -> tuple[list[ChannelPart], list[ChannelPart]]:
    """Return the channels that are drawn large, and the others; each in the order of the file."""
    channels = list(case.channels)
    rated = [one for one in channels if one.shown is not None and one.score.overall is not None]
    if len(channels) <= _ALL_LARGE or not rated:
        return channels, []
    lowest = min(rated, key=lambda one: one.score.overall or 0.0)
    return [lowest], [one for one in channels if one is not lowest]


_PAGE: Final = 1295
"""Height of a printed page in px of drawings, of which its width has 920; a little is left free."""
_HEAD: Final = 95
_CAPTION: Final = 95
_SMALL_CAPTION: Final = {2: 100, 3: 165}
_FLAG: Final = 20
_WINDOWS, _WINDOW, _REASON = 105, 29, 22
_LONG: Final = 45
"""Letters of a quantity that take a second line."""
_CRITERIA, _CRITERION = 65, 25


def _large_height(case: CasePart, large: Sequence[ChannelPart], small: int, columns: int) -> int:
    """Return the height of the large drawings with which the load case fills its page, and no more.

    Heights of texts and tables are estimates, as the print has them in the usual case.
    """
    lines = -(-small // columns)
    used = _HEAD + len(large) * _CAPTION + lines * (SMALL_HEIGHT + _SMALL_CAPTION[columns])
    used += _FLAG * sum(_flags(one) for one in large)
    used += _FLAG * lines * max((_flags(one) for one in case.channels), default=0)
    if case.windows is not None:
        rows = leading_window_rows(case.windows)
        used += _WINDOWS + _WINDOW * len(rows)
        used += _REASON * sum(bool(row["reason"]) + (len(row["words"]) > _LONG) for row in rows)
    if case.criteria is not None:
        used += _CRITERIA + _CRITERION * min(len(case.criteria.compared), MOST_CRITERIA + 1)
    least, most = _LARGE_HEIGHTS
    return max(least, min(most, (_PAGE - used) // max(len(large), 1)))


def _flags(channel: ChannelPart) -> int:
    return 0 if channel.shown is None else len(channel.shown.flags)


Drawn = Callable[[PairScore, str, str], str]
"""Draws a pair: with words for who cannot see it, under a name."""


def _large_drawing(height: int) -> Drawn:
    def draw(score: PairScore, words: str, name: str) -> str:
        return figure_svg(pair_figure(score, theme="light"), words=words, name=name, height=height)

    return draw


def _small_drawing(width: int) -> Drawn:
    def draw(score: PairScore, words: str, name: str) -> str:
        return figure_svg(small_pair_figure(score, theme="light"), words=words, name=name, width=width)

    return draw


def _channel(channel: ChannelPart, anchor: str, draw: Drawn) -> dict[str, Any]:
    score, shown, change = channel.score, channel.shown, channel.change
    drawing = ""
    if shown is not None:
        words = f"Test and model of {channel_title(score.words)}, rated {shown.rating.overall:.3f}"
        drawing = draw(shown, words, f"{anchor}-drawing")
    return {
        "part": channel,
        "anchor": anchor,
        "title": score.words[:1].upper() + score.words[1:],
        "drawing": drawing,
        "filter": "" if shown is None else filter_words(shown.recipe.cfc),
        "shift": "" if shown is None else delay_in_words(shown.rating.shift_s),
        "means": {name: _mean(channel, name) for name in COMPONENTS} if channel.records else {},
        "change": difference_words(change),
        "scatter": "" if change is None or change.difference is None else chance_brief(change),
    }


def _mean(channel: ChannelPart, component: str) -> float:
    return float(sum(getattr(record, component) for record in channel.records) / len(channel.records))


def change_row(change: Change) -> dict[str, Any]:
    """Return a change with its words."""
    place = change.place
    where = place[0] if change.kind in {"channel", "load case"} else ""
    return {
        "change": change,
        "where": where,
        "difference": "–" if change.difference is None else signed(change.difference),
        "scatter": chance_words(change),
    }


BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
"""Programs that can print, the first that is found."""
_ARGUMENTS: Final = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
    "--generate-pdf-document-outline",
    "--virtual-time-budget=20000",
)
_PATIENCE_S: Final = 120.0
_DATES: Final = re.compile(rb"/(CreationDate|ModDate) \(D:\d{14}[^)]*\)")


def find_browser() -> str:
    """Return the program that prints."""
    for name in BROWSERS:
        found = shutil.which(name)
        if found is not None:
            return found
    raise FormatError(
        "Chromium is not installed on this machine",
        where="PDF",
        remedy="install Chromium, or print the HTML page from any browser",
    )


def release_pdf(page: Callable[[Mapping[str, int]], str], *, day: date, browser: str) -> bytes:
    """Print the report of a release.

    Notes
    -----
    It is printed twice: the first print says on which page each section begins.
    """
    first = printed(page({}), browser)
    return dated(printed(page(_page_numbers(first)), browser), day)


def printed(page: str, browser: str) -> bytes:
    """Print a page."""
    with tempfile.TemporaryDirectory(prefix="correlate-print-") as folder:
        return _print(page, Path(folder), browser)


def _print(page: str, folder: Path, browser: str) -> bytes:
    source, target = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    target.unlink(missing_ok=True)
    profile = f"--user-data-dir={folder / 'profile'}"
    command = [browser, *_ARGUMENTS, profile, f"--print-to-pdf={target}", source.as_uri()]
    try:
        # Nobody reads what it says; a pipe would have to be emptied.
        with attached(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as browsing:
            code = browsing.wait(_PATIENCE_S)
        if code:
            raise subprocess.CalledProcessError(code, command)
        return target.read_bytes()
    except (OSError, subprocess.SubprocessError) as error:
        raise FormatError(
            f"{browser} could not print ({type(error).__name__})",
            where="PDF",
            remedy="print the HTML page from any browser",
        ) from error


def _page_numbers(pdf: bytes) -> dict[str, int]:
    """Return on which page, counted from 1, each place that is linked to lies."""
    reader = PdfReader(BytesIO(pdf))
    found: dict[str, int] = {}
    for name, place in reader.named_destinations.items():
        number = reader.get_destination_page_number(place)
        if number is not None:
            found[name.removeprefix("/")] = number + 1
    return found


def dated(pdf: bytes, day: date) -> bytes:
    """Put the date of the document where the moment of printing stands, in as many bytes."""

    def stamp(match: re.Match[bytes]) -> bytes:
        head = b"/" + match[1] + b" (D:" + day.strftime("%Y%m%d").encode() + b"000000"
        zone = b"+00'00'"
        return head + zone.ljust(len(match[0]) - len(head) - 1)[: len(match[0]) - len(head) - 1] + b")"

    return _DATES.sub(stamp, pdf)
