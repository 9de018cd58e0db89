"""``correlate repair``: apply accepted repairs."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from correlate.errors import CorrelateError, FormatError

if TYPE_CHECKING:
    from correlate.formats import Recording


@click.command()
@click.argument("repairs_file", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where the repaired tests are written, one folder each.",
)
def command(*, repairs_file: Path, out: Path) -> None:
    """Apply the accepted repairs of FILE, and write the repaired tests as new files.

    FILE comes from `correlate check --repairs`. The data it names remain unchanged; the repaired tests
    contain a comment for every step.
    """
    from correlate.formats import iso13499  # noqa: PLC0415 - help must stay quick
    from correlate.reference.repair import repair_lines  # noqa: PLC0415

    accepted = _accepted(repairs_file)
    if not accepted:
        raise FormatError(
            "no repair is accepted", where=str(repairs_file), remedy="enter who accepts it after accepted_by"
        )
    out.mkdir(parents=True, exist_ok=True)
    for test, entries in accepted.items():
        try:
            repaired = _repaired(Path(test), entries)
        except CorrelateError as error:
            raise error.located(str(repairs_file)) from error
        target = out / Path(test).name
        iso13499.write(repaired, target)
        click.echo(f"{target}")
        for signal in repaired.signals:
            for line in repair_lines(signal):
                click.echo(f"  {signal.channel}: {line}")


def _accepted(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Return the accepted entries by test, in the order of the file."""
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise FormatError(
            f"cannot be read ({error.strerror})", where=str(path), remedy="name a file of repairs"
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FormatError(
            f"is not valid TOML: {error}", where=str(path), remedy="correct the line"
        ) from error
    found: dict[str, list[dict[str, Any]]] = {}
    for number, entry in enumerate(content.get("repair", []), start=1):
        missing = {"test", "channel", "repair", "accepted_by"} - set(entry)
        if missing:
            raise FormatError(
                f"repair {number} has no {', '.join(sorted(missing))}", where=str(path), remedy="add it"
            )
        if str(entry["accepted_by"]).strip():
            found.setdefault(str(entry["test"]), []).append(entry)
    return found


def _repaired(test: Path, entries: list[dict[str, Any]]) -> Recording:
    from correlate.formats import read  # noqa: PLC0415 - help must stay quick
    from correlate.reference.finding import RepairProposal  # noqa: PLC0415
    from correlate.reference.repair import repair_recording  # noqa: PLC0415

    recording = read(test)
    for entry in entries:
        proposal = RepairProposal(str(entry["repair"]), entry.get("settings", {}))
        recording = repair_recording(
            recording, {str(entry["channel"]): [proposal]}, accepted_by=str(entry["accepted_by"])
        )
    return recording
