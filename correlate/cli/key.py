"""``correlate key``: create a key for signing packages."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
def command(*, file: Path) -> None:
    """Create an Ed25519 key pair: FILE is private, FILE.pub is for the recipients of your packages."""
    from correlate.reference.package.signature import make_key  # noqa: PLC0415 - help must stay quick

    public = make_key(file)
    click.echo(f"private key  {file}  (keep it secret; it is not encrypted)")
    click.echo(f"public key   {file}.pub")
    click.echo(f"fingerprint  {public.fingerprint}")
