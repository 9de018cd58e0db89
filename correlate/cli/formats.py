"""``correlate formats``: which files can be read and written."""

from __future__ import annotations

import click


@click.command()
def command() -> None:
    """List the file formats that can be read and written."""
    from rich.console import Console  # noqa: PLC0415 - only when it prints
    from rich.table import Table  # noqa: PLC0415

    from correlate.formats import list_formats  # noqa: PLC0415

    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("name", "writes", "description"):
        table.add_column(heading)
    for entry in list_formats():
        table.add_row(entry.name, "yes" if entry.write else "no", entry.description)
    Console().print(table)
