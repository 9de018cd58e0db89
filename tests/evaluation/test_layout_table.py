"""Text in columns that the campaign file describes: what is rated, what is rated again, what is refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.campaign import CampaignReader, campaign_pairs, load_campaign, score_campaign
from correlate.campaign.proposals import proposals_of
from correlate.errors import FormatError
from correlate.formats import archive
from tests.campaign.conftest import CAMPAIGN, half_sine

if TYPE_CHECKING:
    from pathlib import Path

LAYOUTS = """
[[layout]]
name = "history"
skip_lines = 1
time = "t"
columns = [
  { name = "t", unit = "ms" },
  { name = "probe force", unit = "N" },
  { name = "compression", unit = "m" },
]

[[layout]]
name = "nodes"
columns = [
  { name = "node", characters = [1, 6] },
  { name = "x", unit = "m", characters = [7, 26] },
]
[layout.block]
start = "x at time {time} s"
time_unit = "s"
key = "node"
"""


def edit(file: Path, old: str, new: str) -> None:
    """Change the campaign file."""
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.fixture
def described(project: Path) -> Path:
    """Write the model's output as text in columns and describe it; return the folder."""
    time = np.arange(-100, 601) * 0.1
    rows = zip(time, -half_sine(6.0, 3900.0), half_sine(8.0, 0.055), strict=True)
    lines = [f"{t:9.1f} {force:16.9g} {travel:16.9g}" for t, force, travel in rows]
    (project / "model" / "push.csv").rename(project / "push.csv")
    (project / "model" / "push.out").write_text("\n".join(["run 7", *lines]) + "\n", encoding="utf-8")
    text = CAMPAIGN.replace('name = "push"', 'name = "push"\nlayout = "history"\nmodel_file = "push.out"')
    (project / "campaign.toml").write_text(text + LAYOUTS, encoding="utf-8")
    return project


def ratings(folder: Path) -> dict[tuple[str, str], float]:
    """Return the rating of each pair by channel and repeat."""
    scores = score_campaign(load_campaign(folder), workers=1)
    assert scores.unrated == []
    return {(one.channel, one.repeat): one.overall for one in scores.records}


def test_columns_rate_as_the_same_numbers_in_delimited_text(described: Path) -> None:
    """The layout is the only difference; both ways through the campaign read by it."""
    by_layout = ratings(described)
    campaign = load_campaign(described)
    reader = CampaignReader()
    one_by_one = {
        (pair.channel.name, pair.repeat): reader.score(campaign, pair).rating.overall
        for pair in campaign_pairs(campaign)
    }
    assert one_by_one == by_layout
    (described / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (described / "push.csv").rename(described / "model" / "push.csv")
    assert by_layout == pytest.approx(ratings(described), abs=1e-9)
    assert len(by_layout) == 4


def test_the_layout_of_a_release_replaces_that_of_the_load_case(described: Path) -> None:
    """A release from elsewhere writes blocks; the others go on as before."""
    folder = described / "other"
    folder.mkdir()
    travel = half_sine(8.0, 0.055)
    with (folder / "push.out").open("w", encoding="utf-8") as file:
        for at, value in zip(np.arange(-100, 601) * 1e-4, travel, strict=True):
            file.write(f"x at time {at:.4f} s\n     4{value:20.12g}\n     9{-value:20.12g}\n")
    edit(described / "campaign.toml", 'model = "compression"', 'model = "node 4 x"')
    edit(
        described / "campaign.toml",
        '[[layout]]\nname = "history"',
        '[[release]]\nname = "B2"\nfolder = "other"\nlayout = "nodes"\n[[layout]]\nname = "history"',
    )
    campaign = load_campaign(described)
    push, b1, b2 = campaign.load_case("push"), campaign.release("B1"), campaign.release("B2")
    assert campaign.read_model(b1, push).channel_names == ("probe force", "compression")
    blocks = campaign.read_model(b2, push)
    assert blocks.channel_names == ("node 4 x", "node 9 x")
    assert np.allclose(blocks.channel("node 9 x").samples, -travel, rtol=0, atol=1e-13)
    scores = score_campaign(campaign, releases=["B2"], workers=1)
    assert {one.channel for one in scores.records} == {"deflection"}
    assert [one.channels for one in scores.unpaired if one.side == "model"] == [("node 9 x",)]


def test_proposals_look_through_the_layout(described: Path) -> None:
    """A channel without a partner is offered the columns."""
    edit(described / "campaign.toml", 'model = "compression"', 'model = "travel"')
    campaign = load_campaign(described)
    [(case, ranked)] = proposals_of(campaign, campaign.release("B1"))
    assert (case, ranked[0].test, ranked[0].model) == ("push", "deflection", "compression")


@pytest.mark.parametrize(
    ("old", "new", "again"),
    [
        ('{ name = "compression", unit = "m" }', '{ name = "compression", unit = "mm" }', 4),
        ('model = "compression"', 'model = "compression"\nmodel_unit = "cm"', 2),
        ('title = "Two repeats"', 'title = "Two repeats, renamed"', 0),
    ],
)
def test_what_was_read_otherwise_is_rated_again(described: Path, old: str, new: str, again: int) -> None:
    """Another unit in the layout, or one declared for a channel, is another input; a title is none."""
    first = score_campaign(load_campaign(described), workers=1)
    edit(described / "campaign.toml", old, new)
    second = score_campaign(
        load_campaign(described), known={one.key: one for one in first.records}, workers=1
    )
    assert (second.new, second.reused) == (again, 4 - again)


def test_a_project_that_was_moved_is_not_rated_again(described: Path) -> None:
    """The key of a rating holds what was read and how, not where it lies."""
    first = score_campaign(load_campaign(described), workers=1)
    moved = described.rename(described.with_name("elsewhere"))
    second = score_campaign(load_campaign(moved), known={one.key: one for one in first.records}, workers=1)
    assert (second.new, second.reused) == (0, 4)


def test_an_archive_in_the_place_of_the_output_is_its_own_input(described: Path) -> None:
    """Equal ratings under keys of their own, the way of the numbers in the record: text, archive, rating."""
    campaign = load_campaign(described)
    first = score_campaign(campaign, workers=1)
    recording = campaign.read_model(campaign.releases[0], campaign.load_cases[0])
    archive.write(recording, described / "model" / "push.h5")
    edit(described / "campaign.toml", 'layout = "history"\nmodel_file = "push.out"', 'model_file = "push.h5"')
    known = {one.key: one for one in first.records}
    second = score_campaign(load_campaign(described), known=known, workers=1)
    assert (second.new, second.reused) == (4, 0)
    assert [one.overall for one in second.records] == [one.overall for one in first.records]
    for before, after in zip(first.records, second.records, strict=True):
        then, now = before.inputs["candidate"], after.inputs["candidate"]
        assert now["sha256"] == then["sha256"]
        assert [step["step"] for step in now["history"]][:2] == ["read", "read archive"]
        assert now["history"][1]["file"] == str(described / "model" / "push.h5")


def test_the_reader_reads_again_by_another_layout(described: Path) -> None:
    """What was read by one layout is not given out for another."""
    campaign = load_campaign(described)
    path, reader = described / "model" / "push.out", CampaignReader()
    first = reader.recording(path, campaign.layouts["history"])
    assert reader.recording(path, campaign.layouts["history"]) is first
    edit(described / "campaign.toml", '"probe force", unit = "N"', '"probe force", unit = "kN"')
    changed = load_campaign(described).layouts["history"]
    assert reader.recording(path, changed).channel("probe force").unit == "kN"


def test_output_that_does_not_fit_the_layout_is_listed_with_the_reason(described: Path) -> None:
    """The pairs are not rated, and the sentence names line and layout."""
    path = described / "model" / "push.out"
    path.write_text(path.read_text().replace("\n", " 1\n", 5), encoding="utf-8")
    scores = score_campaign(load_campaign(described), workers=1)
    reasons = {one.reason for one in scores.unrated}
    assert len(scores.unrated) == 4
    assert len(reasons) == 1
    assert "push.out, line 2: the line has 4 columns, the layout 'history' 3; correct" in reasons.pop()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'layout = "history"',
            'layout = "historie"',
            "'push' names the layout 'historie', which does not exist; ",
        ),
        ('layout = "history"', 'layout = "historie"', "the file has history, nodes"),
        (
            'folder = "model"',
            'folder = "model"\nlayout = "b"',
            "'B1' names the layout 'b', which does not exist",
        ),
        (
            'name = "nodes"',
            'name = "history"',
            "layout: layout 'history' is defined twice; the first is in line",
        ),
        ('name = "nodes"', 'name = "of nodes"', "layout.name: "),
        (
            "skip_lines = 1",
            "skip_line = 1",
            "layout.skip_line: there is no such key; did you mean 'skip_lines'?",
        ),
        ('key = "node"', 'keys = "node"', "layout.block.keys: there is no such key; did you mean 'key'?"),
        (
            'unit = "m" },',
            'units = "m" },',
            "layout.columns.units: there is no such key; did you mean 'unit'?",
        ),
        (
            "characters = [1, 6]",
            "characters = [1, 7]",
            "columns 'node' and 'x' share character 7; correct one",
        ),
        (
            'time = "t"',
            'time = "zeit"',
            "layout: there is no column 'zeit' for the times; name the column of",
        ),
        ('unit = "N" }', 'unit = "newton" }', "layout: the unit 'newton' is not known; write one such as"),
    ],
)
def test_mistakes_in_a_layout_are_reported_on_reading(
    described: Path, old: str, new: str, message: str
) -> None:
    """With line and key, like all others."""
    edit(described / "campaign.toml", old, new)
    with pytest.raises(FormatError, match=r"campaign\.toml: 1 mistake: line \d+, |the whole file") as caught:
        load_campaign(described)
    assert message in str(caught.value)
