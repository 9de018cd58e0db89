"""``correlate verify``: verify that a package is unchanged."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from correlate.reference.package.verifying import Verified


@click.command()
@click.argument("bag", type=click.Path(path_type=Path))
@click.option(
    "--key",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Public key of the sender; the package must be signed with it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(*, bag: Path, key: Path | None, as_json: bool) -> None:
    """Read BAG, a folder or zip file, and refuse it if any byte is changed, missing or added."""
    from correlate.reference.package.signature import load_public_key  # noqa: PLC0415 - help must stay quick
    from correlate.reference.package.verifying import verify  # noqa: PLC0415

    verified = verify(bag, key=None if key is None else load_public_key(key))
    if as_json:
        click.echo(json.dumps(_object(verified), indent=2, ensure_ascii=False))
        return
    click.echo(verified_words(verified, trusted=key is not None))


def verified_words(verified: Verified, *, trusted: bool) -> str:
    """Return what was found, for people.

    Parameters
    ----------
    verified
        A sound bag.
    trusted
        Whether the reader named the key it had to be signed with.

    Returns
    -------
    str
    """
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
