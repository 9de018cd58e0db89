"""How long the pages of the dashboard take at the server, and how much they send, on a large store."""

from __future__ import annotations

import json
import statistics
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from plotly.utils import PlotlyJSONEncoder

from dashboard.pages.decision.callbacks import show
from dashboard.pages.decision.layout import CHOICE
from dashboard.pages.page import Event
from dashboard.state import Project
from tests.dashboard.board_project import write_board_project

if TYPE_CHECKING:
    from collections.abc import Callable

RELEASES, LOAD_CASES, CHANNELS, REPEATS = 40, 10, 13, 5


@dataclass(frozen=True, slots=True)
class PageSpeed:
    """What was measured of one page.

    Attributes
    ----------
    name
        Of the page.
    server_s
        Median of the time from the event to everything that is shown, ready to send.
    sent_kb
        Size of the answer, not compressed.
    """

    name: str
    server_s: float
    sent_kb: float


def measure(repetitions: int = 5) -> PageSpeed:
    """Open the decision sheet of 40 releases with 130 channels and 5 repeats each."""
    with tempfile.TemporaryDirectory() as name:
        folder = write_board_project(
            Path(name), releases=RELEASES, load_cases=LOAD_CASES, channels=CHANNELS, repeats=REPEATS
        )
        project = Project(folder)
        event = Event(trigger=None, search="", picked=dict.fromkeys(CHOICE.picked), theme="light")
        return _timed("decision sheet", lambda: show(project, event), repetitions)


def report(speed: PageSpeed) -> str:
    """Put what was measured into words.

    Parameters
    ----------
    speed
        From :func:`measure`.

    Returns
    -------
    str
    """
    pairs = RELEASES * LOAD_CASES * CHANNELS * REPEATS
    return (
        f"The {speed.name} over {RELEASES} releases of {LOAD_CASES * CHANNELS} channels ({pairs:,} ratings): "
        f"{speed.server_s * 1e3:.0f} ms at the server, {speed.sent_kb:.0f} kB sent (goal 300)."
    )


def _timed(name: str, page: Callable[[], dict[str, Any]], repetitions: int) -> PageSpeed:
    times, text = [], ""
    for _ in range(repetitions):
        start = time.perf_counter()
        text = json.dumps(page(), cls=PlotlyJSONEncoder)
        times.append(time.perf_counter() - start)
    return PageSpeed(name, statistics.median(times), len(text.encode()) / 1e3)
