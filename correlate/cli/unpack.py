"""``correlate unpack``: verify a package and unpack it."""

from __future__ import annotations

from pathlib import Path

import click


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
def command(*, bag: Path, into: Path, key: Path | None) -> None:
    """Copy BAG, a folder or zip file, into a new folder and verify the hash of every file.

    A package with any byte changed, missing or added is refused and leaves nothing behind.
    """
    from correlate.cli.verify import verified_words  # noqa: PLC0415 - help must stay quick
    from correlate.reference.package.signature import load_public_key  # noqa: PLC0415
    from correlate.reference.package.unpacking import unpack  # noqa: PLC0415

    verified = unpack(bag, into, key=None if key is None else load_public_key(key))
    click.echo(verified_words(verified, trusted=key is not None))
    click.echo(f"tests: {into / 'data' / 'tests'}")
