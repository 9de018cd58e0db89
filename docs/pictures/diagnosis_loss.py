"""Draw the picture of ``docs/diagnosis-loss.md``: ``python -m docs.pictures.diagnosis_loss``.

The pair of the example on the page, and below it what it loses in every 5 ms. The figures are those of the
program, photographed in headless Chromium.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
import numpy as np
from playwright.sync_api import sync_playwright

from correlate import AlignedPair, rate
from correlate.diagnosis.accounting import account_for_loss
from correlate.plots.graph import drawing_library, figure_html, new_figure, one_panel, time_line
from correlate.plots.loss import MARGIN, loss_strip
from correlate.plots.palette import FONT, LIGHT, font_face

if TYPE_CHECKING:
    import plotly.graph_objects as go

PICTURE: Final = Path(__file__).parent / "diagnosis-loss.png"
CHROMIUM: Final = "/usr/bin/chromium"
ARGUMENTS: Final = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run")
WIDTH: Final = 900


@click.command()
def main() -> None:
    """Draw the picture."""
    pair = example()
    figures = [curves(pair), loss_strip(account_for_loss(rate(pair)), theme="light")]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        page = browser.new_page(viewport={"width": WIDTH, "height": 500})
        page.set_content(page_html(figures), wait_until="load")
        page.locator("main").screenshot(path=PICTURE)
        browser.close()
    click.echo(PICTURE)


def example() -> AlignedPair:
    """Return the pair of the page: too high and late in its pulse, with a bump that the test lacks."""
    time = np.arange(1000) * 1e-4
    test = np.exp(-(((time - 0.030) / 0.008) ** 2))
    pulse = 1.1 * np.exp(-(((time - 0.033) / 0.009) ** 2))
    bump = 0.15 * np.exp(-(((time - 0.07) / 0.004) ** 2))
    return AlignedPair(time=time, reference=test, candidate=pulse + bump)


def curves(pair: AlignedPair) -> go.Figure:
    """Return test and model over time."""
    layout = one_panel(LIGHT, height=270, x_title="time [ms]", y_title="test and model [1]")
    axis = {**layout["xaxis"], "range": [1e3 * pair.time[0], 1e3 * pair.time[-1]]}
    dashed = {"color": LIGHT.model, "width": 2.2, "dash": "9px,3px"}
    lines = [
        time_line(pair.time, pair.reference, name="test", line={"color": LIGHT.test, "width": 2.2}),
        time_line(pair.time, pair.candidate, name="model", line=dashed),
    ]
    return new_figure(lines, {**layout, "xaxis": axis, "margin": MARGIN}, colours=LIGHT)


def page_html(figures: list[go.Figure]) -> str:
    """Return a page with the figures below each other."""
    inside = "".join(f"<div>{figure_html(figure)}</div>" for figure in figures)
    return (
        f"<!DOCTYPE html><html><head><style>{font_face()} body {{ margin: 0; font-family: {FONT}; }} "
        f"main {{ background: {LIGHT.panel}; padding: 8px; }}</style>"
        f"<script>{drawing_library()}</script></head><body><main>{inside}</main></body></html>"
    )


if __name__ == "__main__":
    main()
