"""Where the result of a release for a load case is: names, patterns and folders."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign import score_campaign
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from pathlib import Path

project = project_on_disk


@pytest.mark.parametrize(
    ("model_file", "path"),
    [
        ("{load_case}.csv", "model/push.csv"),
        ("x_{release}.csv", "model/x_B1.csv"),
        ("*.csv", "model/push.csv"),
        ("run?.csv", "model/run?.csv"),
    ],
)
def test_names_and_patterns_in_the_name_of_the_result(project: Path, model_file: str, path: str) -> None:
    """A pattern that fits no file, or several, stays as it is, and reading it says so."""
    file = project / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('name = "push"', f'name = "push"\nmodel_file = "{model_file}"'), encoding="utf-8"
    )
    campaign = load_campaign(project)
    (release,), (case,) = campaign.releases, campaign.load_cases
    assert campaign.model_path(release, case) == project / path


def test_several_files_of_a_run_are_rated_together(project: Path) -> None:
    """A folder under model_file and a layout for each of its files; a change in one makes the rating new."""
    rows = (project / "model" / "push.csv").read_text(encoding="utf-8").splitlines()[1:]
    cells = [row.split(",") for row in rows]
    for name, column in (("forces", 1), ("nodes", 2)):
        text = "\n".join(f"{row[0]} {row[column]}" for row in cells)
        (project / "model" / "push").mkdir(exist_ok=True)
        (project / "model" / "push" / f"{name}.out").write_text(text + "\n", encoding="utf-8")
    layouts = "".join(
        f"""
[[layout]]
name = "{name}"
files = ["{name}.out"]
time = "t"
columns = [{{ name = "t", unit = "ms" }}, {{ name = "{channel}", unit = "{unit}" }}]
"""
        for name, channel, unit in (("forces", "probe force", "N"), ("nodes", "compression", "m"))
    )
    file = project / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    before = score_campaign(load_campaign(project), workers=1)
    keys = 'name = "push"\nmodel_file = "{load_case}"\nlayout = ["forces", "nodes"]'
    file.write_text(text.replace('name = "push"', keys) + layouts, encoding="utf-8")
    after = score_campaign(load_campaign(project), workers=1)
    assert after.unrated == []
    assert [one.overall for one in after.records] == pytest.approx([one.overall for one in before.records])


def test_test_folders_are_named_after_their_whole_name(project: Path) -> None:
    """A point in the name of a folder does not begin an ending."""
    for number in (1, 2):
        (project / "tests" / f"push-4.3_R{number}").mkdir()
    file = project / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("tests/*.csv", "tests/push*"), encoding="utf-8")
    campaign = load_campaign(project)
    assert list(campaign.tests(campaign.load_cases[0])) == ["push-4.3_R1", "push-4.3_R2"]
