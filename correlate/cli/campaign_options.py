"""What the campaign commands share: the file, the store, and scoring with what is known."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.campaign import Campaign
    from correlate.campaign.engines import Engine
    from correlate.store import StoredScores

campaign_argument = click.argument("campaign_file", metavar="CAMPAIGN", type=click.Path(path_type=Path))
store_option = click.option(
    "--store",
    "store_url",
    metavar="URL",
    help="Results store: a file, or postgresql://…  [default: ratings.sqlite beside CAMPAIGN]",
)
workers_option = click.option(
    "--workers", type=click.IntRange(min=1), help="Processes.  [default: all cores]"
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


def chosen_engine(engine: str, scheduler: str | None) -> Engine | None:
    """Return the engine that the options ask for; None is the processes of this machine.

    Parameters
    ----------
    engine, scheduler
        As given on the command line.

    Returns
    -------
    Engine or None

    Raises
    ------
    click.UsageError
        One of the two without the other.
    """
    if (engine == "dask") != (scheduler is not None):
        raise click.UsageError("--engine dask and --scheduler ADDRESS go together; give both or none")
    if scheduler is None:
        return None
    from correlate.campaign.engines import dask_engine  # noqa: PLC0415 - help must stay quick

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
    """Rate what is not in the store yet, save it there block by block, and return everything.

    Parameters
    ----------
    campaign
        The campaign.
    releases
        Names; all when empty.
    store_url
        Of the store; the file beside the campaign when left out.
    workers
        Processes.
    quiet
        No progress bar.
    engine
        From :func:`chosen_engine`.

    Returns
    -------
    StoredScores
    """
    from correlate.store import RunInfo, open_store, score_into  # noqa: PLC0415 - help must stay quick

    with open_store(store_url or campaign.folder / "ratings.sqlite") as store:
        run = RunInfo.now(campaign_sha256=campaign.sha256)

        def work(progress: Callable[[int, int], None] | None) -> StoredScores:
            return score_into(
                store, campaign, releases, run=run, progress=progress, workers=workers, engine=engine
            )

        return work(None) if quiet else _with_bar(work)


def keep_ceilings(campaign: Campaign, load_cases: Sequence[str], *, store_url: str | None) -> None:
    """Rate the repeats of the tests against each other, and keep the ceilings where the scoreboard looks.

    Parameters
    ----------
    campaign
        The campaign.
    load_cases
        Names; all when empty.
    store_url
        Of the store; the file beside the campaign when left out.
    """
    from correlate.campaign import campaign_ceilings  # noqa: PLC0415 - help must stay quick
    from correlate.store import open_store  # noqa: PLC0415

    with open_store(store_url or campaign.folder / "ratings.sqlite") as store:
        known = {one.key: one for one in store.ceilings(campaign.title)}
        store.keep_ceilings(campaign_ceilings(campaign, load_cases=load_cases, known=known))


def _with_bar(work: Callable[[Callable[[int, int], None]], StoredScores]) -> StoredScores:
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("rating", total=None)
        return work(lambda done, total: bar.update(task, completed=done, total=total))
