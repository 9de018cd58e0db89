"""``correlate pack``: create a package of checked data that another company can verify."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.conditioning import Recipe
    from correlate.reference.check import CheckOutcome


@click.command()
@click.argument("data", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    "bag",
    required=True,
    type=click.Path(path_type=Path),
    metavar="BAG",
    help="New folder, or a file that ends in .zip.",
)
@click.option("--checked-by", required=True, metavar="WHO", help="Person responsible for the check.")
@click.option(
    "--describe",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Title, laboratory, contact, conditions, instrumentation (TOML).",
)
@click.option(
    "--expect",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Polarity, size and relations of channels (TOML), as for check.",
)
@click.option(
    "--waivers",
    "waivers_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Waived findings (TOML); included in the check report of the package.",
)
@click.option(
    "--campaign",
    "campaign_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Take filters and intervals of the corridors from this campaign file.",
)
@click.option("--sign", "key", type=click.Path(path_type=Path), metavar="KEY", help="Sign with this key.")
@click.option(
    "--despite", default="", metavar="REASON", help="Reason for sharing the data although errors were found."
)
def command(
    *,
    data: tuple[Path, ...],
    bag: Path,
    checked_by: str,
    describe: Path | None,
    expect: Path | None,
    waivers_file: Path | None,
    campaign_file: Path | None,
    key: Path | None,
    despite: str,
) -> None:
    """Check DATA and write them as a BagIt bag: tests, description, check report and corridors.

    Every file is listed with its hash. With --sign the list is signed, so that changes can be detected.
    Data with errors are refused, unless --despite gives a reason for sharing them.
    """
    need_extra("share")
    from correlate.formats.search import tests_in  # noqa: PLC0415 - help must stay quick
    from correlate.reference.expectations import NOTHING_EXPECTED, load_expectations  # noqa: PLC0415
    from correlate.reference.package.description import PackageWords, load_words  # noqa: PLC0415
    from correlate.reference.package.making import PackagePlan, make_package  # noqa: PLC0415
    from correlate.reference.package.signature import load_private_key  # noqa: PLC0415
    from correlate.reference.waivers import NO_WAIVERS, load_waivers  # noqa: PLC0415

    plan = PackagePlan(
        tests=tests_in(data),
        checked_by=checked_by,
        words=PackageWords() if describe is None else load_words(describe),
        expectations=NOTHING_EXPECTED if expect is None else load_expectations(expect),
        waivers=NO_WAIVERS if waivers_file is None else load_waivers(waivers_file),
        recipes={} if campaign_file is None else _recipes(campaign_file),
        despite=despite,
        reports=_reports,
        signing_key=None if key is None else load_private_key(key),
    )
    verified, outcome = make_package(plan, bag)
    click.echo(f"{bag}: {verified.files} files, {verified.payload_bytes} bytes, each with its SHA-512")
    click.echo(f"check: {outcome.in_words}")
    if verified.signed_by is not None:
        click.echo(f"signed by: {verified.signed_by.fingerprint}")


def _reports(outcome: CheckOutcome) -> Mapping[str, str]:
    from correlate.report.check_data import check_json  # noqa: PLC0415 - help must stay quick
    from correlate.report.check_html import check_html  # noqa: PLC0415

    return {
        "check.json": check_json(outcome) + "\n",
        "check.html": check_html(outcome, title="Reference data"),
    }


def _recipes(campaign_file: Path) -> dict[tuple[str, str], Recipe]:
    """Return how the campaign conditions each channel of each load case."""
    from correlate.campaign import load_campaign  # noqa: PLC0415 - help must stay quick

    return {
        (load_case.name, channel.test): load_case.recipe(channel)
        for load_case in load_campaign(campaign_file).load_cases
        for channel in load_case.channel
    }
