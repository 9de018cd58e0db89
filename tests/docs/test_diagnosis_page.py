"""The page of the diagnosis: its examples are what the command prints, its numbers those of other pages."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.plots.wording import channel_title
from docs.pictures import demo, diagnosis
from tests.benchmarks import clusters
from tests.campaign.slow_project import build

if TYPE_CHECKING:
    from correlate import Campaign, LoadCase

TEXT = diagnosis.PAGE.read_text(encoding="utf-8")
NUMBER = r"(?<![\w.])[+-]?\d+(?:\.\d+)?(?![\w.]*\d)"
CAMPAIGN = demo.between(TEXT, "campaign")


def sums(kind: str) -> dict[str, float]:
    """Return the points of the line ``by component`` or ``by load case``, held-out load cases left out."""
    flat = " ".join(CAMPAIGN.splitlines())
    line = flat.split(f"by {kind}: ")[1].split(" by ")[0].split(" What costs")[0]
    return {name.strip(): float(value) for name, value in re.findall(r"([a-z][a-z -]*?) (\d\.\d+)", line)}


def words_and_numbers(block: str) -> tuple[list[str], list[float]]:
    """Take a block apart, so that the last digit of a search need not be the same on every machine."""
    flat = " ".join(block.replace("−", "-").split())
    numbers = [float(number) for number in re.findall(NUMBER, flat)]
    return re.sub(NUMBER, "#", flat).split(), numbers


def test_the_example_of_a_pair_is_what_the_command_prints() -> None:
    """Every word of the block, and every number but for its last digits, of the pair in the repository."""
    words, numbers = words_and_numbers(demo.between(TEXT, "pair"))
    printed = words_and_numbers(diagnosis.pair_block(diagnosis.pair_example()))
    assert words == printed[0], "run python -m docs.pictures.diagnosis PROJECT"
    assert numbers == pytest.approx(printed[1], rel=0.05, abs=0.002)
    assert len(numbers) > 40


def test_the_command_of_the_pair_has_the_options_of_the_example() -> None:
    """What is printed can be had by the line above it."""
    command = TEXT.split("## A pair\n")[1].split("```")[1]
    assert str(diagnosis.TEST) in command
    assert str(diagnosis.MODEL) in command
    choice = diagnosis.CHOICE
    for words in (
        f"--channel {choice.channel} ",
        f'--candidate-channel "{choice.candidate_channel}"',
        f"--cfc {choice.cfc} --from {choice.from_ms:g} --to {choice.to_ms:g} --top 6",
        "--turn-sign",
    ):
        assert words in command


def by_hand(case: LoadCase, ratings: dict[tuple[str, str], float], campaign: Campaign) -> float:
    """Combine the ratings of the demo page by region and weight, as a reader with a calculator would."""
    regions: dict[str, list[float]] = {}
    for plan in case.channel:
        regions.setdefault(plan.region, []).append(ratings[case.name, channel_title(plan.words)])
    weights = [campaign.region_weight(region) for region in regions]
    means = [sum(values) / len(values) for values in regions.values()]
    return sum(weight * mean for weight, mean in zip(weights, means, strict=True)) / sum(weights)


def test_the_points_of_the_release_are_those_of_the_page_of_the_demo() -> None:
    """Each of six load cases costs a sixth of what the channels on that page lack to 1, and all add up."""
    place = 2 + demo.RELEASES.index(diagnosis.RELEASE)
    rows = demo.between(demo.PAGE.read_text(encoding="utf-8"), "channels").splitlines()[2:]
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    ratings = {(row[0].strip("`"), row[1]): float(row[place]) for row in cells}
    campaign = load_campaign(Path("demo_pairs/campaign.toml"))
    cases = [case for case in campaign.load_cases if not case.held_out]
    said = sums("load case")
    assert set(said) == {case.name for case in cases}
    assert len(said) == 6
    # The head drop weighs its axes by their peaks, which are not on that page.
    expected = {
        case.name: (1 - by_hand(case, ratings, campaign)) / 6 for case in cases if case.name != "head-drop"
    }
    assert {name: said[name] for name in expected} == pytest.approx(expected, abs=0.0012)
    lost = float(CAMPAIGN.split(" points lost")[0].rsplit(" ", 1)[1])
    assert sum(said.values()) == pytest.approx(lost, abs=0.004)
    assert sum(sums("component").values()) == pytest.approx(lost, abs=0.003)


def test_the_python_example_runs(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """On a small project in the place of the reader's, the most expensive channel comes first."""
    code = TEXT.split("```python\n")[1].split("```")[0].replace('"A2"', '"B1"')
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    exec(code, {"project": build(tmp_path)})  # noqa: S102 - our own page
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[:2] for line in lines] == [["slow", "force"], ["slow", "angle"], ["slow", "neck"]]


@pytest.mark.parametrize("column", [0, 1, 2])
def test_chance_on_the_page_is_that_of_a_small_draw(column: int) -> None:
    """100 pairs of the narrow residuals: joined as rarely as the page says."""
    row = next(line for line in TEXT.splitlines() if line.startswith("| clustered by chance"))
    said = float(row.split("|")[2 + column].strip().removesuffix(" %"))
    assert 100 * clusters.chance(clusters.WIDTHS[column], draws=100) <= said + 1.0
