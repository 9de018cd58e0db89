"""Commands about packages of reference data: ``key``, ``pack``, ``verify`` and ``unpack``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.layouts import layouts_option, loaded_layouts
from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.conditioning import Recipe
    from correlate.reference.check import CheckOutcome
    from correlate.reference.package.verify import Verified


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
def key_command(*, file: Path) -> None:
    """Create an Ed25519 key pair: FILE is private, FILE.pub is for the recipients of your packages."""
    need_extra("share")
    from correlate.reference.package.signature import make_key

    public = make_key(file)
    click.echo(f"private key  {file}  (keep it secret; it is not encrypted)")
    click.echo(f"public key   {file}.pub")
    click.echo(f"fingerprint  {public.fingerprint}")


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
@layouts_option
def pack_command(
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
    layout_files: tuple[Path, ...],
) -> None:
    """Check DATA and write them as a BagIt bag: tests, description, check report and corridors.

    Every file is listed with its hash. With --sign the list is signed, so that changes can be detected.
    Data with errors are refused, unless --despite gives a reason for sharing them.
    """
    need_extra("share")
    from correlate.formats.registry import tests_in
    from correlate.reference.expectations import NOTHING_EXPECTED, load_expectations
    from correlate.reference.finding import NO_WAIVERS, load_waivers
    from correlate.reference.package.create import PackagePlan, make_package
    from correlate.reference.package.description import PackageWords, load_words
    from correlate.reference.package.signature import load_private_key

    layouts = loaded_layouts(layout_files)
    plan = PackagePlan(
        tests=tests_in(data, layouts),
        layouts=layouts,
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
    from correlate.report.check import check_json
    from correlate.report.html import check_html

    return {
        "check.json": check_json(outcome) + "\n",
        "check.html": check_html(outcome, title="Reference data"),
    }


def _recipes(campaign_file: Path) -> dict[tuple[str, str], Recipe]:
    """Return how the campaign conditions each channel of each load case."""
    from correlate.campaign import load_campaign

    return {
        (load_case.name, channel.test): load_case.recipe(channel)
        for load_case in load_campaign(campaign_file).load_cases
        for channel in load_case.channel
    }


@click.command()
@click.argument("bag", type=click.Path(path_type=Path))
@click.option(
    "--key",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Public key of the sender; the package must be signed with it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def verify_command(*, bag: Path, key: Path | None, as_json: bool) -> None:
    """Read BAG, a folder or zip file, and refuse it if any byte is changed, missing or added."""
    from correlate.reference.package.signature import load_public_key
    from correlate.reference.package.verify import verify

    verified = verify(bag, key=None if key is None else load_public_key(key))
    if as_json:
        click.echo(json.dumps(_object(verified), indent=2, ensure_ascii=False))
        return
    click.echo(verified_words(verified, trusted=key is not None))


def verified_words(verified: Verified, *, trusted: bool) -> str:
    """Return what was found, for people."""
    counts = f"{verified.files} files, {verified.payload_bytes} bytes"
    lines = [f"{verified.path}: {counts}, all as listed ({verified.algorithm})"]
    if verified.signed_by is None:
        lines.append("not signed: the lists themselves may have been replaced")
    elif trusted:
        lines.append(f"signed by the given key, {verified.signed_by.fingerprint}")
    else:
        lines.append(
            f"signed by {verified.signed_by.fingerprint}: compare with the sender, or give the key with --key"
        )
    for label in ("External-Description", "Source-Organization", "Checked-By", "Check-Outcome"):
        lines += [f"{label.replace('-', ' ').lower()}: {value}" for value in verified.info.get(label, [])]
    return "\n".join(lines)


def _object(verified: Verified) -> dict[str, object]:
    return {
        "path": verified.path,
        "files": verified.files,
        "payload_bytes": verified.payload_bytes,
        "algorithm": verified.algorithm,
        "signed_by": None if verified.signed_by is None else verified.signed_by.fingerprint,
        "info": dict(verified.info),
    }


@click.command()
@click.argument("bag", type=click.Path(path_type=Path))
@click.option(
    "--into",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="New folder.  The tests are in FOLDER/data/tests.",
)
@click.option(
    "--key",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Public key of the sender; the package must be signed with it.",
)
def unpack_command(*, bag: Path, into: Path, key: Path | None) -> None:
    """Copy BAG, a folder or zip file, into a new folder and verify the hash of every file.

    A package with any byte changed, missing or added is refused and leaves nothing behind.
    """
    from correlate.reference.package.signature import load_public_key
    from correlate.reference.package.verify import unpack

    verified = unpack(bag, into, key=None if key is None else load_public_key(key))
    click.echo(verified_words(verified, trusted=key is not None))
    click.echo(f"tests: {into / 'data' / 'tests'}")
