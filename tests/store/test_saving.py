"""Ratings that are saved in two halves, on two machines, are those that one program saves."""

from __future__ import annotations

import pickle
from typing import TYPE_CHECKING

import pytest

from correlate import StoreError, load_campaign, open_store, score_into
from correlate.campaign import score_campaign
from correlate.campaign.scoring import one_process
from correlate.store import StoredResults, stored_numbers, stored_ratings
from correlate.store.saving import saving_into
from tests.dashboard.project import write_project
from tests.store.writer import RUN

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign import Campaign
    from correlate.campaign.delivery import NewRatings
    from correlate.store import Store


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Write the small project."""
    return write_project(tmp_path / "project")


@pytest.fixture
def campaign(project: Path) -> Campaign:
    """Load it."""
    return load_campaign(project)


@pytest.fixture
def ratings(campaign: Campaign) -> list[NewRatings]:
    """Rate the two blocks of a release."""
    found: list[NewRatings] = []
    score_campaign(campaign, releases=["A1"], keep=lambda *told: found.append(told), workers=1)
    return found


def test_both_halves_save_what_one_program_saves(store: Store, ratings: list[NewRatings]) -> None:
    """The first half may run in another process; a block that comes twice, as by a retry, is there once."""
    saving = saving_into(store, RUN, saved=())
    first = pickle.loads(pickle.dumps(saving.first))  # noqa: S301 - what a scheduler does
    for _ in range(2):
        saving.finish([pickle.loads(pickle.dumps(first.prepare(ratings)))])  # noqa: S301
    title = ratings[0][1].campaign
    assert store.ratings() == [record for records, _ in ratings for record in records]
    assert store.evidence(title) == [evidence for _, evidence in ratings]
    assert store.runs(title) == [RUN]


def test_tasks_that_come_together_are_saved_together_or_not_at_all(
    tmp_path: Path, ratings: list[NewRatings]
) -> None:
    """If the block of a second task cannot be inserted, that of the first is not in the file either."""
    with open_store(tmp_path / "ratings.sqlite") as store:
        saving = saving_into(store, RUN, saved=())
        whole, damaged = saving.first.prepare(ratings)
        for pair, row in damaged.rows.entries.items():
            damaged.rows.entries[pair] = (*row[:6], b"of no rating", *row[7:])
        with pytest.raises(StoreError):
            saving.finish([[whole], [damaged]])
        assert store.ratings() == []
        assert store.evidence(whole.block[0]) == []


def test_records_are_read_when_they_are_asked_for(address: str, campaign: Campaign) -> None:
    """They come in the order of the campaign file, also after the store was closed; their number is known."""
    with open_store(address) as store:
        scores = score_into(store, campaign, run=RUN, engine=one_process).scores
    alone = score_campaign(campaign, workers=1)
    assert (len(scores.records), repr(scores.records)) == (16, "<16 records>")
    assert scores.records == alone.records
    assert scores.records[1] == alone.records[1]


def test_records_of_another_run_are_not_taken_for_these(address: str, project: Path) -> None:
    """Where another program rated changed files meanwhile, the records are refused in one sentence."""
    with open_store(address) as store:
        scores = score_into(store, load_campaign(project), run=RUN, engine=one_process).scores
        result = project / "releases/A1/drop.csv"
        result.write_bytes(result.read_bytes() + b"\n")
        score_into(store, load_campaign(project), run=RUN, engine=one_process)
    with pytest.raises(StoreError, match="another program rated the same releases again meanwhile"):
        list(scores.records)


def test_a_repeat_that_only_another_release_was_rated_with_is_missed(address: str, project: Path) -> None:
    """A test that was removed is missed by releases rated afterwards: in scores, store and board."""
    gone = project / "laboratory/drop/D02.csv"
    with open_store(address) as store:
        score_into(store, load_campaign(project), ["A1"], run=RUN, engine=one_process)
        gone.unlink()
        campaign = load_campaign(project)
        scored = score_into(store, campaign, ["A2"], run=RUN, engine=one_process).evidence["A2"]
        stored = stored_ratings(store, campaign).evidence["A2"]
        board, trend = stored_numbers(store, campaign), StoredResults(store, campaign).trend()
    missed = {(gap.channel, gap.repeat, gap.reason) for gap in scored.gaps if gap.kind == "repeat missing"}
    reason = "it was rated before, but the campaign no longer names it"
    channels = ("D0HEAD0000KMACXP", "D0HEAD0000KMACZP")
    assert missed == {(channel, gone.stem, reason) for channel in channels}
    assert scored.gaps == stored.gaps == board.evidence["A2"].gaps
    assert "2 repeats missing" in trend.points[1].marks
