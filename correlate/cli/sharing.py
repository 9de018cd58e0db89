"""Commands about packages of reference data: ``pack``, ``verify`` and ``unpack``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.keys import passphrase_of, passphrase_option, trust_from, trust_options
from correlate.cli.layouts import layouts_option, loaded_layouts
from correlate.errors import printable
from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.conditioning import Recipe
    from correlate.reference.check import CheckOutcome
    from correlate.reference.package.document import VerifiedDocument
    from correlate.reference.package.trust import SigningChain
    from correlate.reference.package.verify import Verified


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
    help="Title, laboratory, contact, conditions, instrumentation, photos and films (TOML).",
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
@passphrase_option
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
    passphrase_file: Path | None,
    despite: str,
    layout_files: tuple[Path, ...],
) -> None:
    """Check DATA and write them as a BagIt bag: tests, description, check report, corridors, photos, films.

    Every file is listed with its hash. With --sign the list is signed, so that changes can be detected.
    Data with errors are refused, unless --despite gives a reason for sharing them.
    """
    need_extra("share")
    from correlate.formats.registry import tests_in
    from correlate.reference.expectations import NOTHING_EXPECTED, load_expectations
    from correlate.reference.finding import NO_WAIVERS, load_waivers
    from correlate.reference.package.create import PackagePlan, make_package
    from correlate.reference.package.description import PackageWords, load_words
    from correlate.reference.package.keys import load_signer

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
        signer=None if key is None else load_signer(key, passphrase_of(key, passphrase_file)),
    )
    verified, outcome = make_package(plan, bag)
    click.echo(f"{bag}: {verified.files} files, {verified.payload_bytes} bytes, each with its SHA-512")
    click.echo(f"check: {outcome.in_words}")
    if verified.signed_by is not None:
        click.echo(f"signed by: {verified.signed_by.holder}, {verified.signed_by.fingerprint}")


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
@trust_options
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def verify_command(
    *, bag: Path, key: Path | None, trusted: Path | None, require_signature: bool, as_json: bool
) -> None:
    """Read BAG, a folder or zip file, and refuse it if any byte is changed, missing or added.

    A record (.html or .pdf) is compared with the signature beside it instead. The exit
    code is 1 if it is unchanged, but a signature is required and missing or not trusted.
    """
    from correlate.reference.package.document import is_document, verify_document
    from correlate.reference.package.verify import verify

    trust = trust_from(key=key, trusted=trusted, require_signature=require_signature)
    if is_document(bag):
        _print_document(verify_document(bag, trust=trust), as_json=as_json)
        return
    verified = verify(bag, trust=trust)
    if as_json:
        click.echo(json.dumps(_object(verified), indent=2, ensure_ascii=False))
        return
    click.echo(verified_words(verified))


def _print_document(found: VerifiedDocument, *, as_json: bool) -> None:
    if as_json:
        content = {"path": found.path, "bytes": found.size, **_signature(found.chain)}
        click.echo(json.dumps(content, indent=2, ensure_ascii=False))
    else:
        click.echo(printable(found.words))


def _signature(chain: SigningChain) -> dict[str, str | None]:
    signature = chain.signature
    return {
        "signed_by": None if signature is None else signature.key.fingerprint,
        "signature": chain.words,
        "objection": chain.objection,
    }


def verified_words(verified: Verified) -> str:
    """Return what was found, for people."""
    counts = f"{verified.files} files, {verified.payload_bytes} bytes"
    lines = [f"{verified.path}: {counts}, all as listed ({verified.algorithm})", verified.chain.words]
    for label in ("External-Description", "Source-Organization", "Checked-By", "Check-Outcome"):
        lines += [f"{label.replace('-', ' ').lower()}: {value}" for value in verified.info.get(label, [])]
    return printable("\n".join(lines))


def _object(verified: Verified) -> dict[str, object]:
    return {
        "path": verified.path,
        "files": verified.files,
        "payload_bytes": verified.payload_bytes,
        "algorithm": verified.algorithm,
        **_signature(verified.chain),
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
@trust_options
def unpack_command(
    *, bag: Path, into: Path, key: Path | None, trusted: Path | None, require_signature: bool
) -> None:
    """Copy BAG, a folder or zip file, into a new folder and verify the hash of every file.

    A package with any byte changed, missing or added is refused and leaves nothing behind; so is one without
    a trusted signature where one is required.
    """
    from correlate.reference.package.verify import unpack

    trust = trust_from(key=key, trusted=trusted, require_signature=require_signature)
    click.echo(verified_words(unpack(bag, into, trust=trust)))
    click.echo(f"tests: {into / 'data' / 'tests'}")
