"""How the matrix behaves with 3,250 cells: at the server, until its first cell is seen, and while it scrolls.

Run alone: ``python -m tests.benchmarks.matrix``.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from plotly.utils import PlotlyJSONEncoder

from dashboard.pages.matrix.callbacks import PICKED, show
from dashboard.pages.page import Event
from dashboard.state import Project
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.dashboard.board_project import write_board_project
from tests.dashboard.printed_address import PrintedAddress

if TYPE_CHECKING:
    from playwright.sync_api import CDPSession

RELEASES, LOAD_CASES, CHANNELS, REPEATS = 2, 25, 130, 3

_SCROLL: Final = """
async () => {
  const down = document.querySelector(".matrix-grid .ag-body-viewport");
  const across = document.querySelector(".matrix-grid .ag-center-cols-viewport");
  const times = [];
  let most = 0;
  const frame = () => new Promise((done) => requestAnimationFrame(done));
  const go = async (steps, move) => {
    let last = await frame();
    for (let step = 0; step < steps; step++) {
      move();
      const now = await frame();
      times.push(now - last);
      last = now;
      most = Math.max(most, document.querySelectorAll(".matrix-cell").length);
    }
  };
  await go(240, () => { down.scrollTop += 24; });
  await go(100, () => { across.scrollLeft += 24; });
  return { times, most };
}
"""
"""Scrolls by 24 pixels per frame, down and across; returns times between frames and the most cells drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothness:
    """What was measured.

    Attributes
    ----------
    server_s
        Median of the time from the address to everything that is shown, ready to send.
    sent_kb
        Size of the answer, not compressed.
    first_s
        From opening the address with an empty profile to the first cell.
    frames_ms
        Times between frames while it scrolls.
    work_ms
        Time of the processor for one frame, on the main thread of the page.
    drawn
        Most cells that were in the page at once.
    """

    server_s: float
    sent_kb: float
    first_s: float
    frames_ms: list[float]
    work_ms: float
    drawn: int


def measure(repetitions: int = 3) -> Smoothness | None:
    """Open the matrix of a synthetic campaign and scroll through it; None without a browser."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where there is a browser

    if not CHROMIUM.exists():
        return None
    with tempfile.TemporaryDirectory() as name:
        folder = write_board_project(
            Path(name), releases=RELEASES, load_cases=LOAD_CASES, channels=CHANNELS, repeats=REPEATS
        )
        project = Project(folder)
        event = Event(trigger=None, search="", picked=dict.fromkeys(PICKED), theme=None)
        times, text = [], ""
        for _ in range(repetitions):
            start = time.perf_counter()
            text = json.dumps(show(project, event), cls=PlotlyJSONEncoder)
            times.append(time.perf_counter() - start)
        program = [sys.executable, "-u", "-m", "dashboard", str(folder)]
        with (
            subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as server,
            sync_playwright() as play,
        ):
            assert server.stdout
            printed = PrintedAddress.in_lines(server.stdout)
            assert printed
            browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            page.context.add_cookies([printed.browser_cookie])
            start = time.perf_counter()
            page.goto(f"{printed.origin}/matrix")
            page.locator(".matrix-cell").first.wait_for(timeout=120_000)
            first_s = time.perf_counter() - start
            worked = page.context.new_cdp_session(page)
            worked.send("Performance.enable", {"timeDomain": "threadTicks"})
            before = _worked_s(worked)
            found = page.evaluate(_SCROLL)
            work_s = _worked_s(worked) - before
            browser.close()
            server.terminate()
    return Smoothness(
        server_s=statistics.median(times),
        sent_kb=len(text.encode()) / 1e3,
        first_s=first_s,
        frames_ms=found["times"],
        work_ms=1e3 * work_s / len(found["times"]),
        drawn=found["most"],
    )


def _worked_s(session: CDPSession) -> float:
    """Return the time that the processor has spent on the page so far, whatever else the machine does."""
    metrics = session.send("Performance.getMetrics")["metrics"]
    return float(next(one["value"] for one in metrics if one["name"] == "TaskDuration"))


def report(found: Smoothness | None) -> str:
    """Put what was measured into words.

    Parameters
    ----------
    found
        From :func:`measure`.

    Returns
    -------
    str
    """
    if found is None:
        return f"The matrix was not measured: there is no browser at {CHROMIUM}."
    ordered = sorted(found.frames_ms)
    late = sum(one > 50 for one in ordered) / len(ordered)
    middle = statistics.median(ordered)
    within = ordered[int(0.95 * len(ordered))]
    return (
        f"The matrix of {LOAD_CASES * CHANNELS:,} cells ({LOAD_CASES} load cases of {CHANNELS} channels), "
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}: {found.server_s * 1e3:.0f} ms at the "
        f"server, {found.sent_kb:,.0f} kB not compressed, first cell after {found.first_s:.1f} s. While it "
        f"scrolls: a frame every {middle:.1f} ms (95 % within {within:.1f} ms, {late:.0%} over 50 ms), "
        f"{found.work_ms:.1f} ms of the processor each, at most {found.drawn} cells drawn at once."
    )


if __name__ == "__main__":
    print(report(measure()))
