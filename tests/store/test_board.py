"""What pages read in aggregates is what all ratings and all evidence give."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import event

from correlate.campaign import Campaign, decide, load_campaign, release_matrix, release_scores, scoreboard
from correlate.database import reading
from correlate.errors import SettingsError
from correlate.evaluation import CaseEvidence, ChannelEvidence
from correlate.store import (
    RunInfo,
    Store,
    StoredResults,
    StoredTrend,
    open_store,
    stored_board,
    stored_numbers,
    stored_ratings,
)
from tests.dashboard.board_project import STARTED, TITLE, write_board_project

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.campaign import ReleaseScore

RELEASES, CASES, CHANNELS = 4, 3, 4


def evidence(release: str, case: str, *, without: str = "", missing: bool = False) -> CaseEvidence:
    """Return evidence of a load case of the project: one repeat no part of it, or one that is missing."""
    pairs = tuple(name for name in ("R0", "R1", "R2") if name != without)
    why = {"R3": "R3.csv cannot be read"} if missing else {}
    channels = tuple(
        ChannelEvidence(
            channel=f"c{number}",
            expected=len(pairs) + len(why),
            found=pairs,
            rated=pairs,
            missing=why,
            pairs=pairs,
            flags={"short": number} if number else {},
        )
        for number in range(CHANNELS)
    )
    return CaseEvidence(campaign=TITLE, release=release, load_case=case, state="before", channels=channels)


@pytest.fixture
def project(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Campaign]]:
    """Open a store with complete, incomplete and absent evidence, and a campaign file with its weights."""
    folder = write_board_project(
        tmp_path_factory.mktemp("board"), releases=RELEASES, load_cases=CASES, channels=CHANNELS
    )
    with open_store(folder / "ratings.sqlite") as store:
        store.save_evidence(
            [
                evidence("B0", "case-0"),
                evidence("B1", "case-0", without="R1"),
                evidence("B1", "case-1", missing=True),
                evidence("B2", "case-2"),
            ]
        )
        yield store, load_campaign(folder)


def scores_of_every_rating(store: Store, campaign: Campaign) -> dict[str, ReleaseScore]:
    """Combine all ratings that are part of a number, read one by one."""
    return release_scores(campaign, stored_ratings(store, campaign).pairs)


@pytest.mark.parametrize(
    ("release", "against"), [("", ""), ("B0", ""), ("B2", ""), ("B1", "B3"), ("B3", "B0")]
)
def test_board_and_matrix_are_those_of_every_rating(
    project: tuple[Store, Campaign], release: str, against: str
) -> None:
    """Numbers, changes, marks, trend, checks, decision and cells are equal to the last bit."""
    store, campaign = project
    held = stored_ratings(store, campaign)
    scores, every = scores_of_every_rating(store, campaign), stored_numbers(store, campaign)
    expected = scoreboard(
        campaign, scores, release=release, against=against, ceilings=every.ceilings, evidence=held.evidence
    )
    found = stored_board(store, campaign, release=release, against=against)
    assert replace(found.board, trend=()) == replace(expected, trend=())
    assert StoredResults(store, campaign).trend() == StoredTrend(
        points=expected.trend, ceiling=expected.total.ceiling_rating
    )
    assert found.decision == decide(campaign, expected)
    assert found.releases == tuple(scores)
    assert (dict(every.scores), dict(every.evidence)) == (scores, held.evidence)
    name = release or "B3"
    numbers = stored_numbers(store, campaign, release=release, against=against)
    assert numbers.matrix(campaign, releases=[name], against=against) == release_matrix(
        campaign,
        scores,
        evidence=held.evidence,
        ceilings=every.ceilings,
        releases=[name],
        against=against,
    )


def test_numbers_follow_what_is_saved(project: tuple[Store, Campaign]) -> None:
    """After another rating, other evidence and other weights nothing of before is shown."""
    store, campaign = project
    assert stored_numbers(store, campaign).scores == scores_of_every_rating(store, campaign)
    one = next(record for record in store.ratings(campaign=TITLE) if record.release == "B2")
    run = RunInfo(who="again", started=STARTED)
    store.keep([replace(one, key="another", overall=one.overall / 2)], run=run)
    assert stored_numbers(store, campaign).scores == scores_of_every_rating(store, campaign)
    store.save_evidence([evidence("B2", "case-2", without="R0")])
    found = stored_numbers(store, campaign)
    assert found.scores == scores_of_every_rating(store, campaign)
    assert found.evidence == stored_ratings(store, campaign).evidence
    campaign.path.write_text(
        campaign.path.read_text(encoding="utf-8").replace('region = "leg"', 'region = "leg"\nweight = 3'),
        encoding="utf-8",
    )
    changed = load_campaign(campaign.folder)
    assert stored_numbers(store, changed).scores == scores_of_every_rating(store, changed)


def test_releases_that_are_not_rated_are_refused(project: tuple[Store, Campaign]) -> None:
    """By name, although only what is wanted was read."""
    store, campaign = project
    with pytest.raises(SettingsError, match="no release 'B9'"):
        stored_board(store, campaign, release="B9")
    with pytest.raises(SettingsError, match="no release 'B9'"):
        stored_board(store, campaign, against="B9")
    with pytest.raises(SettingsError, match="cannot be compared with itself"):
        stored_board(store, campaign, release="B1", against="B1")


def test_a_release_without_a_pair_that_counts_has_no_number(project: tuple[Store, Campaign]) -> None:
    """Its ratings stay, and it is neither on the board nor in the trend."""
    store, campaign = project
    nothing = [replace(evidence("B3", f"case-{number}"), channels=()) for number in range(CASES)]
    store.save_evidence(nothing)
    assert tuple(stored_numbers(store, campaign).scores) == ("B0", "B1", "B2")
    assert [one.release for one in StoredResults(store, campaign).trend().points] == ["B0", "B1", "B2"]
    assert stored_board(store, campaign).board.release == "B2"


def test_no_page_scans_the_ratings(project: tuple[Store, Campaign]) -> None:
    """Every query behind the board and the matrix searches by an index, as SQLite plans it."""
    store, campaign = project
    statements: list[tuple[str, Any]] = []
    note = lambda *call: statements.append((call[2], call[3]))  # noqa: E731
    event.listen(store._engine, "before_cursor_execute", note)
    stored_board(store, campaign)
    stored_numbers(store, campaign, release="B1")
    StoredResults(store, campaign).trend()
    event.remove(store._engine, "before_cursor_execute", note)
    asked = [one for one in statements if one[0].startswith("SELECT")]
    assert len(asked) > 5
    with reading(store._engine) as connection:
        for statement, parameters in asked:
            plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters).all()
            assert not [row[3] for row in plan if row[3].startswith("SCAN")], statement
