"""Draw the pictures of ``docs/tuning-method.md``: ``python -m docs.pictures.tuning KEPT``.

KEPT is the folder of ``python -m tests.benchmarks.tuning --kept KEPT``; seed 0 of its demo is drawn, with a
design of 40 runs and batches of 8. The figures are those of the program, photographed in headless Chromium.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
from playwright.sync_api import sync_playwright

from correlate.plots.tuning import movers_figure, predicted_figure, progress_figure, slice_figure
from correlate.tuning.guards import best_row, rounds_of
from correlate.tuning.runs import TRAIN
from correlate.tuning.sensitivity import sensitivities
from correlate.tuning.surrogate import fit_surrogates
from docs.pictures.diagnosis_loss import ARGUMENTS, CHROMIUM, WIDTH, page_html
from tests.benchmarks.tuning.demo import KIND
from tests.benchmarks.tuning.problem import Problem
from tests.benchmarks.tuning.product import rating_surrogate_runs

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.runs import RunTable

HERE: Final = Path(__file__).parent
SLICED: Final = "rib_stiffness"


@click.command()
@click.argument("kept", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(kept: Path) -> None:
    """Draw the pictures from what the benchmark kept in KEPT."""
    problem = Problem(KIND, kept)
    runs = rating_surrogate_runs(problem, 40, 8, 0)
    drawn = figures(problem.table(runs.points, runs.rounds), problem.tuning.goal)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        page = browser.new_page(viewport={"width": WIDTH, "height": 500})
        for name, parts in drawn.items():
            page.set_content(page_html(parts), wait_until="load")
            page.locator("main").screenshot(path=HERE / f"tuning-{name}.png")
            click.echo(HERE / f"tuning-{name}.png")
        browser.close()


def figures(table: RunTable, goal: TuningGoal) -> dict[str, list[go.Figure]]:
    """Return the figures of each picture.

    Parameters
    ----------
    table
        All runs of one seed.
    goal
        Of the demo.

    Returns
    -------
    dict of str to list of plotly.graph_objects.Figure
    """
    designed = table.select(table.rounds == 0)
    cases = [name for name in table.outcomes if name.startswith("load case/")]
    fitted = fit_surrogates(designed, [TRAIN, *cases])
    best = table.points[best_row(table, goal)]
    place = table.space.names.index(SLICED)
    return {
        "progress": [progress_figure(rounds_of(table, goal), theme="light")],
        "movers": [movers_figure(sensitivities(fitted.values()), theme="light")],
        "surrogate": [
            predicted_figure(fitted[TRAIN], theme="light"),
            slice_figure(fitted["load case/thorax-impact"], designed, place, best, theme="light"),
        ],
    }


if __name__ == "__main__":
    main()
