"""Draw the pictures of ``docs/reference-data.md``: ``python docs/pictures/reference_data.py PROJECT``.

PROJECT is the folder that ``python -m demo_pairs --into PROJECT`` builds. The figures are those of the
program, photographed in headless Chromium.
"""

from __future__ import annotations

import tomllib
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
from playwright.sync_api import sync_playwright

from correlate import (
    CrossPlot,
    Recipe,
    Recording,
    channel_repeats,
    check,
    cross_plot_corridor,
    read,
    repeat_set,
    spread_corridor,
    warped_along_arc,
)
from correlate.plots.graph import drawing_library, figure_html
from correlate.plots.palette import FONT, LIGHT, font_face
from correlate.plots.repeats import cross_plot_figure, finding_figure, repeats_figure

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from correlate import Signal

HERE: Final = Path(__file__).parent
CHROMIUM: Final = "/usr/bin/chromium"
ARGUMENTS: Final = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run")
PROBE, STERNUM = "00PEND000000ACXP", "D0CHST0003KMDSXP"
SHOWN: Final = ("saturation", "spike", "dropout", "offset-drift")
RECIPE: Final = Recipe(cfc=180, start_s=0.0, end_s=0.08, reference_offset_window_s=(-0.04, -0.005))
PROBE_MASS_KG: Final = 23.4


@click.command()
@click.argument("project", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(project: Path) -> None:
    """Draw all pictures from the built demo in PROJECT."""
    drawn = {
        "reference-findings": findings(project),
        "reference-repeats": [repeats(project)],
        "reference-cross-plot": [cross_plot(project)],
    }
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        page = browser.new_page(viewport={"width": 1100, "height": 400})
        for name, figures in drawn.items():
            page.set_content(page_html(figures), wait_until="load")
            page.locator("main").screenshot(path=HERE / f"{name}.png")
            click.echo(HERE / f"{name}.png")
        browser.close()


def page_html(figures: list[go.Figure]) -> str:
    """Return a page with figures, one or two beside each other."""
    columns = 1 if len(figures) == 1 else 2
    inside = "".join(f"<div>{figure_html(figure)}</div>" for figure in figures)
    return (
        f"<!DOCTYPE html><html><head><style>{font_face()} body {{ margin: 0; font-family: {FONT}; }} "
        f"main {{ display: grid; grid-template-columns: repeat({columns}, minmax(0, 1fr)); gap: 8px; "
        f"background: {LIGHT.panel}; padding: 8px; }}</style>"
        f"<script>{drawing_library()}</script></head><body><main>{inside}</main></body></html>"
    )


def findings(project: Path) -> list[go.Figure]:
    """Return the channel of four planted faults with the span that the check reports."""
    manifest = tomllib.loads((project / "planted_faults" / "manifest.toml").read_text(encoding="utf-8"))
    by_kind = {fault["kind"]: fault for fault in manifest["fault"]}
    figures = []
    for kind in SHOWN:
        fault = by_kind[kind]
        bad = read(project / "planted_faults" / fault["test"])
        others = [test for test in load_case(project, fault["load_case"]) if test.path.name != bad.path.name]
        finding = check([bad], against=others).findings[0]
        channel = bad.channel(finding.channel)
        same = [other.channel(finding.channel) for other in others]
        figure = finding_figure(finding, channel, theme="light", others=same)
        figure.update_layout(title={"text": finding.kind, "x": 0.98, "xanchor": "right", "y": 0.97})
        figures.append(figure)
    return figures


def repeats(project: Path) -> go.Figure:
    """Return the probe acceleration of the thorax impact in its corridor, with release A1."""
    tests = [test.channel(PROBE) for test in load_case(project, "thorax-impact")]
    model = read(project / "releases" / "A1" / "thorax-impact.csv").channel("probe deceleration")
    recipe = Recipe(
        cfc=180, start_s=0.0, end_s=0.08, reference_offset_window_s=(-0.04, -0.005), candidate_sign=-1
    )
    found = channel_repeats(tests, model, recipe=recipe, band=partial(spread_corridor, times=2.0))
    drawn, corridor = found.drawn
    return repeats_figure(drawn, theme="light", corridor=corridor, model=found.candidate)


def cross_plot(project: Path) -> go.Figure:
    """Return probe force against sternum deflection, loading and unloading, with release A1."""
    tests = load_case(project, "thorax-impact")
    paths = [loop(test.channel(STERNUM), test.channel(PROBE), turned=True) for test in tests]
    model = read(project / "releases" / "A1" / "thorax-impact.csv")
    own = loop(model.channel("sternum compression"), model.channel("probe deceleration"), turned=False)
    return cross_plot_figure(
        cross_plot_corridor(paths, times=2.0, registration=warped_along_arc),
        paths,
        theme="light",
        x_title="sternum deflection [mm]",
        y_title="probe force [kN]",
        model=own,
    )


def loop(deflection: Signal, acceleration: Signal, *, turned: bool) -> CrossPlot:
    """Return force in kN against deflection in mm, from contact until the force is gone."""
    sign = -1 if turned else 1
    recipe = RECIPE if turned else Recipe(cfc=180, start_s=0.0, end_s=0.08)
    x = sign * repeat_set([deflection.in_unit("mm")], recipe).curves[0]
    y = sign * repeat_set([acceleration.in_unit("m/s^2")], recipe).curves[0] * PROBE_MASS_KG / 1e3
    last = int((y > 0.02 * y.max()).nonzero()[0][-1])
    return CrossPlot(x=x[: last + 1], y=y[: last + 1])


def load_case(project: Path, name: str) -> list[Recording]:
    """Return the repeats of a load case."""
    return [read(path) for path in sorted((project / "laboratory" / name).iterdir())]


if __name__ == "__main__":
    main()
