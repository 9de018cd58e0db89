"""Records of commands as files, and the signature beside them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from correlate.cli.keys import passphrase_of, passphrase_option

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from correlate.reference.package.signature import Signer


def sign_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say with which key a record is signed."""
    sign = click.option(
        "--sign",
        "key_file",
        type=click.Path(path_type=Path),
        metavar="KEY",
        help="Sign the record with this private key.",
    )
    return sign(passphrase_option(command))


def signer_of(key_file: Path | None, passphrase_file: Path | None) -> Signer | None:
    """Return the key that a record is signed with, asking for its passphrase if it has one."""
    if key_file is None:
        return None
    from correlate.reference.package.keys import load_signer

    return load_signer(key_file, passphrase_of(key_file, passphrase_file))


def signer_words(signer: Signer | None) -> str:
    """Return holder and fingerprint, as a record names them; empty for a record that is not signed."""
    return "" if signer is None else f"{signer.public.holder} with key {signer.public.fingerprint}"


def write_record(path: Path, content: bytes, signer: Signer | None, *, moment: datetime) -> None:
    """Write a record and its signature, and say on standard error what was written."""
    from correlate.files import write_bytes

    write_bytes(path, content)
    click.echo(f"written: {path}", err=True)
    if signer is not None:
        from correlate.reference.package.document import sign_document

        click.echo(f"written: {sign_document(path, content, signer, moment=moment)}", err=True)
