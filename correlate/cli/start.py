"""``correlate start``: a first campaign file from the data in a folder."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.errors import FormatError


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def command(*, folder: Path) -> None:
    """Write a commented campaign.toml into FOLDER from the tests and model results in it.

    An existing file is never overwritten.
    """
    from correlate.campaign.first_file import first_file  # noqa: PLC0415 - help must stay quick
    from correlate.files import write_text  # noqa: PLC0415

    target = folder / "campaign.toml"
    if target.exists():
        raise FormatError("already exists", where=str(target), remedy="move it away or edit it")
    write_text(target, first_file(folder))
    click.echo(f"written: {target}. Next: correlate propose {target}, then correlate score {target}")
