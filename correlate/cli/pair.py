"""``correlate pair``: rate one model channel against one test channel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.also import evaluate_also
from correlate.errors import ChannelError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import PairScore
    from correlate.formats import Recording
    from correlate.metrics import Evaluation
    from correlate.signal import Signal


@click.command()
@click.argument("reference", type=click.Path(path_type=Path))
@click.argument("candidate", type=click.Path(path_type=Path))
@click.option("--channel", metavar="NAME", help="Channel of REFERENCE; may be left out when there is one.")
@click.option(
    "--candidate-channel",
    metavar="NAME",
    help="Channel of CANDIDATE.  Left out: the only one, or as --channel.",
)
@click.option("--cfc", type=int, metavar="CLASS", help="Filter both: 60, 180, 600 or 1000.")
@click.option("--from", "from_ms", type=float, metavar="MS", help="Start of the interval of evaluation.")
@click.option("--to", "to_ms", type=float, metavar="MS", help="End of the interval of evaluation.")
@click.option(
    "--step", "step_ms", type=float, metavar="MS", default=0.1, show_default=True, help="Time step."
)
@click.option("--turn-sign", is_flag=True, help="Turn the sign of CANDIDATE.")
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
    channel: str | None,
    candidate_channel: str | None,
    cfc: int | None,
    from_ms: float | None,
    to_ms: float | None,
    step_ms: float,
    turn_sign: bool,
    also: tuple[str, ...],
    repeats: tuple[Path, ...],
    as_json: bool,
    html_file: Path | None,
) -> None:
    """Rate CANDIDATE (the model, or another repeat) against REFERENCE (the test).

    Both are files or test folders of any format that `correlate formats` lists. Both are filtered alike,
    brought to one time step and cut to the interval; without an interval, to the time they share.
    """
    from correlate.campaign import score_pair  # noqa: PLC0415 - loads the kernels, which help must not
    from correlate.conditioning import Recipe  # noqa: PLC0415

    recipe = Recipe(
        cfc=cfc,
        start_s=None if from_ms is None else from_ms / 1e3,
        end_s=None if to_ms is None else to_ms / 1e3,
        step_s=step_ms / 1e3,
        candidate_sign=-1 if turn_sign else 1,
    )
    test, model = _reference(reference, channel), _candidate(candidate, candidate_channel, channel)
    score = score_pair(test, model, recipe=recipe)
    others = [_reference(path, test.channel) for path in repeats]
    evaluations = evaluate_also(also, score, tests=[test, *others], model=model)
    _report(score, evaluations, as_json=as_json, html_file=html_file)


def _reference(path: Path, channel: str | None) -> Signal:
    """Read the named channel, or the only one."""
    from correlate.formats import read  # noqa: PLC0415

    recording = read(path)
    return _only(recording, "--channel") if channel is None else recording.channel(channel)


def _candidate(path: Path, channel: str | None, reference_channel: str | None) -> Signal:
    """Read the named channel, or the only one, or the one called as in the reference."""
    from correlate.formats import read  # noqa: PLC0415

    recording = read(path)
    if channel is not None:
        return recording.channel(channel)
    if reference_channel in recording.channel_names and len(recording.signals) > 1:
        return recording.channel(reference_channel)
    return _only(recording, "--candidate-channel")


def _only(recording: Recording, option: str) -> Signal:
    """Return the only channel; several are listed with the option that names one."""
    try:
        return recording.only_channel()
    except ChannelError as error:
        raise ChannelError(error.what, where=error.where, remedy=f"name one with {option}") from error


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
