"""``correlate pair``: rate one model channel against one test channel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from correlate.cli.pair_options import CONDITIONING, PairChoice, one_channel, pair_options, refuse_options
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import PairScore
    from correlate.metrics import Evaluation


_OF_A_CAMPAIGN: Final = {"release": "--release", "load_case": "--load-case", "test": "--test"}
_OF_A_PAIR: Final = {**CONDITIONING, "also": "--also", "repeats": "--repeat"}


@click.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH…", type=click.Path(path_type=Path))
@pair_options
@click.option("--release", metavar="NAME", help="Release, for a pair of a campaign.")
@click.option("--load-case", metavar="NAME", help="Load case, for a pair of a campaign.")
@click.option(
    "--test",
    metavar="NAME",
    help="Repeat, for a pair of a campaign.  [default: the first, or the mean]",
)
@click.option(
    "--also",
    multiple=True,
    metavar="NAME",
    help="Additional metric, in table and JSON; 'all' for every one.  May be repeated.",
)
@click.option(
    "--repeat",
    "repeats",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="Another repeat of REFERENCE, for the metrics of --also that use repeats.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
def command(
    *,
    paths: tuple[Path, ...],
    release: str | None,
    load_case: str | None,
    test: str | None,
    also: tuple[str, ...],
    repeats: tuple[Path, ...],
    as_json: bool,
    html_file: Path | None,
    **choice: Any,
) -> None:
    """Rate a model against a test.

    Two paths are REFERENCE (the test) and CANDIDATE (the model, or another repeat): files or test folders of
    any format that `correlate formats` lists. Both are filtered alike, resampled to one time step and cut to
    the interval, by default to the time span they share. One path is a campaign file or its folder, with
    --release, --load-case, --channel and --test: the pair as the campaign rates it, including resultants and
    mean curves.
    """
    if len(paths) == 1:
        refuse_options(
            _OF_A_PAIR, "defines how two files are compared; the campaign file defines it for its own pairs"
        )
        score = pair_of_campaign(paths[0], release, load_case, choice["channel"], test)
        _report(score, (), as_json=as_json, html_file=html_file)
        return
    if len(paths) > 2:
        raise SettingsError(
            f"{len(paths)} paths were given", where="pair", remedy="give a test and a model, or one campaign"
        )
    refuse_options(_OF_A_CAMPAIGN, "applies to a campaign; leave it out for two files")
    from correlate.evaluation import score_pair  # noqa: PLC0415 - loads the kernels, which help must not
    from correlate.formats import read  # noqa: PLC0415

    chosen = PairChoice(**choice)
    (reference, _), (model, _) = chosen.reference(paths[0]), chosen.candidate(paths[1])
    score = score_pair(reference, model, recipe=chosen.recipe)
    others = [one_channel(read(path), reference.channel) for path in repeats]
    evaluations = score.measures(also, tests=[reference, *others], model=model)
    _report(score, evaluations, as_json=as_json, html_file=html_file)


def pair_of_campaign(
    path: Path, release: str | None, load_case: str | None, channel: str | None, test: str | None
) -> PairScore:
    """Evaluate a pair of a campaign; what is not named is the first of the file.

    Parameters
    ----------
    path
        Campaign file or its folder.
    release, load_case, channel, test
        Names.

    Returns
    -------
    PairScore
    """
    from correlate.evaluation import CaseEvaluation, load_campaign  # noqa: PLC0415

    campaign = load_campaign(path)
    case = campaign.load_case(load_case) if load_case else campaign.load_cases[0]
    of_release = campaign.release(release) if release else campaign.releases[0]
    evaluation = CaseEvaluation(campaign, case)
    return evaluation.pair(of_release, channel or evaluation.channels[0], test or "").score()


def _report(
    score: PairScore, evaluations: Sequence[Evaluation], *, as_json: bool, html_file: Path | None
) -> None:
    if html_file is not None:
        from correlate.files import write_text  # noqa: PLC0415
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
