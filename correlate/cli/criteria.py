"""``correlate criteria``: injury criteria of a test, its repeats and a model."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.coded_data import Naming, coded_data_options, coded_recording, preparation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.criteria import RecordedCriteria


@click.command()
@click.argument("reference", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--candidate", type=click.Path(path_type=Path), metavar="PATH", help="The model to compare.")
@click.option("--device", metavar="NAME", required=True, help="Device size, or a part of its name.")
@click.option("--from", "from_ms", type=float, metavar="MS", help="Start of the interval.")
@click.option("--to", "to_ms", type=float, metavar="MS", help="End of the interval.")
@coded_data_options
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
def command(
    *,
    reference: tuple[Path, ...],
    candidate: Path | None,
    device: str,
    from_ms: float | None,
    to_ms: float | None,
    names: tuple[str, ...],
    campaign_file: Path | None,
    load_case: str | None,
    time_zero_ms: float,
    keep_offset: bool,
    as_json: bool,
) -> None:
    """Compute the injury criteria of REFERENCE, one or more repeats of a test, and of a model.

    Every criterion whose channels exist is computed. --name, --campaign and --time-zero apply to the model,
    or to REFERENCE without --candidate. Criteria inform; they do not certify.
    """
    from correlate.criteria import find_device, recorded_criteria  # noqa: PLC0415 - help must stay quick

    size = find_device(device)
    start_s = None if from_ms is None else from_ms / 1e3
    end_s = None if to_ms is None else to_ms / 1e3
    naming = Naming(names, campaign_file, load_case)

    def computed(path: Path, *, named: bool) -> RecordedCriteria:
        asked = preparation(time_zero_ms=time_zero_ms if named else 0.0, keep_offset=keep_offset)
        recording = coded_recording(path, naming if named else Naming())
        return recorded_criteria(recording, size, preparation=replace(asked, start_s=start_s, end_s=end_s))

    repeats = [computed(path, named=candidate is None) for path in reference]
    model = None if candidate is None else computed(candidate, named=True)
    _report(repeats, model, as_json=as_json)


def _report(repeats: Sequence[RecordedCriteria], model: RecordedCriteria | None, *, as_json: bool) -> None:
    if as_json:
        from correlate.report.criteria_data import criteria_json  # noqa: PLC0415

        click.echo(criteria_json(repeats, model))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.criteria_terminal import print_criteria  # noqa: PLC0415

    print_criteria(Console(highlight=False), repeats, model)
