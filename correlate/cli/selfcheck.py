"""``correlate selfcheck``: check that this installation computes known numbers."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.cli.signed_records import sign_options, signer_of, signer_words, write_record


@click.command()
@click.option(
    "--record",
    "record_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Also write a validation record, as a page (.html) or PDF (.pdf).",
)
@click.option(
    "--by", default="", metavar="WHO", help="Person or role responsible for the check, for the record."
)
@sign_options
@click.option(
    "--kit",
    "folder",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="A kit of your own, of the same form.  [default: the kit of the installation]",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
def selfcheck_command(
    *,
    record_file: Path | None,
    by: str,
    key_file: Path | None,
    passphrase_file: Path | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Recompute known curves on this machine and compare every number with its expected value.

    Expected numbers come from second implementations and published values, not from this code. The exit code
    is 1 if a number differs by more than its tolerance.
    """
    from datetime import UTC, datetime

    from correlate.extras import need_extra
    from correlate.report.record_file import check_record_name, record_bytes
    from correlate.report.selfcheck import ValidationRecord, print_selfcheck, record_html, record_json
    from correlate.selfcheck import KIT, installation, run_selfcheck

    if record_file is not None:
        need_extra("report")
        check_record_name(record_file)
    elif key_file is not None:
        raise click.UsageError("--sign belongs to --record")
    signer = signer_of(key_file, passphrase_file)
    record = ValidationRecord(
        result=run_selfcheck(KIT if folder is None else folder),
        installation=installation(),
        by=by,
        when=datetime.now(UTC),
        signer=signer_words(signer),
    )
    if as_json:
        click.echo(record_json(record))
    else:
        from rich.console import Console

        print_selfcheck(Console(highlight=False), record)
    if record_file is not None:
        content = record_bytes(record_file, record_html(record), day=record.when.date())
        write_record(record_file, content, signer, moment=record.when)
    if not record.result.agrees:
        raise click.exceptions.Exit(1)
