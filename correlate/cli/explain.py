"""``correlate explain``: where a pair or a release loses rating points, and possible causes."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from correlate.cli.campaign_options import scored, store_option, workers_option
from correlate.cli.pair_options import CONDITIONING, PairChoice, pair_options, refuse_options
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import Campaign
    from correlate.campaign.explanation import Explanation
    from correlate.campaign.pair_explanation import PairExplanation

_OF_A_CAMPAIGN: Final = {"release": "--release", "store_url": "--store", "workers": "--workers"}
_OF_A_PAIR: Final = {"channel": "--channel", **CONDITIONING}


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
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
def command(
    *,
    paths: tuple[Path, ...],
    release: str | None,
    top: int,
    store_url: str | None,
    workers: int | None,
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
        refuse_options(_OF_A_CAMPAIGN, "applies to a campaign; leave it out for a pair")
        _report_pair(_pair(paths, PairChoice(**choice)), top=top, as_json=as_json)
        return
    refuse_options(_OF_A_PAIR, "applies to a pair; the campaign file defines how its pairs are conditioned")
    campaign = _campaign(paths[0])
    name = _release(campaign, release)
    found = _explained(campaign, name, top=top, store_url=store_url, workers=workers, quiet=as_json)
    _report_campaign(campaign, found, as_json=as_json)


def _pair(paths: Sequence[Path], choice: PairChoice) -> PairExplanation:
    from correlate.campaign.pair_explanation import explain_pair  # noqa: PLC0415 - help must stay quick
    from correlate.campaign.sister_axes import sister_axes  # noqa: PLC0415

    test, _ = choice.reference(paths[0])
    model, recording = choice.candidate(paths[1])
    return explain_pair(test, model, recipe=choice.recipe, other_axes=sister_axes(model, recording))


def _campaign(path: Path) -> Campaign:
    from correlate.campaign import load_campaign  # noqa: PLC0415 - help must stay quick

    if path.is_file() and path.suffix.lower() != ".toml":
        raise SettingsError(
            "is not a campaign file (.toml)",
            where=str(path),
            remedy="for a pair, also give the model's file; otherwise give a campaign file",
        )
    return load_campaign(path)


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
    from correlate.campaign.explanation import explain  # noqa: PLC0415 - help must stay quick

    scores = scored(campaign, (release,), store_url=store_url, workers=workers, quiet=quiet).scores
    return explain(campaign, scores.records, release, top=top, unrated=scores.unrated)


def _report_pair(found: PairExplanation, *, top: int, as_json: bool) -> None:
    if as_json:
        from correlate.report.explain_data import pair_explanation_json  # noqa: PLC0415

        click.echo(pair_explanation_json(found))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.explain_pair_terminal import print_pair_explanation  # noqa: PLC0415

    print_pair_explanation(Console(highlight=False), found, top=top)


def _report_campaign(campaign: Campaign, found: Explanation, *, as_json: bool) -> None:
    if as_json:
        from correlate.report.explain_data import explanation_json  # noqa: PLC0415

        click.echo(explanation_json(campaign, found))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.explain_terminal import print_explanation  # noqa: PLC0415

    print_explanation(Console(highlight=False), found)
