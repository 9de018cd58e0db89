"""A release document as a page and as PDF."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pypdf import PdfReader

from correlate.criteria.result import CAUTION as CRITERIA_CAUTION
from correlate.errors import FormatError
from correlate.plots.explanation_words import HINT_CAUTION
from correlate.plots.pair import pair_figure
from correlate.plots.palette import LIGHT
from correlate.plots.scoreboard_trend import trend_svg
from correlate.plots.scoreboard_words import board_title, chance_brief, chance_words, signed
from correlate.plots.sign_off_words import day_words, sign_off_words
from correlate.plots.svg_figure import figure_svg
from correlate.plots.wording import COMPONENTS, channel_title, delay_in_words, grade_zones, number
from correlate.report.html import render_page
from correlate.report.release_parts import appendix, criteria_rows, diagnosis, method, window_rows
from correlate.report.release_words import (
    held_out_gap,
    signed_today,
    summary_points,
    windows_words,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import date

    from correlate.campaign import BoardLine, Change, Score
    from correlate.report.release_contents import CasePart, ChannelPart, ReleaseContents


PAIR_HEIGHT: Final = 400
"""Of the drawing of a pair, px before it is fitted to the page."""

SECTIONS: Final = (
    ("method", "Method and settings"),
    ("scoreboard", "Scoreboard"),
    ("load-cases", "Load cases"),
    ("diagnosis", "Diagnosis"),
    ("changes", "What changed"),
    ("held-out", "Held-out evidence"),
    ("limits", "Limits of use and cautions"),
    ("signatures", "Sign-offs and notes"),
    ("inputs", "Appendix A. Inputs and versions"),
    ("steps", "Appendix B. Every recorded step"),
)
"""Name and heading of each section after the summary."""


def release_html(contents: ReleaseContents, *, pages: Mapping[str, int] | None = None) -> str:
    """Write the document of a release."""
    board = contents.board
    return render_page(
        "release.html",
        running=_in_style(f"{contents.campaign.title} · release {board.release} · {day_words(contents.day)}"),
        muted=LIGHT.muted,
        contents=contents,
        board=board,
        headline=board_title(board),
        day=day_words(contents.day),
        zones=grade_zones(),
        points=summary_points(contents),
        lines=[_line(line, contents, anchor=True) for line in [*board.load_cases, *board.held_out_cases]],
        trend=trend_svg(board, width=470, height=250),
        sections=SECTIONS,
        listed=_listed(contents, pages),
        printed=pages is not None,
        method=method(contents),
        tree=_tree(contents),
        regions=[_line(line, contents) for line in board.regions],
        cases=[_case(case, place) for place, case in enumerate(contents.cases, start=1)],
        diagnosis=diagnosis(contents),
        changes=[_change(change) for change in contents.changes],
        gap=held_out_gap(contents),
        signed=signed,
        criteria_caution=CRITERIA_CAUTION,
        hint_caution=HINT_CAUTION,
        sign_offs=[(sign_off_words(one), one.sign_off.text) for one in signed_today(contents)],
        appendix=appendix(contents),
    )


def _in_style(text: str) -> str:
    """Write a text for a string of a style sheet, where nothing of it can end string or sheet."""
    return "".join(one if one.isalnum() or one in " ·-.," else f"\\{ord(one):06x}" for one in text)


def case_anchor(place: int) -> str:
    """Return the name of the section of a load case, counted from 1."""
    return f"case-{place}"


def _listed(contents: ReleaseContents, pages: Mapping[str, int] | None) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = [{"anchor": "summary", "words": "Summary", "level": 0}]
    for anchor, words in SECTIONS:
        found.append({"anchor": anchor, "words": words, "level": 0})
        if anchor == "load-cases":
            found += [
                {"anchor": case_anchor(place), "words": case.score.words, "level": 1}
                for place, case in enumerate(contents.cases, start=1)
            ]
    return [{**entry, "page": (pages or {}).get(str(entry["anchor"]), "")} for entry in found]


def _line(line: BoardLine, contents: ReleaseContents, *, anchor: bool = False) -> dict[str, Any]:
    names = [case.load_case.name for case in contents.cases]
    score, change = line.score, line.change
    return {
        "score": score,
        **_beside(line),
        "scatter": "" if change is None or change.difference is None else chance_brief(change),
        "anchor": case_anchor(names.index(score.name) + 1) if anchor else "",
        "held_out": any(score is other.score for other in contents.board.held_out_cases),
    }


def _beside(line: BoardLine) -> dict[str, Any]:
    ceiling = None if line.ceiling is None else line.ceiling.overall
    return {"ceiling": ceiling, "difference": _difference(line.change)}


def _difference(change: Change | None) -> str:
    return "" if change is None or change.difference is None else signed(change.difference)


def _tree(contents: ReleaseContents) -> list[dict[str, Any]]:
    """Return the numbers from load case down to channel, one row each."""
    by_place = {
        (case.load_case.name, channel.score.name): channel
        for case in contents.cases
        for channel in case.channels
    }
    board = contents.board
    lines = {line.score.name: line for line in [*board.load_cases, *board.held_out_cases]}
    rows: list[dict[str, Any]] = []
    for place, case in enumerate(contents.cases, start=1):
        top = {"score": case.score, "level": 0, "case": case.load_case, "anchor": case_anchor(place)}
        rows.append({**top, **_beside(lines[case.load_case.name])})
        rows += _branches(case.score, 1, case, place, by_place)
    return rows


def _branches(
    score: Score, level: int, case: CasePart, place: int, by_place: Mapping[tuple[str, str], ChannelPart]
) -> list[dict[str, Any]]:
    rows = []
    for part in score.parts:
        row: dict[str, Any] = {"score": part, "level": level, "case": case.load_case}
        row |= {"anchor": "", "ceiling": None, "difference": ""}
        if part.kind == "channel":
            channel = by_place[case.load_case.name, part.name]
            ceiling = None if channel.ceiling is None else channel.ceiling.median
            row |= {"anchor": _channel_anchor(place, case.channels.index(channel) + 1)}
            row |= {"ceiling": ceiling, "difference": _difference(channel.change)}
        rows += [row, *_branches(part, level + 1, case, place, by_place)]
    return rows


def _channel_anchor(case: int, channel: int) -> str:
    return f"{case_anchor(case)}-channel-{channel}"


def _case(case: CasePart, place: int) -> dict[str, Any]:
    start_ms, end_ms = case.load_case.interval_ms
    return {
        "part": case,
        "anchor": case_anchor(place),
        "interval": f"{number(start_ms)} to {number(end_ms)} ms",
        "channels": [
            _channel(channel, _channel_anchor(place, number))
            for number, channel in enumerate(case.channels, start=1)
        ],
        "criteria": None if case.criteria is None else criteria_rows(case.criteria),
        "windows": None if case.windows is None else window_rows(case.windows),
        "windows_words": "" if case.windows is None else windows_words(case.windows),
    }


def _channel(channel: ChannelPart, anchor: str) -> dict[str, Any]:
    score, shown, change = channel.score, channel.shown, channel.change
    title = score.words[:1].upper() + score.words[1:]
    drawing = ""
    if shown is not None:
        words = f"Test and model of {channel_title(score.words)}, rated {shown.rating.overall:.3f}"
        drawing = figure_svg(
            pair_figure(shown, theme="light"), words=words, name=f"{anchor}-drawing", height=PAIR_HEIGHT
        )
    return {
        "part": channel,
        "anchor": anchor,
        "title": title,
        "drawing": drawing,
        "shift": "" if shown is None else delay_in_words(shown.rating.shift_s),
        "means": {name: _mean(channel, name) for name in COMPONENTS} if channel.records else {},
        "change": _difference(change),
        "scatter": "" if change is None or change.difference is None else chance_words(change),
    }


def _mean(channel: ChannelPart, component: str) -> float:
    return float(sum(getattr(record, component) for record in channel.records) / len(channel.records))


def _change(change: Change) -> dict[str, Any]:
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
    """Print the document of a release.

    Notes
    -----
    It is printed twice: the first print says on which page each section begins.
    """
    with tempfile.TemporaryDirectory(prefix="correlate-print-") as folder:
        first = _print(page({}), Path(folder), browser)
        final = _print(page(_page_numbers(first)), Path(folder), browser)
    return _dated(final, day)


def _print(page: str, folder: Path, browser: str) -> bytes:
    source, target = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    target.unlink(missing_ok=True)
    profile = f"--user-data-dir={folder / 'profile'}"
    command = [browser, *_ARGUMENTS, profile, f"--print-to-pdf={target}", source.as_uri()]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=_PATIENCE_S)  # noqa: S603 - no shell
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


def _dated(pdf: bytes, day: date) -> bytes:
    """Put the date of the document where the moment of printing stands, in as many bytes."""

    def stamp(match: re.Match[bytes]) -> bytes:
        head = b"/" + match[1] + b" (D:" + day.strftime("%Y%m%d").encode() + b"000000"
        zone = b"+00'00'"
        return head + zone.ljust(len(match[0]) - len(head) - 1)[: len(match[0]) - len(head) - 1] + b")"

    return _DATES.sub(stamp, pdf)
