"""``correlate pair``: rate one model channel against one test channel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from correlate.cli.also import evaluate_also
from correlate.cli.pair_options import PairChoice, one_channel, pair_options

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import PairScore
    from correlate.metrics import Evaluation


@click.command()
@click.argument("reference", type=click.Path(path_type=Path))
@click.argument("candidate", type=click.Path(path_type=Path))
@pair_options
@click.option(
    "--also",
    multiple=True,
    metavar="NAME",
    help="Another measure beside the rating, in table and JSON; 'all' for every one.  May be repeated.",
)
@click.option(
    "--repeat",
    "repeats",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="Another repeat of REFERENCE, for the measures of --also that look at repeats.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Write a page too."
)
def command(
    *,
    reference: Path,
    candidate: Path,
    also: tuple[str, ...],
    repeats: tuple[Path, ...],
    as_json: bool,
    html_file: Path | None,
    **choice: Any,
) -> None:
    """Rate CANDIDATE (the model, or another repeat) against REFERENCE (the test).

    Both are files or test folders of any format that `correlate formats` lists. Both are filtered alike,
    brought to one time step and cut to the interval; without an interval, to the time they share.
    """
    from correlate.campaign import score_pair  # noqa: PLC0415 - loads the kernels, which help must not
    from correlate.formats import read  # noqa: PLC0415

    chosen = PairChoice(**choice)
    (test, _), (model, _) = chosen.reference(reference), chosen.candidate(candidate)
    score = score_pair(test, model, recipe=chosen.recipe)
    others = [one_channel(read(path), test.channel) for path in repeats]
    evaluations = evaluate_also(also, score, tests=[test, *others], model=model)
    _report(score, evaluations, as_json=as_json, html_file=html_file)


def _report(
    score: PairScore, evaluations: Sequence[Evaluation], *, as_json: bool, html_file: Path | None
) -> None:
    if html_file is not None:
        from correlate.cli.writing import write_text  # noqa: PLC0415
        from correlate.report.html import pair_html  # noqa: PLC0415

        title = f"{score.reference.channel} against {score.candidate.channel}"
        write_text(html_file, pair_html(score, title=title))
    if as_json:
        from correlate.report.also import pair_json_with  # noqa: PLC0415

        click.echo(pair_json_with(score, evaluations))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.also import print_also  # noqa: PLC0415
    from correlate.report.terminal import print_pair  # noqa: PLC0415

    console = Console(highlight=False)
    print_pair(console, score)
    if evaluations:
        print_also(console, evaluations)
