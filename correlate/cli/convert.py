"""``correlate convert``: convert a file from one format to another."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from correlate.errors import FormatError, SettingsError

if TYPE_CHECKING:
    from correlate.formats import Format, Recording

_BY_ENDING: Final = {
    "": "ISO/TS 13499",
    ".zip": "ISO/TS 13499",
    ".csv": "delimited text",
    ".txt": "delimited text",
    ".h5": "HDF5 archive",
    ".hdf5": "HDF5 archive",
}


@click.command()
@click.argument("source", metavar="IN", type=click.Path(path_type=Path))
@click.argument("target", metavar="OUT", type=click.Path(path_type=Path))
@click.option("--format", "name", metavar="NAME", help="Format of OUT, as 'correlate formats' lists it.")
@click.option("--layout", metavar="NAME", help="Layout of IN, when it is text in columns.")
@click.option(
    "--campaign", "campaign_file", type=click.Path(path_type=Path), help="File that describes the layout."
)
def command(
    *, source: Path, target: Path, name: str | None, layout: str | None, campaign_file: Path | None
) -> None:
    """Read IN and write it to OUT.

    The suffix of OUT selects the format: .h5 is an archive, .csv is delimited text, .zip or no suffix is an
    ISO/TS 13499 test. OUT must not exist yet; it is written completely or not at all.
    """
    from correlate.formats import list_formats  # noqa: PLC0415 - help must stay quick

    if target.exists() or target.is_symlink():
        raise FormatError("already exists", where=str(target), remedy="choose another name")
    writer = _writer(target, name, list_formats())
    recording = _read(source, layout, campaign_file)
    assert writer.write is not None  # noqa: S101 - chosen among those that write
    writer.write(recording, target)
    for warning in recording.warnings:
        click.echo(f"note: {warning}", err=True)
    count = len(recording.signals)
    click.echo(f"written: {target}, {writer.name}, {count} {'channel' if count == 1 else 'channels'}")


def _writer(target: Path, name: str | None, formats: tuple[Format, ...]) -> Format:
    """Return the format that is asked for by name or by the ending of the target."""
    writers = {entry.name.casefold(): entry for entry in formats if entry.write is not None}
    wanted = name if name is not None else _BY_ENDING.get(target.suffix.lower())
    if wanted is not None and wanted.casefold() in writers:
        return writers[wanted.casefold()]
    what = (
        f"the suffix '{target.suffix}' belongs to no format"
        if name is None
        else f"the format '{name}' cannot be written"
    )
    known = ", ".join(f"'{entry.name}'" for entry in writers.values())
    raise SettingsError(what, where=str(target), remedy=f"name one under --format: {known}")


def _read(source: Path, layout: str | None, campaign_file: Path | None) -> Recording:
    """Read the source, by a layout where one is named."""
    from correlate.formats import read  # noqa: PLC0415

    if layout is None and campaign_file is None:
        return read(source)
    if layout is None or campaign_file is None:
        raise SettingsError(
            "--layout and --campaign belong together", where=str(source), remedy="give both or neither"
        )
    from correlate.campaign import load_campaign  # noqa: PLC0415
    from correlate.formats.columns import read_columns  # noqa: PLC0415

    layouts = load_campaign(campaign_file).layouts
    if layout not in layouts:
        known = f"it has {', '.join(layouts)}" if layouts else "it has none"
        raise SettingsError(f"there is no layout '{layout}'", where=str(campaign_file), remedy=known)
    return read_columns(source, layouts[layout])
