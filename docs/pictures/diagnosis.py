"""Compute the examples of ``docs/diagnosis.md``: ``python -m docs.pictures.diagnosis PROJECT``.

PROJECT is a built demo (``python -m demo_pairs --into PROJECT``). The page is written between its marks.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click
from rich.console import Console

from correlate import load_campaign
from correlate.campaign import score_campaign
from correlate.campaign.explanation import explain
from correlate.campaign.pair_explanation import explain_pair
from correlate.cli.pairs import PairChoice
from correlate.report.explain import print_explanation, print_pair_explanation
from docs.pictures.demo import replaced

if TYPE_CHECKING:
    from correlate.campaign.explanation import Explanation
    from correlate.campaign.pair_explanation import PairExplanation

ROOT: Final = Path(__file__).parents[2]
PAGE: Final = ROOT / "docs" / "diagnosis.md"
EXAMPLE: Final = Path("demo_pairs/examples/thorax")
TEST: Final = EXAMPLE / "test" / "KELPM_TI01"
MODEL: Final = EXAMPLE / "model" / "thorax-impact.csv"
CHOICE: Final = PairChoice(
    channel="00PEND000000ACXP",
    candidate_channel="probe deceleration",
    cfc=180,
    from_ms=0.0,
    to_ms=60.0,
    step_ms=0.1,
    layout_files=(),
    turn_sign=True,
)
"""The options of the example, as in the command on the page."""
RELEASE: Final = "A2"
WIDTH: Final = 120


@click.command()
@click.argument("project", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(project: Path) -> None:
    """Write the examples of the page, that of a campaign from the built demo in PROJECT."""
    campaign = load_campaign(project)
    records = score_campaign(campaign, releases=[RELEASE]).records
    text = replaced(PAGE.read_text(encoding="utf-8"), "pair", pair_block(pair_example()))
    text = replaced(text, "campaign", campaign_block(explain(campaign, records, RELEASE)))
    PAGE.write_text(text, encoding="utf-8", newline="\n")
    click.echo(PAGE)


def pair_example() -> PairExplanation:
    """Explain the pair of the page."""
    test, _ = CHOICE.reference(ROOT / TEST)
    model, _ = CHOICE.candidate(ROOT / MODEL)
    return explain_pair(test, model, recipe=CHOICE.recipe)


def pair_block(found: PairExplanation) -> str:
    """Return what the command prints for a pair, as a block of the page."""
    console = _console()
    print_pair_explanation(console, found, top=6)
    return _block(console)


def campaign_block(found: Explanation) -> str:
    """Return what the command prints for a release, as a block of the page."""
    console = _console()
    print_explanation(console, found)
    return _block(console)


def _console() -> Console:
    return Console(file=io.StringIO(), width=WIDTH, highlight=False, color_system=None)


def _block(console: Console) -> str:
    """Return what was printed without the spaces that fill its lines."""
    assert isinstance(console.file, io.StringIO)  # noqa: S101 - tells the type checker what _console made
    lines = [line.rstrip() for line in console.file.getvalue().splitlines()]
    return "\n".join(["```text", *lines, "```"])


if __name__ == "__main__":
    main()
