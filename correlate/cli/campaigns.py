"""Commands about a campaign: ``score``, ``gate``, ``propose`` and ``ceiling``."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from functools import reduce
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from rich.console import Console

    from correlate.campaign import Campaign, Proposal
    from correlate.campaign.scoring import Engine
    from correlate.store import Store, StoredScores

    Ranked = list[tuple[str, list[Proposal]]]


campaign_argument = click.argument("campaign_file", metavar="CAMPAIGN", type=click.Path(path_type=Path))
store_option = click.option(
    "--store",
    "store_url",
    metavar="URL",
    help="Results store: a file, or postgresql://…  [default: ratings.sqlite beside CAMPAIGN]",
)
workers_option = click.option(
    "--workers",
    type=click.IntRange(min=1),
    help="Processes.  [default: up to all cores, as far as there is work for them]",
)
engine_option = click.option(
    "--engine",
    type=click.Choice(["local", "dask"]),
    default="local",
    show_default=True,
    help="Processes on this machine, or the workers of a Dask scheduler.",
)
scheduler_option = click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Address of a running scheduler, for the engine dask: tcp://HOST:PORT",
)
verify_option = click.option(
    "--verify",
    "is_verifying",
    is_flag=True,
    help="Read and hash every file again, even if its size and times are unchanged.",
)
parquet_option = click.option(
    "--parquet",
    "parquet_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the same table as a Parquet file.",
)


def named_campaign(campaign_file: Path, *, is_verifying: bool) -> Campaign:
    """Load a campaign; on request, read all its files again and report wrong records at the end."""
    from correlate.campaign import load_campaign

    campaign = load_campaign(campaign_file)
    if is_verifying:
        click.get_current_context().with_resource(_verifying(campaign))
    return campaign


@contextmanager
def _verifying(campaign: Campaign) -> Iterator[None]:
    from correlate.errors import printable
    from correlate.file_hashes import file_hashes
    from correlate.reference.finding import counted

    with file_hashes(campaign.folder).verifying() as wrong:
        yield
    if wrong:
        names = ", ".join(os.path.relpath(one, campaign.folder) for one in wrong)
        click.echo(
            printable(
                f"{counted(len(wrong), 'file')} changed with the same size, time and inode: {names}. "
                "This command used the present bytes; earlier commands may have used the previous ones."
            ),
            err=True,
        )


def chosen_engine(engine: str, scheduler: str | None) -> Engine | None:
    """Return the engine that the options ask for; None is the processes of this machine."""
    if (engine == "dask") != (scheduler is not None):
        raise click.UsageError("--engine dask and --scheduler ADDRESS go together; give both or none")
    if scheduler is None:
        return None
    from correlate.campaign.scoring import dask_engine

    return dask_engine(scheduler)


def scored(
    campaign: Campaign,
    releases: Sequence[str],
    *,
    store_url: str | None,
    workers: int | None,
    quiet: bool,
    engine: Engine | None = None,
) -> StoredScores:
    """Rate what is not in the store yet, save it there block by block, and return everything."""
    with opened_store(campaign, store_url) as store:
        _need_to_save(store)
        return _scored(store, campaign, releases, workers=workers, quiet=quiet, engine=engine)


def scored_or_saved(
    campaign: Campaign, releases: Sequence[str], *, store_url: str | None, workers: int | None, quiet: bool
) -> StoredScores:
    """Return the ratings of releases: what is missing is rated, unless the store can only be read.

    What would be rated could not be saved, so that the next command would rate it again; and whoever looks at
    an archive wants the numbers that were archived. Where they come from is said beside them.
    """
    with opened_store(campaign, store_url) as store:
        saved = say_if_saved(store, campaign, releases)
        return saved or _scored(store, campaign, releases, workers=workers, quiet=quiet)


def say_if_saved(store: Store, campaign: Campaign, releases: Sequence[str]) -> StoredScores | None:
    """Return what a read-only store holds of releases, and say so; None where it can be written."""
    from correlate.store import saved_ratings

    if not store.is_read_only:
        return None
    saved = saved_ratings(store, campaign, releases)
    # Beside the results, which may be JSON for another program.
    click.echo(f"{campaign.folder}: {saved.words}.", err=True)
    return saved.stored


def opened_store(campaign: Campaign, store_url: str | None) -> Store:
    """Open the results store of a campaign."""
    from correlate.store import open_store

    return open_store(store_url or campaign.folder / "ratings.sqlite")


def _need_to_save(store: Store) -> None:
    """Refuse before anything is computed that could not be saved."""
    from correlate.errors import StoreError

    if store.is_read_only:
        raise StoreError(
            "ratings cannot be saved here, because there is no permission to write",
            where=store.place,
            remedy="name another results store with --store FILE; compare and report show what is saved",
        )


def _scored(
    store: Store,
    campaign: Campaign,
    releases: Sequence[str],
    *,
    workers: int | None,
    quiet: bool,
    engine: Engine | None = None,
) -> StoredScores:
    from correlate.store import RunInfo, score_into

    run = RunInfo.now(campaign_sha256=campaign.sha256)

    def work(progress: Callable[[int, int], None] | None) -> StoredScores:
        return score_into(
            store, campaign, releases, run=run, progress=progress, workers=workers, engine=engine
        )

    return work(None) if quiet else _with_bar(work)


def keep_ceilings(campaign: Campaign, load_cases: Sequence[str], *, store_url: str | None) -> None:
    """Rate the repeats of the tests against each other, and keep the ceilings where the scoreboard looks."""
    from correlate.campaign import campaign_ceilings

    with opened_store(campaign, store_url) as store:
        _need_to_save(store)
        known = {one.key: one for one in store.ceilings(campaign.title)}
        store.keep_ceilings(campaign_ceilings(campaign, load_cases=load_cases, known=known))


def _with_bar(work: Callable[[Callable[[int, int], None]], StoredScores]) -> StoredScores:
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("rating", total=None)
        return work(lambda done, total: bar.update(task, completed=done, total=total))


NOTHING_RATED: Final = 1
"""Exit code when no pair could be rated; 2 is wrong input."""


@click.command()
@campaign_argument
@click.option("--release", "releases", multiple=True, metavar="NAME", help="Only this; may be repeated.")
@store_option
@workers_option
@engine_option
@scheduler_option
@verify_option
@click.option(
    "--unfinished",
    is_flag=True,
    help="Rate results of unfinished runs up to their last time; nothing is saved.",
)
@click.option(
    "--watch",
    is_flag=True,
    help="Like --unfinished, repeated whenever a result grows; saves the ratings once all runs have ended.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
@click.option(
    "--csv", "csv_file", type=click.Path(path_type=Path), metavar="FILE", help="Write one line per pair."
)
@parquet_option
def score_command(
    *,
    campaign_file: Path,
    releases: tuple[str, ...],
    store_url: str | None,
    workers: int | None,
    engine: str,
    scheduler: str | None,
    is_verifying: bool,
    unfinished: bool,
    watch: bool,
    as_json: bool,
    csv_file: Path | None,
    parquet_file: Path | None,
) -> None:
    """Rate every pair of CAMPAIGN, a campaign file or its folder.

    Pairs in the results store with the same inputs, settings and version are not rated again; an interrupted
    run is resumed by the next one. Results of unfinished runs are listed and not rated, unless
    --unfinished or --watch is given. The exit code is 1 if nothing could be rated. In a read-only
    project, name a store elsewhere with --store.
    """
    from correlate.campaign import aggregate
    from correlate.report.campaign import scores_json
    from correlate.report.export import RatingRows, write_rows

    rating_engine = chosen_engine(engine, scheduler)
    campaign = named_campaign(campaign_file, is_verifying=is_verifying)
    if unfinished or watch:
        _refuse_what_says_nothing(watch=watch)
    if unfinished:
        _show_unfinished(campaign, releases, as_json=as_json)
        return
    if watch:
        _watch(campaign, releases)
    stored = scored(
        campaign, releases, store_url=store_url, workers=workers, quiet=as_json, engine=rating_engine
    )
    names = releases or tuple(release.name for release in campaign.releases)
    numbers = [aggregate(campaign, stored.pairs, name) for name in names]
    for file, ending in ((csv_file, ".csv"), (parquet_file, ".parquet")):
        if file is not None:
            write_rows(file, RatingRows(stored.scores.records, stored.evidence), ending=ending)
    if as_json:
        click.echo(scores_json(campaign, stored, numbers))
    else:
        from rich.console import Console

        from correlate.report.campaign import print_scores

        print_scores(Console(highlight=False), stored, numbers)
    if not stored.pairs:
        sys.exit(NOTHING_RATED)


_OF_A_WHOLE_RATING: Final = {
    "store_url": "--store",
    "workers": "--workers",
    "engine": "--engine",
    "csv_file": "--csv",
    "parquet_file": "--parquet",
    "is_verifying": "--verify",
}


def _refuse_what_says_nothing(*, watch: bool) -> None:
    """Refuse options that a rating of unfinished runs would pass over, or whose output it would spoil."""
    from correlate.cli.pairs import refuse_options

    if watch:
        refuse_options({"as_json": "--json", "unfinished": "--unfinished"}, "does not go with --watch")
    else:
        refuse_options(_OF_A_WHOLE_RATING, "does not go with --unfinished, which saves nothing")


BETWEEN_LOOKS_S: Final = 2.0
"""Time between two looks at growing results."""


def _show_unfinished(campaign: Campaign, releases: Sequence[str], *, as_json: bool) -> None:
    from correlate.campaign.unfinished import score_so_far
    from correlate.report.unfinished import print_part_caution, print_so_far, so_far_json

    found = score_so_far(campaign, releases)
    if as_json:
        click.echo(so_far_json(campaign, found))
    else:
        from rich.console import Console

        console = Console(highlight=False)
        print_so_far(console, found)
        print_part_caution(console)
    if not any(one.records for one in found):
        sys.exit(NOTHING_RATED)


def _watch(campaign: Campaign, releases: Sequence[str]) -> None:
    """Show the ratings so far whenever a result has grown, until all runs have ended."""
    import time
    from functools import partial

    from rich.console import Console

    from correlate.campaign.unfinished import watched
    from correlate.report.unfinished import print_part_caution, print_so_far

    console = Console(highlight=False)
    for found in watched(campaign, releases, partial(time.sleep, BETWEEN_LOOKS_S)):
        print_so_far(console, found)
    print_part_caution(console)
    console.print("All runs have ended. The ratings of finished runs follow and are saved.")


NOT_PASSED: Final = 1
"""Exit code when a check fails; 2 is wrong input."""


@click.command()
@campaign_argument
@click.option("--release", required=True, metavar="NAME", help="Release to check.")
@click.option("--baseline", metavar="NAME", help="Release to compare with.")
@click.option(
    "--min",
    "least",
    type=float,
    metavar="RATING",
    help="Lowest accepted rating.  [default: as in the campaign file]",
)
@click.option(
    "--max-loss",
    "largest_loss",
    type=float,
    metavar="LOSS",
    help="Largest loss against --baseline.  [default: as in the campaign file]",
)
@click.option(
    "--allow-incomplete",
    "allowed",
    multiple=True,
    metavar="PLACE",
    help="What may be missing: LOAD-CASE, LOAD-CASE/CHANNEL or LOAD-CASE/REPEAT; printed.  May be repeated.",
)
@click.option(
    "--junit", "junit_file", type=click.Path(path_type=Path), metavar="FILE", help="Write JUnit XML."
)
@store_option
@workers_option
@verify_option
def gate_command(
    *,
    campaign_file: Path,
    release: str,
    baseline: str | None,
    least: float | None,
    largest_loss: float | None,
    allowed: tuple[str, ...],
    junit_file: Path | None,
    store_url: str | None,
    workers: int | None,
    is_verifying: bool,
) -> None:
    """Check a release of CAMPAIGN; if it does not pass, print the reasons and exit with code 1.

    Every channel and repeat of the release and its baseline must be rated from the current files, and the
    reference data must have no unwaived errors. --min applies to the release and to its held-out load cases;
    --max-loss applies to the release, each load case, body region and channel: a larger loss must be ruled
    out with 95 % confidence.
    """
    from rich.console import Console

    from correlate.campaign import aggregate, decide, scoreboard
    from correlate.evaluation.tables import Limits
    from correlate.report.campaign import (
        gate_junit,
        print_checks,
    )
    from correlate.store import sign_offs_today

    campaign = named_campaign(campaign_file, is_verifying=is_verifying)
    names = [name for name in (release, baseline) if name is not None]
    stored = scored_or_saved(campaign, names, store_url=store_url, workers=workers, quiet=False)
    limits = campaign.limits
    if largest_loss is None and baseline is not None:
        largest_loss = limits.largest_loss
    board = scoreboard(
        campaign,
        {name: aggregate(campaign, stored.pairs, name) for name in names},
        release=release,
        against=baseline or "",
        evidence=stored.evidence,
        # Not validated here: the gate says which option is wrong.
        limits=Limits.model_construct(
            least=limits.least if least is None else least, largest_loss=largest_loss
        ),
        allowed=allowed,
    )
    checks = board.checks
    if junit_file is not None:
        from correlate.files import write_text

        write_text(junit_file, gate_junit(release, checks))
    with opened_store(campaign, store_url) as store:
        signed = sign_offs_today(store, campaign, release, stored.evidence[release])
    print_checks(Console(highlight=False), checks, decide(campaign, board), signed)
    if not all(check.is_passed for check in checks):
        sys.exit(NOT_PASSED)


@click.command()
@campaign_argument
@click.option("--release", metavar="NAME", help="Whose results to look at.  [default: the first]")
@click.option(
    "--top", type=click.IntRange(min=1), default=3, show_default=True, help="Proposals per channel."
)
@click.option(
    "--accept", "accepted", multiple=True, type=int, metavar="N", help="Write number N into CAMPAIGN."
)
def propose_command(*, campaign_file: Path, release: str | None, top: int, accepted: tuple[int, ...]) -> None:
    """Propose partners for test channels that are not yet paired with a model channel.

    Each proposal lists its reasons. It is used only once it is in the file: --accept writes it there.
    """
    from rich.console import Console

    from correlate.campaign import load_campaign
    from correlate.campaign.proposals import proposals_of

    campaign = load_campaign(campaign_file)
    chosen = campaign.release(release) if release else campaign.releases[0]
    ranked = [(case, proposals[:top]) for case, proposals in proposals_of(campaign, chosen)]
    numbered = [(case, one) for case, proposals in ranked for one in proposals]
    if accepted:
        _accept(campaign, numbered, accepted)
        return
    console = Console(highlight=False)
    _print(console, ranked)
    if absent := campaign.without_result(chosen):
        console.print(f"Not compared, because {chosen.name} has no result: {', '.join(absent)}.")


def _print(console: Console, ranked: Ranked) -> None:
    number = 0
    for case, proposals in ranked:
        console.print(f"{case}, {proposals[0].test}", style="bold")
        for one in proposals:
            number += 1
            turned = ", sign inverted" if one.sign < 0 else ""
            console.print(f"  {number:3d}  {one.score:.2f}  '{one.model}'{turned}: {'; '.join(one.reasons)}")
    if not number:
        console.print(
            "Every test channel has a partner, or no channel of the results has the same physical dimension."
        )
        return
    console.print("Nothing is used yet. --accept N writes a proposal into the campaign file.", style="dim")


def _accept(campaign: Campaign, numbered: list[tuple[str, Proposal]], accepted: tuple[int, ...]) -> None:
    from correlate.campaign.rewriting import accept, rewrite_campaign

    for number in accepted:
        if not 1 <= number <= len(numbered):
            raise SettingsError(
                f"there is no proposal {number}",
                where=str(campaign.path),
                remedy=f"choose 1 to {len(numbered)}",
            )
    chosen = [numbered[number - 1] for number in accepted]

    def changed(text: str) -> str:
        return reduce(lambda now, one: accept(now, one[0], one[1], campaign.path), chosen, text)

    rewrite_campaign(campaign.path, changed)
    for case, proposal in chosen:
        click.echo(f"accepted: {case}, {proposal.test} with '{proposal.model}'")


@click.command()
@click.argument("campaign_file", metavar="CAMPAIGN", type=click.Path(path_type=Path))
@click.option(
    "--release",
    "releases",
    multiple=True,
    metavar="NAME",
    help="Also rate this release.  May be repeated.",
)
@click.option("--load-case", "load_cases", multiple=True, metavar="NAME", help="Only this load case.")
@store_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
def ceiling_command(
    *,
    campaign_file: Path,
    releases: tuple[str, ...],
    load_cases: tuple[str, ...],
    store_url: str | None,
    as_json: bool,
    html_file: Path | None,
) -> None:
    """Rate the repeats of CAMPAIGN against each other, with the settings of the model's rating.

    The ceilings are saved in the results store, where the scoreboard reads them. Stored ceilings with the
    same inputs, settings and version are not computed again.
    """
    from correlate.campaign import load_campaign
    from correlate.campaign.ceilings import repeats_of
    from correlate.cli.repeats import report

    campaign = load_campaign(campaign_file)
    channels = [
        item
        for load_case in (load_cases or [case.name for case in campaign.load_cases])
        for item in repeats_of(campaign, load_case, releases)
    ]
    keep_ceilings(campaign, load_cases, store_url=store_url)
    report(channels, title=f"{campaign.title}: ceilings", as_json=as_json, html_file=html_file)
