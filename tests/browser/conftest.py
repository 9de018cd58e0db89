"""The real application in the real browser, on a small project."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from correlate import RunInfo, load_campaign, open_store, score_campaign
from tests.dashboard.dummies_project import write_register
from tests.dashboard.printed_address import PrintedAddress
from tests.dashboard.project import write_project
from tests.dashboard.tuned_project import write_tuning

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request

ROOT = Path(__file__).parents[2]
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

# A machine that does other things as well may take its time for the first page.
expect.set_options(timeout=20_000)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    """Use the browser of the machine; without one, skip, or fail where it is needed."""
    if not CHROMIUM.exists():
        words = f"there is no browser at {CHROMIUM}; install the package chromium"
        if os.environ.get("CORRELATE_NEED_BROWSER") == "1":
            pytest.fail(words)
        pytest.skip(words)
    return {"executable_path": str(CHROMIUM), "args": ARGUMENTS}


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project and rate it."""
    return rated(write_project(tmp_path_factory.mktemp("small")))


def rated(folder: Path) -> Path:
    """Rate a project, and return its folder."""
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        run = RunInfo.now(who="analyst", campaign_sha256=campaign.sha256)
        score_campaign(campaign, keep=lambda records, _: store.keep(records, run=run), workers=1)
    return folder


@pytest.fixture(scope="session")
def base_url(folder: Path) -> Iterator[str]:
    """Serve the small project as a user would, on the port the program says."""
    yield from _served(folder)


def _served(folder: Path) -> Iterator[str]:
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "dashboard", str(folder)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as server:
        assert server.stdout
        said: list[str] = []
        printed = PrintedAddress.in_lines(server.stdout, before=said)
        if printed is None:
            pytest.fail("the server did not start: " + "".join(said))
        _PRINTED.append(printed)
        yield printed.origin
        server.terminate()


_PRINTED: list[PrintedAddress] = []


def let_in(context: BrowserContext) -> BrowserContext:
    """Give a profile the keys of all servers, as if their printed addresses had been opened."""
    context.add_cookies([one.browser_cookie for one in _PRINTED])
    return context


@pytest.fixture(scope="session")
def shared(browser: Browser, base_url: str) -> Iterator[BrowserContext]:
    """Return one profile for all tests, so that scripts are loaded and compiled once."""
    context = browser.new_context(base_url=base_url)
    yield context
    context.close()


@pytest.fixture
def quiet(shared: BrowserContext, base_url: str) -> Iterator[Page]:
    """Return a page that must not ask another host for anything nor complain."""
    with heard(shared.new_page(), base_url) as page:
        yield page


@contextmanager
def heard(page: Page, base_url: str) -> Iterator[Page]:
    """Close a page afterwards, and fail when it complained or asked another host than its own."""
    faults: list[str] = []
    let_in(page.context)

    def hear(message: ConsoleMessage) -> None:
        # A page asks a busy server again by itself (test_busy.py); the browser reports the refusal too.
        if message.type in {"error", "warning"} and "429 (TOO MANY REQUESTS)" not in message.text:
            faults.append(f"console {message.type}: {message.text}")

    def see(request: Request) -> None:
        address = urlsplit(request.url)
        if address.scheme not in {"data", "blob"} and f"{address.scheme}://{address.netloc}" != base_url:
            faults.append(f"request to {request.url}")

    page.on("console", hear)
    page.on("pageerror", lambda error: faults.append(f"error: {error}"))
    page.on("request", see)
    yield page
    page.close()
    assert faults == []


@pytest.fixture(scope="session")
def working_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a project that is tuned, and whose campaign leaves a channel without a partner."""
    folder = write_tuning(write_project(tmp_path_factory.mktemp("working")))
    path = folder / "campaign.toml"
    plan = '[[load_case.channel]]\ntest = "D0HEAD0000KMACZP"\nmodel = "head z"\nregion = "head"\ncfc = 600\n'
    path.write_text(path.read_text(encoding="utf-8").replace(plan, ""), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def working_url(working_folder: Path) -> Iterator[str]:
    """Serve that project."""
    yield from _served(working_folder)


@pytest.fixture
def working(shared: BrowserContext, working_url: str) -> Iterator[Page]:
    """Return a page of that server, which must not complain either."""
    with heard(shared.new_page(), working_url) as page:
        yield page


@pytest.fixture(scope="session")
def register_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a project with the register of a laboratory."""
    folder = write_project(tmp_path_factory.mktemp("register"))
    write_register(folder)
    yield from _served(folder)


@pytest.fixture
def registered(shared: BrowserContext, register_url: str) -> Iterator[Page]:
    """Return a page of that server, which must not complain either."""
    with heard(shared.new_page(), register_url) as page:
        yield page
