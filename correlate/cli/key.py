"""``correlate key``: create a key for signing packages."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.extras import need_extra


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
def command(*, file: Path) -> None:
    """Make an Ed25519 key: FILE for you alone, FILE.pub for those who receive your packages."""
    need_extra("share")
    from correlate.reference.package.signature import make_key  # noqa: PLC0415 - help must stay quick

    public = make_key(file)
    click.echo(f"private key  {file}  (keep it secret; it is not encrypted)")
    click.echo(f"public key   {file}.pub")
    click.echo(f"fingerprint  {public.fingerprint}")
