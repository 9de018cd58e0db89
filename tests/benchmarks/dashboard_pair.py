"""How long the pair page takes, at the server and in the browser, and how much it sends.

Run alone: ``python -m tests.benchmarks.dashboard_pair``.
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
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from plotly.utils import PlotlyJSONEncoder

from dashboard.components import pair_ids
from dashboard.pages.page import Event
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.pages.pair.callbacks import PICKED, dragged, show, show_reasons
from dashboard.state import Project
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.dashboard.printed_address import PrintedAddress
from tests.plots.scores import pulse

if TYPE_CHECKING:
    from collections.abc import Callable

SAMPLES: Final = 35_000
"""Of each channel."""
RATE_HZ: Final = 10_000
INTERVAL_MS: Final = 200
"""Rated of the usual project; the long one is rated whole."""
CHANNELS: Final = 8
OVERLAID: Final = "&over=A2&over=A3"
"""With the test, four curves."""


@dataclass(frozen=True, slots=True)
class Timing:
    """What was measured of one thing the page does.

    Attributes
    ----------
    name
        In words.
    seconds
        Median.
    sent_kb
        Size of the answer, not compressed; None where nothing is sent.
    goal_s
        At most; None where there is no goal.
    """

    name: str
    seconds: float
    sent_kb: float | None
    goal_s: float | None


def measure(repetitions: int = 5) -> list[Timing]:
    """Measure everything on two projects: one rated over 200 ms, one over all of 3.5 s."""
    with tempfile.TemporaryDirectory() as name:
        usual = write_long_project(Path(name) / "usual", end_ms=INTERVAL_MS)
        whole = write_long_project(Path(name) / "whole", end_ms=1000 * (SAMPLES - 1) // RATE_HZ)
        return [
            *_at_the_server(usual, f"{INTERVAL_MS} ms rated", repetitions),
            *_at_the_server(whole, f"{SAMPLES:,} samples rated whole", repetitions),
            *_in_the_browser(usual, repetitions),
        ]


def report(timings: list[Timing]) -> str:
    """Put what was measured into words.

    Parameters
    ----------
    timings
        From :func:`measure`.

    Returns
    -------
    str
    """
    lines = [
        f"The pair page, {SAMPLES:,} samples a channel, test and three releases, {os.cpu_count()} cores:"
    ]
    for one in timings:
        goal = f" (goal {1e3 * one.goal_s:.0f})" if one.goal_s else ""
        sent = f", {one.sent_kb:.0f} kB (goal 300)" if one.sent_kb is not None else ""
        lines.append(f"  {one.name}: {1e3 * one.seconds:.0f} ms{goal}{sent}")
    return "\n".join(lines)


def write_long_project(folder: Path, *, end_ms: int) -> Path:
    """Write a project with long channels, and return its folder.

    Parameters
    ----------
    folder
        New.
    end_ms
        End of the rated interval.

    Returns
    -------
    Path
    """
    channel = '[[load_case.channel]]\ntest = "c{0}"\nmodel = "c{0}"\nregion = "head"\ncfc = 600\n'
    head = '[campaign]\ntitle = "Long"\ndevice = "KELP-M"\n\n'
    head += '[[load_case]]\nname = "long"\ntests = ["tests/*.csv"]\n'
    releases = "".join(f'[[release]]\nname = "A{k}"\nfolder = "A{k}"\n' for k in (1, 2, 3))
    channels = "".join(channel.format(number) for number in range(CHANNELS))
    folder.mkdir(parents=True)
    interval = f"interval_ms = [0, {end_ms}]\n\n"
    (folder / "campaign.toml").write_text(head + interval + channels + releases, encoding="utf-8")
    for repeat in range(1, 4):
        _write(folder / f"tests/T{repeat}.csv", late_s=1e-4 * repeat, height=200.0 + repeat, seed=repeat)
    for release in range(1, 4):
        _write(folder / f"A{release}/long.csv", late_s=4e-3 / release, height=150.0 + 15 * release, seed=9)
    return folder


def _write(path: Path, *, late_s: float, height: float, seed: int) -> None:
    noise = np.random.default_rng(seed)
    clock = np.arange(SAMPLES) / RATE_HZ
    curves = [
        sum(
            pulse(clock, start_s=start + late_s, height=height)
            for start in np.arange(0.01, 3.4, 0.06 + 0.01 * c)
        )
        + noise.normal(scale=2.0, size=SAMPLES)
        for c in range(CHANNELS)
    ]
    path.parent.mkdir(parents=True, exist_ok=True)
    head = ",".join(["time [s]", *(f"c{number} [m/s^2]" for number in range(CHANNELS))])
    np.savetxt(path, np.column_stack([clock, *curves]), fmt="%.7g", delimiter=",", header=head, comments="")


def _at_the_server(folder: Path, words: str, repetitions: int) -> list[Timing]:
    analysis = PairAnalysis(Project(folder))
    still: dict[str, Any] = dict.fromkeys(PICKED)

    def event(search: str, **more: Any) -> Event:
        return Event(**({"trigger": None, "search": search, "picked": still, "theme": "light"} | more))

    def switch(number: int) -> Any:
        # Channels that were not looked at before: nothing of them is kept.
        return show(analysis, event(f"?channel=c{number + 1}{OVERLAID}"))

    def drag(number: int) -> Any:
        values = {"shift_ms": -1.0 - number, "scale": 1.1, "offset": 0.0, "interval": None}
        return dragged(analysis, f"?channel=c1{OVERLAID}", values, "light")

    def zoom(number: int) -> Any:
        window = {"xaxis.range[0]": 20.0 + number, "xaxis.range[1]": 60.0}
        search = f"?channel=c1{OVERLAID}"
        return show(analysis, event(search, trigger=pair_ids.ZOOM, picked=still | {"zoom": window}))

    show(analysis, event(f"?channel=c0{OVERLAID}"))  # the files are read, the kernels compiled
    return [
        _timed(f"another channel, {words}", switch, repetitions, goal_s=0.3),
        _timed(f"a slider, {words}", drag, repetitions, goal_s=0.15),
        _timed(f"a zoom, {words}", zoom, repetitions, goal_s=0.3),
        _timed(f"the reasons, {words}", lambda k: show_reasons(analysis, f"?channel=c{k + 1}"), repetitions),
    ]


def _timed(name: str, work: Callable[[int], Any], repetitions: int, goal_s: float | None = None) -> Timing:
    times, sent = [], 0
    for number in range(repetitions):
        start = time.perf_counter()
        text = json.dumps(work(number), cls=PlotlyJSONEncoder)
        times.append(time.perf_counter() - start)
        sent = max(sent, len(text.encode()))
    return Timing(name, statistics.median(times), sent / 1e3, goal_s)


def _in_the_browser(folder: Path, repetitions: int) -> list[Timing]:
    """Open the page in new profiles of a running browser, after the server has answered once."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where there is a browser

    if not CHROMIUM.exists():
        return []
    times = []
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "dashboard", str(folder)], stdout=subprocess.PIPE, text=True
    )
    with server, sync_playwright() as play:
        assert server.stdout
        printed = PrintedAddress.in_lines(server.stdout)
        assert printed
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        for _ in range(repetitions + 1):
            context = browser.new_context(viewport={"width": 1440, "height": 900})
            context.add_cookies([printed.browser_cookie])
            page = context.new_page()
            start = time.perf_counter()
            page.goto(f"{printed.origin}/pair?channel=c1{OVERLAID}")
            page.locator("#figure .js-line").first.wait_for()
            times.append(time.perf_counter() - start)
            context.close()
        browser.close()
        server.terminate()
    # The first one waits for the server to read the files.
    return [Timing("first view in Chromium, empty profile", statistics.median(times[1:]), None, 2.0)]


if __name__ == "__main__":
    print(report(measure()))
