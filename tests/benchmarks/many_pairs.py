"""What every callback of every page sends and costs with 100,800 pairs, and the memory of the dashboard.

A browser opens each page twice. The requests of its callbacks are then repeated several times by an
application in this process, and their processor time is measured. The first answers are those of a program
that has just started; the callbacks are called in the order of the table. Run alone, for a scored project or
for the synthetic campaign, which is written and scored first:
``python -m tests.benchmarks.many_pairs [PROJECT]``.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from correlate import RunInfo, campaign_ceilings, load_campaign, open_store, score_into
from dashboard import ids
from dashboard.app import PAGES, create_app
from tests.benchmarks.campaign import MANY_RELEASES, write_project
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.dashboard.dummies_project import write_register
from tests.dashboard.printed_address import PrintedAddress
from tests.laboratory.books import REGISTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Request

GOAL_KB: Final = 200
GOAL_MS: Final = 150
GOAL_MB: Final = 400

CALLBACKS: Final = "/_dash-update-component"

CLOCK: Final = f"{ids.DATA_HEALTH_CLOCK}.n_intervals"
"""Triggers the same callback again until every load case is examined."""

DUMMIES: Final = 60
"""Number in the register of the synthetic campaign, in addition to those of the tests."""

VIEWS: Final = (*(page.path for page in PAGES), "/matrix?view=releases", "/matrix?sort=name&release=B3")
"""Every page, and the matrix in the ways that show most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was measured of one callback.

    Attributes
    ----------
    view
        Address that was opened.
    outputs
        What the callback sets, shortened.
    sent_kb
        Size of its answer, not compressed.
    first_ms, processor_ms
        Processor time of the first answer, and the median of the others.
    """

    view: str
    outputs: str
    sent_kb: float
    first_ms: float
    processor_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What was measured of a project.

    Attributes
    ----------
    answers
        Of all callbacks.
    resident_mb
        Memory of each process of the dashboard after every page was opened twice.
    """

    answers: list[Answer]
    resident_mb: list[float]


def measure(project: Path | None = None, repetitions: int = 5) -> Measured | None:
    """Open every page of a project twice, and ask its callbacks again; None without a browser.

    Parameters
    ----------
    project
        Folder of a scored campaign; None for the synthetic one.
    repetitions
        Of each callback; one more is not counted.
    """
    if not CHROMIUM.exists():
        return None
    with tempfile.TemporaryDirectory() as name:
        folder = project or _written(Path(name))
        asked, resident_mb = _opened(folder)
        # Files that are not there belong to nobody: the callbacks are asked without a web server.
        client = create_app(folder.resolve()).server.test_client()
        answers = []
        for (view, _), body in asked.items():
            times, sent = [], 0
            for _ in range(repetitions + 1):
                start = time.process_time()
                answer = client.post(CALLBACKS, json=body, base_url="http://127.0.0.1")
                times.append(time.process_time() - start)
                sent = len(answer.get_data())
            outputs = str(body["output"]).strip(".").split("...")
            words = f"{outputs[0]}{f' and {len(outputs) - 1} more' if outputs[1:] else ''}"
            answers.append(
                Answer(
                    view=view,
                    outputs=words,
                    sent_kb=sent / 1e3,
                    first_ms=1e3 * times[0],
                    processor_ms=1e3 * statistics.median(times[1:]),
                )
            )
    return Measured(answers=answers, resident_mb=resident_mb)


def report(found: Measured | None) -> str:
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
        return f"The pages were not measured: there is no browser at {CHROMIUM}."
    memory = ", ".join(f"{one:.0f}" for one in found.resident_mb)
    head = (
        f"Goals: {GOAL_KB} kB, {GOAL_MS} ms for each answer after the first, {GOAL_MB} MB for each process. "
        f"Memory of the processes after all pages were opened twice: {memory} MB."
    )
    rows = [
        f"| {one.view} | {one.outputs} | {one.sent_kb:.1f} | {one.first_ms:.0f} | {one.processor_ms:.0f} |"
        for one in found.answers
    ]
    columns = "| view | callback | kB | first, ms of processor time | later, ms |"
    table = [columns, "| --- | --- | ---: | ---: | ---: |", *rows]
    return "\n".join([head, *_missed(found), "", *table])


def _missed(found: Measured) -> list[str]:
    """Return one sentence for each goal that was missed, and one where none was."""
    missed = [
        f"Goal missed by {one.outputs} of {one.view}: {one.sent_kb:.1f} kB, {one.processor_ms:.0f} ms."
        for one in found.answers
        if one.sent_kb >= GOAL_KB or one.processor_ms >= GOAL_MS
    ]
    missed += [f"Goal missed by a process: {one:.0f} MB." for one in found.resident_mb if one >= GOAL_MB]
    return missed or ["All goals are met."]


def _written(folder: Path) -> Path:
    """Write the synthetic campaign and a register, and save what ``correlate score`` saves."""
    write_project(folder, MANY_RELEASES)
    serials = (f'[[dummy]]\nserial = "KM-{number}"\ntype = "KELP-M"' for number in range(DUMMIES))
    write_register(folder, text="\n".join([REGISTER, *serials]))
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(who="analyst", campaign_sha256=campaign.sha256))
        store.keep_ceilings(campaign_ceilings(campaign))
    return folder


def _opened(folder: Path) -> tuple[dict[tuple[str, str], dict[str, Any]], list[float]]:
    """Return what callbacks were asked, by view and content, and the memory of the processes."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where there is a browser

    asked: dict[tuple[str, str], dict[str, Any]] = {}
    with _served(folder) as (server, printed), sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        context = browser.new_context(viewport={"width": 1440, "height": 900})
        context.add_cookies([printed.browser_cookie])
        page = context.new_page()
        page.set_default_timeout(300_000)
        for view in VIEWS * 2:

            def hear(request: Request, view: str = view) -> None:
                if urlsplit(request.url).path == CALLBACKS:
                    body = request.post_data or ""
                    found = json.loads(body)
                    if found["changedPropIds"] != [CLOCK]:
                        asked.setdefault((view, body), found)

            page.on("request", hear)
            page.goto(printed.origin + view)
            page.locator("main h1").first.wait_for()
            page.wait_for_load_state("networkidle")
            page.remove_listener("request", hear)
        browser.close()
        return asked, _resident_mb(server.pid)


@contextmanager
def _served(folder: Path) -> Iterator[tuple[subprocess.Popen[str], PrintedAddress]]:
    command = [sys.executable, "-u", "-m", "dashboard", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout
        printed = PrintedAddress.in_lines(server.stdout)
        assert printed
        yield server, printed
        server.terminate()


def _resident_mb(pid: int) -> list[float]:
    """Return the resident memory of a process and of its children (Linux)."""
    found = []
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            lines = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
        except OSError:
            continue
        if str(pid) in {lines["Pid"].strip(), lines["PPid"].strip()} and "VmRSS" in lines:
            found.append(int(lines["VmRSS"].split()[0]) / 1024)
    return sorted(found, reverse=True)


if __name__ == "__main__":
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}.")
    print(report(measure(Path(sys.argv[1]) if len(sys.argv) > 1 else None)))
