"""Scoring a campaign: complete, resumable, the same on any number of processes."""

from __future__ import annotations

import gc
import math
import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.campaign import (
    CampaignReader,
    PairRecord,
    aggregate,
    campaign_pairs,
    load_campaign,
    score_campaign,
)
from correlate.errors import FormatError, SettingsError
from tests.campaign.conftest import half_sine, write_columns
from tests.oracles import iso18571_literal as literal

if TYPE_CHECKING:
    from pathlib import Path


def test_records_hold_the_ratings_of_the_pairs(project: Path) -> None:
    """The records are those of rating each pair alone."""
    campaign = load_campaign(project)
    scores = score_campaign(campaign, workers=1)
    reader = CampaignReader()
    expected = {
        (pair.channel.name, pair.repeat): reader.score(campaign, pair).rating.overall
        for pair in campaign_pairs(campaign)
    }
    assert {(one.channel, one.repeat): one.overall for one in scores.records} == expected
    assert (scores.new, scores.reused, scores.unrated, scores.unpaired) == (4, 0, [], [])


def test_records_of_an_unfiltered_channel_are_the_literal_rating(project: Path) -> None:
    """Deflections of 60 mm from 7 and 7.5 ms on, a model of 55 mm from 8 ms on, rated from 0 to 50 ms."""
    records = score_campaign(load_campaign(project), workers=1).records
    found = {one.repeat: one for one in records if one.channel == "deflection"}
    model = half_sine(8.0, 55.0)[100:601].tolist()
    assert found.keys() == {"R1", "R2"}
    for repeat, start_ms in (("R1", 7.0), ("R2", 7.5)):
        expected = literal.rating(half_sine(start_ms, 60.0)[100:601].tolist(), model, 1e-4)
        for name in ("overall", "corridor", "phase", "magnitude", "slope"):
            assert getattr(found[repeat], name) == pytest.approx(expected[name], abs=1e-7)
        assert found[repeat].shift_s == pytest.approx(1e-3 * (8.0 - start_ms))


def test_two_processes_give_the_same_as_one(project: Path) -> None:
    """Order and numbers do not depend on who did the work."""
    campaign = load_campaign(project)
    assert score_campaign(campaign, workers=2).records == score_campaign(campaign, workers=1).records


def test_what_is_known_is_not_rated_again(project: Path) -> None:
    """The second run rates nothing and returns the same; a changed input rates its pairs alone."""
    campaign = load_campaign(project)
    kept: list[PairRecord] = []
    first = score_campaign(campaign, keep=lambda new, _: kept.extend(new), workers=1)
    assert kept == first.records
    again = score_campaign(campaign, known={one.key: one for one in kept}, workers=1)
    assert (again.new, again.reused) == (0, 4)
    assert again.records == first.records

    write_columns(
        project / "tests" / "R2.csv",
        {"force [kN]": half_sine(5.6, 4.2), "deflection [mm]": half_sine(7.6, 60.0)},
    )
    changed = score_campaign(campaign, known={one.key: one for one in kept}, workers=1)
    assert (changed.new, changed.reused) == (2, 2)


def test_a_rating_known_under_another_name_is_kept_again(project: Path) -> None:
    """A second release with the same bytes is not rated again, but has records of its own."""
    known = {one.key: one for one in score_campaign(load_campaign(project), workers=1).records}
    shutil.copytree(project / "model", project / "copy")
    file = project / "campaign.toml"
    file.write_text(file.read_text() + '\n[[release]]\nname = "B2"\nfolder = "copy"\n', encoding="utf-8")
    kept: list[PairRecord] = []
    scores = score_campaign(
        load_campaign(project), known=known, keep=lambda new, _: kept.extend(new), workers=1
    )
    assert (scores.new, scores.reused) == (0, 8)
    assert {one.release for one in kept} == {"B2"}
    assert "copy" in kept[0].inputs["candidate"]["file"]


def test_a_declared_unit_rates_again(project: Path) -> None:
    """The same bytes taken to be in another unit are another input."""
    known = {one.key: one for one in score_campaign(load_campaign(project), workers=1).records}
    file = project / "campaign.toml"
    file.write_text(
        file.read_text().replace("model_sign = -1", 'model_sign = -1\nmodel_unit = "kN"'), encoding="utf-8"
    )
    scores = score_campaign(load_campaign(project), known=known, workers=1)
    assert (scores.new, scores.reused) == (2, 2)


def test_a_changed_setting_rates_again(project: Path) -> None:
    """Another channel frequency class makes another key."""
    first = score_campaign(load_campaign(project), workers=1)
    file = project / "campaign.toml"
    file.write_text(file.read_text().replace("cfc = 180", "cfc = 60"), encoding="utf-8")
    again = score_campaign(load_campaign(project), known={one.key: one for one in first.records}, workers=1)
    assert (again.new, again.reused) == (2, 2)


def test_what_cannot_be_rated_says_why_and_the_rest_goes_on(project: Path) -> None:
    """A channel that the model lacks leaves two pairs unrated, with a reason; the other two are rated."""
    file = project / "campaign.toml"
    file.write_text(file.read_text().replace('"probe force"', '"probe push"'), encoding="utf-8")
    scores = score_campaign(load_campaign(project), workers=1)
    assert [one.channel for one in scores.records] == ["deflection", "deflection"]
    assert {(one.channel, one.repeat) for one in scores.unrated} == {("force", "R1"), ("force", "R2")}
    assert "no channel 'probe push'" in scores.unrated[0].reason


def test_a_result_file_that_is_absent_is_reported_for_every_channel(project: Path) -> None:
    """No output of the model: four unrated pairs, none dropped."""
    (project / "model" / "push.csv").unlink()
    scores = score_campaign(load_campaign(project), workers=1)
    assert scores.records == []
    assert len(scores.unrated) == 4
    assert all("push.csv" in one.reason for one in scores.unrated)


def test_channels_in_no_pair_are_listed_on_both_sides(project: Path) -> None:
    """A spare channel of a test and one of the model are named."""
    write_columns(
        project / "tests" / "R1.csv",
        {"force [kN]": half_sine(5, 4), "deflection [mm]": half_sine(7, 60), "belt [kN]": half_sine(7, 1)},
    )
    write_columns(
        project / "model" / "push.csv",
        {
            "probe force [N]": -half_sine(6, 3900),
            "compression [m]": half_sine(8, 0.06),
            "rib [m]": half_sine(8, 1),
        },
    )
    found = score_campaign(load_campaign(project), workers=1).unpaired
    assert [(one.side, one.release, one.channels) for one in found] == [
        ("test", "", ("belt",)),
        ("model", "B1", ("rib",)),
    ]


def test_the_mean_curve_of_the_repeats_can_be_the_reference(project: Path) -> None:
    """One pair a channel, called after the number of repeats; both sources stand in its inputs."""
    file = project / "campaign.toml"
    file.write_text(
        file.read_text().replace('title = "Two repeats"', 'title = "x"\n[scoring]\nrepeats = "mean curve"'),
        encoding="utf-8",
    )
    scores = score_campaign(load_campaign(project), workers=1)
    assert [(one.channel, one.repeat) for one in scores.records] == [
        ("force", "mean of 2"),
        ("deflection", "mean of 2"),
    ]
    reference = scores.records[1].inputs["reference"]
    assert reference["history"][-1]["step"] == "mean of repeats"
    assert reference["history"][-1]["repeats"] == ["R1", "R2"]
    # The mean of two half-sines, 0.5 ms apart: its peak is 60 cos(pi * 0.25 / 30).
    peak = scores.records[1].ingredients["corridor"]["reference_peak"]
    assert peak == pytest.approx(60.0 * math.cos(math.pi * 0.25 / 30), rel=1e-4)  # the grid misses its top


def scoring(project: Path, lines: str) -> None:
    """Add a scoring table to the campaign file."""
    file = project / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('title = "Two repeats"', f'title = "x"\n[scoring]\n{lines}'), encoding="utf-8"
    )


def test_extra_measures_are_taken_of_each_pair(project: Path) -> None:
    """The numbers are those that the measures give of the aligned pair; the rating itself does not change."""
    plain = score_campaign(load_campaign(project), workers=1)
    scoring(project, 'extras = ["pearson", "theil"]')
    campaign = load_campaign(project)
    scores = score_campaign(campaign, workers=1)
    pair = CampaignReader().score(campaign, next(campaign_pairs(campaign))).rating.pair
    also = scores.records[0].ingredients["also"]
    assert also["pearson"]["value"] == pytest.approx(np.corrcoef(pair.reference, pair.candidate)[0, 1])
    assert set(also) == {"pearson", "theil"}
    assert [one.overall for one in scores.records] == [one.overall for one in plain.records]
    assert {one.key for one in scores.records}.isdisjoint(one.key for one in plain.records)


def test_another_main_measure_is_combined_without_grades(project: Path) -> None:
    """The release is the mean of the main measure; the words of the rating do not apply to it."""
    scoring(project, 'main = "weighted-integrated-factor"')
    campaign = load_campaign(project)
    scores = score_campaign(campaign, workers=1)
    found = aggregate(campaign, scores.records, "B1").training
    values = [one.ingredients["also"]["weighted-integrated-factor"]["value"] for one in scores.records]
    assert found.overall == pytest.approx(sum(values) / 4)
    assert found.grade is None


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ('main = "theil"', "cannot be the main metric"),
        ('extras = ["pearsn"]', "perhaps you mean 'pearson'"),
        ('extras = ["confidence-interval"]', "compares all repeats at once"),
    ],
)
def test_measures_that_cannot_be_used_are_refused(project: Path, lines: str, message: str) -> None:
    """An error cannot be a score, a misspelt name is suggested, a measure of all repeats is not for pairs."""
    scoring(project, lines)
    with pytest.raises(FormatError, match=message):
        load_campaign(project)


def test_a_resultant_is_rated_beside_its_axes(project: Path) -> None:
    """Three axes and their length: the peak of the resultant of (3, 4, 12) is 13."""
    axes = {f"a{axis} [g]": size * half_sine(5, 1.0) for axis, size in zip("xyz", (3, 4, 12), strict=True)}
    for number in (1, 2):
        write_columns(project / "tests" / f"R{number}.csv", axes)
    write_columns(project / "model" / "push.csv", axes)
    channels = "".join(
        f'[[load_case.channel]]\ntest = "a{axis}"\nregion = "head"\nsensor = "head"\ncfc = 1000\n'
        for axis in "xyz"
    )
    (project / "campaign.toml").write_text(
        '[campaign]\ntitle = "r"\n[[load_case]]\nname = "push"\ntests = ["tests/*"]\ninterval_ms = [0, 50]\n'
        + channels
        + '[[load_case.resultant]]\ntitle = "head resultant"\naxes = ["ax", "ay", "az"]\nregion = "head"\n'
        + '[[release]]\nname = "B1"\nfolder = "model"\n',
        encoding="utf-8",
    )
    scores = score_campaign(load_campaign(project), workers=1)
    total = [one for one in scores.records if one.channel == "head resultant"]
    assert len(total) == 2
    assert total[0].overall == pytest.approx(1.0)
    assert total[0].ingredients["corridor"]["reference_peak"] == pytest.approx(13.0, rel=1e-3)


def test_older_objects_are_left_out_of_garbage_collections_meanwhile(project: Path) -> None:
    """They are frozen while blocks are rated, and released afterwards, even after an error."""
    campaign = load_campaign(project)
    seen: list[int] = []
    score_campaign(campaign, workers=1, progress=lambda *_: seen.append(gc.get_freeze_count()))
    assert seen
    assert min(seen) > 0
    assert gc.get_freeze_count() == 0
    with pytest.raises(SettingsError, match="there is no release 'Z9'"):
        score_campaign(campaign, releases=["Z9"])
    assert gc.get_freeze_count() == 0


def test_objects_that_somebody_else_froze_stay_frozen(project: Path) -> None:
    """A server may have frozen its own objects before it started processes."""
    gc.freeze()
    try:
        score_campaign(load_campaign(project), workers=1)
        assert gc.get_freeze_count() > 0
    finally:
        gc.unfreeze()
