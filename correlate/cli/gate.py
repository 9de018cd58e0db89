"""``correlate gate``: check a release in a build pipeline."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

import click

from correlate.cli.campaign_options import campaign_argument, scored, store_option, workers_option

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
def command(
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
) -> None:
    """Check a release of CAMPAIGN; if it does not pass, print the reasons and exit with code 1.

    Every channel and repeat of the release and its baseline must be rated from the current files, and the
    reference data must have no unwaived errors. --min applies to the release and to its held-out load cases;
    --max-loss applies to the release, each load case, body region and channel: a larger loss must be ruled
    out with 95 % confidence.
    """
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.campaign import aggregate, gate, load_campaign  # noqa: PLC0415
    from correlate.report.campaign_data import gate_junit  # noqa: PLC0415
    from correlate.report.campaign_terminal import print_checks  # noqa: PLC0415

    campaign = load_campaign(campaign_file)
    names = [name for name in (release, baseline) if name is not None]
    stored = scored(campaign, names, store_url=store_url, workers=workers, quiet=False)
    numbers = [aggregate(campaign, stored.scores.records, name) for name in names]
    limits = campaign.limits
    if largest_loss is None and baseline is not None:
        largest_loss = limits.largest_loss
    checks = gate(
        numbers[0],
        baseline=numbers[1] if baseline is not None else None,
        least=limits.least if least is None else least,
        largest_loss=largest_loss,
        evidence=[stored.evidence[name] for name in names],
        allowed=allowed,
    )
    if junit_file is not None:
        from correlate.files import write_text  # noqa: PLC0415

        write_text(junit_file, gate_junit(release, checks))
    print_checks(Console(highlight=False), release, checks)
    if not all(check.is_passed for check in checks):
        sys.exit(NOT_PASSED)
