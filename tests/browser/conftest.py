"""The real application in the real browser, on a small project."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.dashboard.project import write_project

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
    """Write the small project."""
    return write_project(tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="session")
def base_url(folder: Path) -> Iterator[str]:
    """Serve the small project as a user would, on the port the program says."""
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "dashboard", str(folder)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as server:
        assert server.stdout
        said = []
        for line in server.stdout:
            said.append(line)
            if "open http://" in line:
                yield line.split("open ")[1].split(" ")[0].rstrip("/")
                break
        else:
            pytest.fail("the server did not start: " + "".join(said))
        server.terminate()


@pytest.fixture(scope="session")
def shared(browser: Browser, base_url: str) -> Iterator[BrowserContext]:
    """Return one profile for all tests, so that scripts are loaded and compiled once."""
    context = browser.new_context(base_url=base_url)
    yield context
    context.close()


@pytest.fixture
def quiet(shared: BrowserContext, base_url: str) -> Iterator[Page]:
    """Return a page that must not ask another host for anything nor complain."""
    faults: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"}:
            faults.append(f"console {message.type}: {message.text}")

    def see(request: Request) -> None:
        address = urlsplit(request.url)
        if address.scheme not in {"data", "blob"} and f"{address.scheme}://{address.netloc}" != base_url:
            faults.append(f"request to {request.url}")

    page = shared.new_page()
    page.on("console", hear)
    page.on("pageerror", lambda error: faults.append(f"error: {error}"))
    page.on("request", see)
    yield page
    page.close()
    assert faults == []
