"""What a browser loads to show a page, and how long that takes: with an empty profile, and from another page.

Run alone, for a project of one's own or a small one: ``python -m tests.benchmarks.first_view [PROJECT]``.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from dashboard.app import PAGES
from tests.browser.conftest import ARGUMENTS, CHROMIUM, rated
from tests.browser.loading import Loaded, watched
from tests.dashboard.printed_address import PrintedAddress
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

FIRST_GOAL_S: Final = 1.2
LATER_GOAL_S: Final = 0.4
GOAL_MB: Final = 2.2

_HEADING: Final = """
() => { const found = document.querySelector("main h1"); return found?.offsetParent ? performance.now() : 0; }
"""
_FOLLOWED: Final = """
path => new Promise((done, fail) => {
  const before = document.querySelector("main h1").textContent, start = performance.now();
  const look = () => {
    // The element of the page may stay and hold another page; the two pages have different headings.
    const heading = document.querySelector("main h1"), spent = performance.now() - start;
    if (heading?.offsetParent && heading.textContent !== before) {
      done(spent);
    } else if (spent > 30000) {
      fail(new Error(`no heading of ${path} within 30 s`));
    } else {
      requestAnimationFrame(look);
    }
  };
  Array.from(document.querySelectorAll("#navigation a")).find(link => link.pathname === path).click();
  look();
})
"""


@dataclass(frozen=True, slots=True)
class View:
    """What was measured of one page.

    Attributes
    ----------
    name
        Of the page.
    first_s
        Median from asking for the page to its heading, empty profile.
    sent_mb
        Transferred until nothing more was asked for.
    later_s
        Median from following the link on another page to the heading.
    """

    name: str
    first_s: float
    sent_mb: float
    later_s: float


def measure(project: Path | None = None, repetitions: int = 7) -> list[View]:
    """Open every page of a rated project in new profiles, and from another page.

    Parameters
    ----------
    project
        Its folder; None for a small one.
    repetitions
        New profiles for each page; one more is not counted, for which the server reads its files.
    """
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where there is a browser

    if not CHROMIUM.exists():
        return []
    with tempfile.TemporaryDirectory() as name, sync_playwright() as play:
        folder = project or rated(write_project(Path(name)))
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        with _served(folder) as address:
            found = [_view(browser, address, page.path, page.name, repetitions) for page in PAGES]
        browser.close()
    return found


def report(views: list[View]) -> str:
    """Put what was measured into words.

    Parameters
    ----------
    views
        From :func:`measure`.

    Returns
    -------
    str
    """
    head = (
        f"Chromium, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}. First view with an empty profile "
        f"(goals {FIRST_GOAL_S} s, {GOAL_MB} MB), and from another page (goal {LATER_GOAL_S} s):"
    )
    lines = [f"  {one.name}: {one.first_s:.2f} s, {one.sent_mb:.2f} MB; {one.later_s:.2f} s" for one in views]
    return "\n".join([head, *lines])


@contextmanager
def _served(folder: Path) -> Iterator[PrintedAddress]:
    command = [sys.executable, "-u", "-m", "dashboard", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout
        printed = PrintedAddress.in_lines(server.stdout)
        assert printed
        yield printed
        server.terminate()


def _view(browser: Browser, address: PrintedAddress, path: str, name: str, repetitions: int) -> View:
    other = next(page.path for page in PAGES if page.path != path)
    opened = [_once(browser, address, path, other) for _ in range(repetitions + 1)]
    first_s, later_s, sent = zip(*opened[1:], strict=True)
    return View(name, statistics.median(first_s), sent[-1] / 1e6, statistics.median(later_s))


def _once(browser: Browser, address: PrintedAddress, path: str, other: str) -> tuple[float, float, float]:
    """Return s to the first heading, s to the heading from another page, and bytes."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.add_cookies([address.browser_cookie])
    page = context.new_page()
    loaded: Loaded = watched(page)
    page.goto(address.origin + path, wait_until="commit")
    first_ms = _shown_ms(page)
    page.wait_for_load_state("networkidle")
    sent = loaded.bytes
    page.goto(address.origin + other)
    _shown_ms(page)
    page.wait_for_load_state("networkidle")
    later_ms = float(page.evaluate(_FOLLOWED, path))
    context.close()
    return first_ms / 1e3, later_ms / 1e3, sent


def _shown_ms(page: Page) -> float:
    return float(page.wait_for_function(_HEADING).json_value())


if __name__ == "__main__":
    print(report(measure(Path(sys.argv[1]) if len(sys.argv) > 1 else None)))
