"""Compute tables and pictures of ``docs/demo.md``: ``python -m docs.pictures.demo PROJECT``.

PROJECT is a built demo (``python -m demo_pairs --into PROJECT``). The page is written between its marks, the
pictures beside this script.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
import numpy as np

from demo_pairs.build import DECKS, release_names
from demo_pairs.laboratory.faults import FAULTS
from demo_pairs.solver.deck import UNITS, read_deck
from demo_pairs.solver.run import LOAD_CASES
from docs.pictures.demo_curves import picture, read_project
from docs.pictures.demo_sensors import sensor_rows
from docs.pictures.demo_sketches import SKETCHES

if TYPE_CHECKING:
    from docs.pictures.demo_curves import CaseCurves

PAGE: Final = Path(__file__).parents[1] / "demo.md"
PICTURES: Final = Path(__file__).parent / "demo-curves"
ROTATION: Final = "D0HEAD0000KMANYP"
RELEASES: Final = release_names()


@click.command()
@click.argument("project", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(project: Path) -> None:
    """Write page and pictures from the built demo in PROJECT."""
    cases = read_project(project)
    if set(cases) != set(LOAD_CASES):
        raise click.ClickException(f"{project} lacks load cases; build it whole: python -m demo_pairs")
    PICTURES.mkdir(exist_ok=True)
    drawn = {name: picture(case) for name, case in cases.items()}
    drawn |= {f"set-up-{name}": sketch() for name, sketch in SKETCHES.items()}
    for name, svg in drawn.items():
        (PICTURES / f"{name}.svg").write_text(svg, encoding="utf-8", newline="\n")
    tables = {
        "cards": card_table(),
        "faults": fault_table(),
        "sensors": sensor_table(),
        "load cases": case_table(cases),
        "channels": channel_table(cases),
        "lateness": lateness_table(cases),
    }
    text = PAGE.read_text(encoding="utf-8")
    for mark, table in tables.items():
        text = replaced(text, mark, table)
    PAGE.write_text(text, encoding="utf-8", newline="\n")
    click.echo(f"{PAGE} and {len(drawn)} pictures in {PICTURES}")


def card_table() -> str:
    """Return the material cards of the three releases as Markdown, read from the decks."""
    decks = [read_deck(DECKS / f"{name}.deck", tuple(LOAD_CASES)).materials for name in RELEASES]
    rows = [
        [f"`{card}`", unit, *(f"{getattr(deck, card) / factor:.6g}" for deck in decks)]
        for card, (unit, factor) in UNITS.items()
    ]
    return _table(["card", "unit", *RELEASES], rows)


def fault_table() -> str:
    """Return the planted faults as Markdown."""
    rows = [
        [f"`{fault.kind}`", f"`{fault.load_case}`", f"`{fault.code}`" if fault.code else "all", fault.detail]
        for fault in FAULTS
    ]
    return _table(["kind", "load case", "channel", "what was done"], rows)


def sensor_table() -> str:
    """Return peak, noise and ringing of every sensor as Markdown, measured on repeat 1 of each load case."""
    heads = ["load case", "channel", "CFC", "peak", "noise, raw", "noise, filtered", "ringing", "modes"]
    rows = [
        [
            f"`{row.load_case}`",
            row.title,
            str(row.frequency_class),
            f"{row.peak:.4g} {row.unit}",
            f"{100 * row.noise:.2g} %",
            f"{100 * row.filtered_noise:.2g} %",
            f"{100 * row.ringing:.2g} %" if row.modes else "none",
            ", ".join(f"{mode:g}" for mode in row.modes) + " Hz" if row.modes else "none",
        ]
        for row in sensor_rows()
    ]
    return _table(heads, rows)


def case_table(cases: dict[str, CaseCurves]) -> str:
    """Return the mean rating of each load case as Markdown."""
    rows = [
        [
            f"`{name}`" + (" (held out)" if case.held_out else ""),
            *(f"{case.rating(one):.3f}" for one in RELEASES),
        ]
        for name, case in cases.items()
    ]
    return _table(["load case", *RELEASES], rows)


def channel_table(cases: dict[str, CaseCurves]) -> str:
    """Return the mean rating of each channel as Markdown, with the range over repeats of the last release."""
    rows = [
        [
            f"`{name}`",
            channel.title,
            *(f"{channel.rating(one):.3f}" for one in RELEASES),
            f"{min(channel.ratings[RELEASES[-1]]):.3f} to {max(channel.ratings[RELEASES[-1]]):.3f}",
        ]
        for name, case in cases.items()
        for channel in case.channels.values()
    ]
    return _table(["load case", "channel", *RELEASES, f"{RELEASES[-1]}, least to largest"], rows)


def lateness(case: CaseCurves) -> tuple[list[float], dict[str, float]]:
    """Say when the rotation of the head peaks.

    Parameters
    ----------
    case
        One of the neck load cases.

    Returns
    -------
    tuple
        Times of the repeats [ms], and times of the releases [ms].
    """
    channel = case.channels[ROTATION]
    tests = [float(1e3 * channel.time[np.argmax(curve)]) for curve in channel.repeats.values()]
    return tests, {
        name: float(1e3 * channel.time[np.argmax(curve)]) for name, curve in channel.releases.items()
    }


def lateness_table(cases: dict[str, CaseCurves]) -> str:
    """Return when the head's rotation peaks in the tests and in the releases as Markdown."""
    rows = []
    for name in ("neck-flexion", "neck-extension"):
        tests, releases = lateness(cases[name])
        times = [f"{releases[one]:.1f} ms" for one in RELEASES]
        rows.append([f"`{name}`", f"{min(tests):.1f} to {max(tests):.1f} ms", *times])
    return _table(["load case", "tests", *RELEASES], rows)


def _table(heads: list[str], rows: list[list[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def between(text: str, mark: str) -> str:
    """Return what stands between the marks of a computed table.

    Raises
    ------
    ValueError
        The page has no such marks.
    """
    _, found, rest = text.partition(f"<!-- computed: {mark} -->\n")
    table, ended, _ = rest.partition("<!-- end -->")
    if not (found and ended):
        raise ValueError(f"the page has no place for the table of {mark}")
    return table.rstrip("\n")


def replaced(text: str, mark: str, table: str) -> str:
    """Return the page with one computed table in place of the one between its marks."""
    between(text, mark)
    head, start, rest = text.partition(f"<!-- computed: {mark} -->\n")
    tail = rest.partition("<!-- end -->")[2]
    return f"{head}{start}{table}\n<!-- end -->{tail}"


if __name__ == "__main__":
    main()
