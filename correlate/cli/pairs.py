"""Commands about one pair: ``correlate pair`` and ``correlate explain``."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click
from click.core import ParameterSource

from correlate.cli.campaigns import (
    named_campaign,
    scored_or_saved,
    store_option,
    verify_option,
    workers_option,
)
from correlate.cli.layouts import layouts_option, loaded_layouts
from correlate.errors import ChannelError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from correlate.campaign import Campaign, PairScore
    from correlate.campaign.explanation import Explanation
    from correlate.campaign.pair_explanation import PairExplanation
    from correlate.conditioning import Recipe
    from correlate.formats import Recording
    from correlate.metrics import Evaluation
    from correlate.signal import Signal


_OPTIONS = (
    click.option(
        "--channel", metavar="NAME", help="Channel of REFERENCE; may be left out when there is one."
    ),
    click.option(
        "--candidate-channel",
        metavar="NAME",
        help="Channel of CANDIDATE.  [default: the only one, or as --channel]",
    ),
    click.option("--cfc", type=int, metavar="CLASS", help="Filter both: 60, 180, 600 or 1000."),
    click.option("--from", "from_ms", type=float, metavar="MS", help="Start of the interval of evaluation."),
    click.option("--to", "to_ms", type=float, metavar="MS", help="End of the interval of evaluation."),
    click.option(
        "--step", "step_ms", type=float, metavar="MS", default=0.1, show_default=True, help="Time step."
    ),
    click.option("--turn-sign", is_flag=True, help="Invert the sign of CANDIDATE."),
    layouts_option,
)


def pair_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that name two channels and condition them."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


CONDITIONING: Final = {
    "candidate_channel": "--candidate-channel",
    "cfc": "--cfc",
    "from_ms": "--from",
    "to_ms": "--to",
    "step_ms": "--step",
    "turn_sign": "--turn-sign",
    "layout_files": "--layout",
}
"""Options that say how two files are compared, by the name of their parameter."""


def refuse_options(options: Mapping[str, str], why: str) -> None:
    """Refuse options that say nothing here, rather than pass over them."""
    context = click.get_current_context()
    for name, option in options.items():
        if context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            raise SettingsError(f"{option} {why}", where=str(context.info_name))


@dataclass(frozen=True, slots=True, kw_only=True)
class PairChoice:
    """What the options say.

    Attributes
    ----------
    channel, candidate_channel
        Names; None where they are left out.
    cfc, from_ms, to_ms, step_ms, turn_sign
        Conditioning, as in the options.
    layout_files
        Layouts of both files.
    """

    channel: str | None
    candidate_channel: str | None
    cfc: int | None
    from_ms: float | None
    to_ms: float | None
    step_ms: float
    turn_sign: bool
    layout_files: tuple[Path, ...]

    @property
    def recipe(self) -> Recipe:
        """How both curves are conditioned."""
        from correlate.conditioning import Recipe

        return Recipe(
            cfc=self.cfc,
            start_s=None if self.from_ms is None else self.from_ms / 1e3,
            end_s=None if self.to_ms is None else self.to_ms / 1e3,
            step_s=self.step_ms / 1e3,
            candidate_sign=-1 if self.turn_sign else 1,
        )

    def read(self, path: Path) -> Recording:
        """Read a file or test folder, by the layout that is for it."""
        from correlate.formats import read

        return read(path, loaded_layouts(self.layout_files))

    def reference(self, path: Path) -> tuple[Signal, Recording]:
        """Read the named channel, or the only one, and the recording it is in."""
        recording = self.read(path)
        return one_channel(recording, self.channel), recording

    def candidate(self, path: Path) -> tuple[Signal, Recording]:
        """Read the named channel, or the only one, or the one called as in the reference."""
        recording = self.read(path)
        if self.candidate_channel is not None:
            return recording.channel(self.candidate_channel), recording
        if self.channel in recording.channel_names and len(recording.signals) > 1:
            return recording.channel(self.channel), recording
        return _only(recording, "--candidate-channel"), recording


def one_channel(recording: Recording, name: str | None) -> Signal:
    """Return the named channel of a test, or the only one."""
    return _only(recording, "--channel") if name is None else recording.channel(name)


def _only(recording: Recording, option: str) -> Signal:
    """Return the only channel; several are listed with the option that names one."""
    try:
        return recording.only_channel()
    except ChannelError as error:
        raise ChannelError(error.what, where=error.where, remedy=f"name one with {option}") from error


_OF_A_CAMPAIGN: Final = {"release": "--release", "load_case": "--load-case", "test": "--test"}
_OF_A_PAIR: Final = {**CONDITIONING, "metrics": "--metric", "also": "--also", "repeats": "--repeat"}


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
    "--metric",
    "metrics",
    multiple=True,
    metavar="NAME",
    help="Additional metric, in table and JSON; 'all' for every one.  May be repeated.",
)
# The name of --metric up to version 0.1; to be removed in 0.3.
@click.option("--also", multiple=True, hidden=True)
@click.option(
    "--repeat",
    "repeats",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="Another repeat of REFERENCE, for the metrics of --metric that use repeats.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
def pair_command(
    *,
    paths: tuple[Path, ...],
    release: str | None,
    load_case: str | None,
    test: str | None,
    metrics: tuple[str, ...],
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
    from correlate.evaluation import score_pair

    chosen = PairChoice(**choice)
    (reference, _), (model, _) = chosen.reference(paths[0]), chosen.candidate(paths[1])
    score = score_pair(reference, model, recipe=chosen.recipe)
    others = [one_channel(chosen.read(path), reference.channel) for path in repeats]
    evaluations = score.measures([*metrics, *also], tests=[reference, *others], model=model)
    _report(score, evaluations, as_json=as_json, html_file=html_file)


def pair_of_campaign(
    path: Path, release: str | None, load_case: str | None, channel: str | None, test: str | None
) -> PairScore:
    """Evaluate a pair of a campaign; what is not named is the first of the file."""
    from correlate.evaluation import CaseEvaluation, load_campaign

    campaign = load_campaign(path)
    case = campaign.load_case(load_case) if load_case else campaign.load_cases[0]
    of_release = campaign.release(release) if release else campaign.releases[0]
    evaluation = CaseEvaluation(campaign, case)
    return evaluation.pair(of_release, channel or evaluation.channels[0], test or "").score()


def _report(
    score: PairScore, evaluations: Sequence[Evaluation], *, as_json: bool, html_file: Path | None
) -> None:
    if html_file is not None:
        from correlate.files import write_text
        from correlate.report.html import pair_html

        title = f"{score.reference.channel} against {score.candidate.channel}"
        write_text(html_file, pair_html(score, title=title))
    if as_json:
        from correlate.report.pair import pair_json_with

        click.echo(pair_json_with(score, evaluations))
        return
    from rich.console import Console

    from correlate.report.pair import print_also, print_pair

    console = Console(highlight=False)
    print_pair(console, score)
    if evaluations:
        print_also(console, evaluations)


_EXPLAINED_CAMPAIGN: Final = {
    "release": "--release",
    "store_url": "--store",
    "workers": "--workers",
    "is_verifying": "--verify",
}
_EXPLAINED_PAIR: Final = {"channel": "--channel", **CONDITIONING}


@click.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH…", type=click.Path(path_type=Path))
@pair_options
@click.option("--release", metavar="NAME", help="Release of the campaign; may be left out when there is one.")
@click.option(
    "--top",
    type=click.IntRange(min=1),
    default=10,
    show_default=True,
    help="Number of channels of a campaign to examine, and of lines per table.",
)
@store_option
@workers_option
@verify_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
def explain_command(
    *,
    paths: tuple[Path, ...],
    release: str | None,
    top: int,
    store_url: str | None,
    workers: int | None,
    is_verifying: bool,
    as_json: bool,
    **choice: Any,
) -> None:
    """Show where rating points are lost, and possible causes.

    Two paths are a pair, REFERENCE (the test) and CANDIDATE (the model), with the options of `correlate
    pair`. One path is a campaign file or its folder: the channels that cost a release most, those that may
    share a cause, and hints for each load case.
    """
    if len(paths) > 2:
        raise SettingsError(
            f"{len(paths)} paths were given",
            where="explain",
            remedy="give a test and a model, or one campaign",
        )
    if len(paths) == 2:
        refuse_options(_EXPLAINED_CAMPAIGN, "applies to a campaign; leave it out for a pair")
        _report_pair(_pair(paths, PairChoice(**choice)), top=top, as_json=as_json)
        return
    refuse_options(
        _EXPLAINED_PAIR, "applies to a pair; the campaign file defines how its pairs are conditioned"
    )
    campaign = _campaign(paths[0], is_verifying=is_verifying)
    name = _release(campaign, release)
    found = _explained(campaign, name, top=top, store_url=store_url, workers=workers, quiet=as_json)
    _report_campaign(campaign, found, as_json=as_json)


def _pair(paths: Sequence[Path], choice: PairChoice) -> PairExplanation:
    from correlate.campaign.pair_explanation import (
        explain_pair,
        sister_axes,
    )

    test, _ = choice.reference(paths[0])
    model, recording = choice.candidate(paths[1])
    return explain_pair(test, model, recipe=choice.recipe, other_axes=sister_axes(model, recording))


def _campaign(path: Path, *, is_verifying: bool) -> Campaign:
    if path.is_file() and path.suffix.lower() != ".toml":
        raise SettingsError(
            "is not a campaign file (.toml)",
            where=str(path),
            remedy="for a pair, also give the model's file; otherwise give a campaign file",
        )
    return named_campaign(path, is_verifying=is_verifying)


def _release(campaign: Campaign, name: str | None) -> str:
    names = [release.name for release in campaign.releases]
    if name in names:
        return name
    if name is not None:
        raise _unknown(name, names, campaign.path)
    if len(names) > 1:
        raise SettingsError(
            f"there are {len(names)} releases: {', '.join(names)}",
            where=str(campaign.path),
            remedy="name one with --release",
        )
    return names[0]


def _unknown(name: str, names: Sequence[str], path: Path) -> SettingsError:
    folded = {known.casefold(): known for known in names}
    close = difflib.get_close_matches(name.strip().casefold(), folded, n=1)
    meant = f"perhaps you mean '{folded[close[0]]}'; " if close else ""
    return SettingsError(
        f"there is no release '{name}'", where=str(path), remedy=f"{meant}the file has {', '.join(names)}"
    )


def _explained(
    campaign: Campaign, release: str, *, top: int, store_url: str | None, workers: int | None, quiet: bool
) -> Explanation:
    from correlate.campaign.explanation import explain

    scores = scored_or_saved(campaign, (release,), store_url=store_url, workers=workers, quiet=quiet).scores
    return explain(campaign, scores.records, release, top=top, unrated=scores.unrated)


def _report_pair(found: PairExplanation, *, top: int, as_json: bool) -> None:
    if as_json:
        from correlate.report.explain import pair_explanation_json

        click.echo(pair_explanation_json(found))
        return
    from rich.console import Console

    from correlate.report.explain import print_pair_explanation

    print_pair_explanation(Console(highlight=False), found, top=top)


def _report_campaign(campaign: Campaign, found: Explanation, *, as_json: bool) -> None:
    if as_json:
        from correlate.report.explain import explanation_json

        click.echo(explanation_json(campaign, found))
        return
    from rich.console import Console

    from correlate.report.explain import print_explanation

    print_explanation(Console(highlight=False), found)
