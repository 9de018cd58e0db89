"""Take the pictures of the dashboard: ``python docs/pictures/make.py PROJECT [--into FOLDER]``.

Starts the dashboard on a free port for a built and rated project (``correlate demo``, then
``correlate ceiling PROJECT``), opens its pages in headless Chromium and writes a picture of each,
the pair page in both themes.
"""

from __future__ import annotations

import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import urljoin

import click
from playwright.sync_api import sync_playwright

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

ROOT: Final = Path(__file__).parents[2]
CHROMIUM: Final = "/usr/bin/chromium"
ARGUMENTS: Final = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run")
SIZE: Final = (1440, 900)
_PAIR: Final = ("/pair?case=thorax-impact", "#pair-scatter .why")
PICTURES: Final = {
    "pair-light": (*_PAIR, "light"),
    "pair-dark": (*_PAIR, "dark"),
    "pair-overlay": ("/pair?case=thorax-impact&against=A2&left=5&right=35", "#pair-scatter .why", "light"),
    "decision": ("/?release=A2", "#decision-trend .js-line", "light"),
    "scoreboard": ("/scoreboard?release=A2", ".changes-table", "light"),
    "matrix": ("/matrix?release=A2", ".matrix-cell", "light"),
    "dummies": ("/dummies?day=2024-04-20", "#dummies-figure .js-line", "light"),
    "data": ("/data", ".health-lines", "light"),
    "repeats": ("/repeats?case=thorax-impact", "#repeats-cross-figure .js-line", "light"),
}
"""Link, what is drawn last, and theme of each picture, by its name."""


@click.command()
@click.argument("project", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(__file__).parent,
    show_default="beside this script",
    help="Folder of the pictures.",
)
def main(project: Path, into: Path) -> None:
    """Take the pictures of the pages of PROJECT."""
    with served(project) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        for name, (link, drawn, theme) in PICTURES.items():
            picture = into / f"{name}.png"
            photograph(browser, address, link, drawn=drawn, theme=theme, picture=picture)
            click.echo(picture)
        browser.close()


@contextmanager
def served(project: Path) -> Iterator[str]:
    """Serve a project while the block runs.

    Parameters
    ----------
    project
        Folder with ``campaign.toml``.

    Yields
    ------
    str
        Address of the server, with its key.

    Raises
    ------
    click.ClickException
        The server ended before it served.
    """
    command = [sys.executable, "-u", "-m", "dashboard", str(project.resolve())]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as server:  # noqa: S603
        try:
            for line in server.stdout or ():
                if "open http://" in line:
                    yield line.split("open ")[1].split(" ")[0]
                    return
            raise click.ClickException("the dashboard did not start; run it by itself to see why")
        finally:
            server.terminate()


def photograph(browser: Browser, address: str, link: str, *, drawn: str, theme: str, picture: Path) -> None:
    """Take one picture once the curves are drawn.

    Parameters
    ----------
    browser
        Running.
    address
        Of the server, with its key.
    link
        Path and query of the page.
    drawn
        What is on the page last, as a selector.
    theme
        ``light`` or ``dark``.
    picture
        File to write.
    """
    page = browser.new_page(
        viewport={"width": SIZE[0], "height": SIZE[1]},
        color_scheme="dark" if theme == "dark" else "light",
    )
    # Gives this profile the cookie.
    page.goto(address)
    page.goto(urljoin(address, link))
    page.locator(drawn).first.wait_for(state="attached")
    page.evaluate("document.fonts.ready.then(() => true)")
    page.screenshot(path=picture)
    page.close()


if __name__ == "__main__":
    main()
