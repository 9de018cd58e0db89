"""Take the picture of the curves of the pair page: ``python docs/pictures/dashboard_pair.py PROJECT``."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click
from make import ARGUMENTS, CHROMIUM, SIZE, served
from playwright.sync_api import sync_playwright

LINK: Final = (
    "/pair?release=A1&case=neck-extension&channel=D0NECKUP00KMMOYP&over=A3&show=corridors&show=repeats"
    "&left=0&right=130"
)
DRAWN: Final = "#pair-reasons .card"


@click.command()
@click.argument("project", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(project: Path) -> None:
    """Take the picture from PROJECT, a built demo."""
    picture = Path(__file__).with_name("pair-overlay.png")
    with served(project) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        page = browser.new_page(viewport={"width": SIZE[0], "height": SIZE[1]}, color_scheme="light")
        page.goto(address + LINK)
        page.locator(DRAWN).first.wait_for()
        page.locator(".pair-figure").screenshot(path=picture)
        browser.close()
    click.echo(picture)


if __name__ == "__main__":
    main()
