"""Cells of the matrix: their numbers are those of the scoreboard, and nothing unknown looks good."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import (
    CELL_STATES,
    SORTS,
    Finding,
    MatrixCell,
    ReleaseEvidence,
    ReleaseMatrix,
    Waiver,
    ceiling_scores,
    load_campaign,
    open_store,
    release_matrix,
    release_scores,
    scoreboard,
    stored_ratings,
)
from correlate.campaign import Change
from correlate.campaign.release_evidence import Gap
from correlate.errors import SettingsError
from correlate.evaluation.tables import Limits
from correlate.reference.finding import WaivedFinding
from tests.campaign.matrix_cells import PLAIN
from tests.dashboard.board_project import rating, write_board_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign, ReleaseScore, StoredRatings


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    """Write three releases of three load cases, the last held out; channel 3 gets worse."""
    return load_campaign(write_board_project(tmp_path_factory.mktemp("board")))


@pytest.fixture(scope="module")
def held(campaign: Campaign) -> tuple[StoredRatings, ReleaseScore | None]:
    """Return ratings with their evidence, and ceilings."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        hardware = ceiling_scores(campaign, store.ceilings(campaign.title))
        return stored_ratings(store, campaign), hardware


@pytest.fixture(scope="module")
def matrix(campaign: Campaign, held: tuple[StoredRatings, ReleaseScore | None]) -> ReleaseMatrix:
    """Return the cells of all three releases."""
    stored, ceilings = held
    scores = release_scores(campaign, stored.pairs)
    return release_matrix(campaign, scores, evidence=stored.evidence, ceilings=ceilings)


def cell(name: str, **changes: object) -> MatrixCell:
    """Return a rated cell with a ceiling and no change."""
    plain = replace(PLAIN, channel=name, words=name)
    return replace(plain, **changes)  # type: ignore[arg-type]


def change(before: float | None, after: float | None) -> Change:
    """Return the change of a channel that was rated against one repeat."""
    return Change(
        kind="channel", place=("drop",), words="", before=before, after=after, estimate=None, held_out=False
    )


def of(*cells: MatrixCell) -> ReleaseMatrix:
    """Return a matrix of one release."""
    return ReleaseMatrix(releases=("A2",), against={"A2": "A1"}, cells=cells)


def names(matrix: ReleaseMatrix, **asked: str) -> list[str]:
    """Return the channels of the selected cells, in order."""
    return [one.channel for one in matrix.select("A2", **asked)]


def test_every_number_is_that_of_the_scoreboard(
    campaign: Campaign, held: tuple[StoredRatings, ReleaseScore | None], matrix: ReleaseMatrix
) -> None:
    """Ratings, changes and verdicts have the same bits, for every release against the one before."""
    stored, ceilings = held
    scores = release_scores(campaign, stored.pairs)
    for name in ("B1", "B2"):
        board = scoreboard(campaign, scores, release=name, ceilings=ceilings, evidence=stored.evidence)
        moved = {(one.place[0], one.place[-1]): one for one in board.moved}
        cells = matrix.of_release(name)
        assert {(one.load_case, one.channel) for one in cells if one.moved} == set(moved)
        assert sum(one.moved == "worse" for one in cells) == len(board.worse)
        for one in cells:
            if one.moved:
                assert one.change == moved[one.load_case, one.channel]
            assert one.change is not None
            assert one.rating == one.change.after
        tree = scores[name]
        assert tree.held_out is not None
        leaves = [
            leaf
            for half in (tree.training, tree.held_out)
            for case in half.parts
            for region in case.parts
            for part in region.parts
            for leaf in (part.parts or (part,))
        ]
        assert [(one.channel, one.rating, one.grade) for one in cells] == [
            (leaf.name, leaf.overall, leaf.grade) for leaf in leaves
        ]


def test_a_cell_has_the_numbers_of_the_rule(
    campaign: Campaign, held: tuple[StoredRatings, ReleaseScore | None]
) -> None:
    """Rating, change, ceiling and points lost of one channel, by hand."""
    scores = release_scores(campaign, held[0].pairs)
    matrix = release_matrix(campaign, scores, evidence={}, ceilings=held[1])
    found = matrix.by_place["B2", "case-1", "c3"]
    by_hand = sum(rating(2, 1, 3, repeat) for repeat in range(3)) / 3
    assert found.rating == pytest.approx(by_hand)
    assert found.ceiling == pytest.approx(0.95)
    assert found.lost == pytest.approx(0.95 - by_hand)
    assert found.change is not None
    assert found.change.difference == pytest.approx(-0.05)
    assert (found.moved, found.region, found.words) == ("worse", "lumbar", "channel 3")
    assert matrix.by_place["B2", "case-2", "c3"].held_out


def test_each_release_stands_against_the_rated_one_before(matrix: ReleaseMatrix) -> None:
    """The first has no change; a baseline that is named is that of all."""
    assert matrix.against == {"B0": None, "B1": "B0", "B2": "B1"}
    assert all(one.change is None for one in matrix.of_release("B0"))
    assert (matrix.regions[0], len(matrix.regions)) == ("head", 3)
    assert matrix.load_cases == ("case-0", "case-1", "case-2")


def test_a_named_baseline_is_that_of_every_release(
    campaign: Campaign, held: tuple[StoredRatings, ReleaseScore | None]
) -> None:
    """Two steps of 0.05 are 0.1; without ceilings nothing is known to be lost beyond scatter."""
    scores = release_scores(campaign, held[0].pairs)
    found = release_matrix(campaign, scores, evidence={}, releases=["B2"], against="B0")
    one = found.by_place["B2", "case-0", "c3"]
    assert one.change is not None
    assert one.change.difference == pytest.approx(-0.1)
    assert (one.ceiling, one.lost) == (None, None)
    assert one.state == "stale"  # nothing is known of the files behind it
    every = release_matrix(campaign, scores, evidence={}, against="B1")
    assert every.against == {"B0": "B1", "B1": None, "B2": "B1"}
    assert all(one.change is None for one in every.of_release("B1"))
    with pytest.raises(SettingsError, match=r"there is no release 'B9'"):
        release_matrix(campaign, scores, evidence={}, releases=["B9"])
    with pytest.raises(SettingsError, match=r"there is no release 'B8'"):
        release_matrix(campaign, scores, evidence={}, against="B8")


def test_states_say_what_speaks_against_a_number(
    campaign: Campaign, held: tuple[StoredRatings, ReleaseScore | None]
) -> None:
    """Gaps and findings mark the cells of their channel, or of the whole load case, and no other."""

    def finding(channel: str, severity: str = "warning") -> Finding:
        words = {"kind": "spike", "severity": severity, "file": "tests/R1", "what": "a spike", "remedy": ""}
        return Finding(channel=channel, **words)  # type: ignore[arg-type]

    waiver = Waiver.model_validate(
        {
            "test": "R1",
            "channel": "c2",
            "finding": "spike",
            "who": "lab",
            "date": "2026-01-02",
            "why": "known",
        }
    )
    evidence = ReleaseEvidence(
        release="B2",
        cases=(),
        gaps=(
            Gap(kind="repeat missing", load_case="case-0", channel="c1", repeat="R2", reason="no file"),
            Gap(kind="data error", load_case="case-0", channel="c1", reason="gain: too small"),
            Gap(kind="stale", load_case="case-1", reason="files differ"),
        ),
        waived_in={"case-0": (WaivedFinding(finding("c2"), waiver),)},
        findings_in={"case-0": (finding("c3"), finding("c4", "note")), "case-2": (finding(""),)},
        limits=Limits(),
    )
    scores = release_scores(campaign, held[0].pairs)
    found = release_matrix(campaign, scores, evidence={"B2": evidence}, releases=["B2"])
    said = {one.channel: one.states for one in found.cells if one.load_case == "case-0"}
    assert dict(said["c1"]) == {"data error": ("gain: too small",), "repeats missing": ("R2: no file",)}
    assert said["c2"]["waived finding"] == ("spike: waived by lab on 2026-01-02: known",)
    assert said["c3"] == {"data finding": ("spike: a spike",)}
    assert said["c0"] == said["c4"] == {"rated": ()}
    assert {one.state for one in found.cells if one.load_case == "case-1"} == {"stale"}
    assert {one.state for one in found.cells if one.load_case == "case-2"} == {"data finding"}


def test_a_channel_without_a_rating_is_not_rated(tmp_path: Path) -> None:
    """A channel of the campaign of which nothing is saved has a cell that says so, and no number."""
    folder = write_board_project(tmp_path, releases=2, load_cases=1, channels=2)
    file = folder / "campaign.toml"
    more = '[[load_case.channel]]\ntest = "new"\nregion = "head"\n[[release]]\nname = "B0"'
    text = file.read_text(encoding="utf-8").replace('[[release]]\nname = "B0"', more)
    file.write_text(text, encoding="utf-8")
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        scores = release_scores(campaign, stored_ratings(store, campaign).pairs)
    found = release_matrix(campaign, scores, evidence={})
    new = found.by_place["B1", "case-0", "new"]
    assert (new.rating, new.grade, new.lost, new.moved) == (None, None, None, "")
    assert list(new.states) == ["not rated", "stale"]
    assert found.select("B1")[0] == new
    assert found.to_frame()["rating"].isna().sum() == 2


def test_findings_in_an_axis_are_findings_in_the_resultant(tmp_path: Path) -> None:
    """An error in one axis marks the resultant; a repeat that an axis lacks does not."""
    folder = write_board_project(tmp_path, releases=1, load_cases=1, channels=3)
    file = folder / "campaign.toml"
    more = (
        '[[load_case.resultant]]\ntitle = "all"\naxes = ["c0", "c1", "c2"]\nregion = "head"\n'
        '[[release]]\nname = "B0"'
    )
    text = file.read_text(encoding="utf-8").replace('[[release]]\nname = "B0"', more)
    file.write_text(text, encoding="utf-8")
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        scores = release_scores(campaign, store.rated_pairs(campaign.title))
    gaps = (
        Gap(kind="data error", load_case="case-0", channel="c1", reason="gain"),
        Gap(kind="repeat missing", load_case="case-0", channel="c2", repeat="R2", reason="no file"),
    )
    evidence = ReleaseEvidence(
        release="B0", cases=(), gaps=gaps, waived_in={}, findings_in={}, limits=Limits()
    )
    found = release_matrix(campaign, scores, evidence={"B0": evidence})
    assert list(found.by_place["B0", "case-0", "all"].states) == ["not rated", "data error"]


def test_points_lost_are_never_negative_and_unknown_without_a_ceiling() -> None:
    """A model above the ceiling loses nothing; without ceiling or rating the loss is not known."""
    assert cell("a", rating=0.99).lost == 0.0
    assert cell("a").lost == pytest.approx(0.15)
    assert cell("a", ceiling=None).lost is None
    assert cell("a", rating=None).lost is None


def test_a_ceiling_of_faulty_tests_hides_no_loss() -> None:
    """A faulty repeat lowers the ceiling: the loss is not known, and is not sorted to the end."""
    faulty = cell("faulty", rating=0.6, ceiling=0.5, states={"data error": ("polarity",)})
    assert faulty.lost is None
    matrix = of(cell("a", rating=0.7), faulty, cell("waived", ceiling=0.5, states={"waived finding": ()}))
    assert names(matrix) == ["faulty", "a", "waived"]
    assert matrix.worst("A2") == matrix.cells[0]
    assert of(faulty).worst("A2") is None


def test_orders_put_what_is_worst_first() -> None:
    """By hand: what is unknown counts as the worst it could be, in every order of numbers."""
    matrix = of(
        cell("little", rating=0.93, change=change(0.9, 0.93)),
        cell("much", rating=0.5, change=change(0.6, 0.5), region="neck"),
        cell("gone", rating=None, change=change(0.7, None), states={"not rated": ("no file",)}),
        cell("new", rating=0.7, change=change(None, 0.7)),
        cell("no ceiling", rating=0.6, ceiling=None, change=change(0.6, 0.6)),
    )
    assert names(matrix) == ["gone", "much", "no ceiling", "new", "little"]
    assert names(matrix, sort="rating") == ["gone", "much", "no ceiling", "new", "little"]
    assert names(matrix, sort="change") == ["gone", "much", "no ceiling", "little", "new"]
    assert names(matrix, sort="name") == ["gone", "little", "new", "no ceiling", "much"]


def test_filters_keep_region_load_case_and_state() -> None:
    """Each alone and together; a cell is kept for any of its states."""
    matrix = of(
        cell("a", states={"stale": ("files differ",), "data finding": ("spike",)}),
        cell("b", region="neck"),
        cell("c", load_case="sled", states={"stale": ("files differ",)}),
    )
    assert names(matrix, region="head") == ["a", "c"]
    assert names(matrix, load_case="drop") == ["a", "b"]
    assert names(matrix, state="data finding") == ["a"]
    assert names(matrix, state="stale", load_case="sled") == ["c"]
    assert names(matrix, state="waived finding") == []


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"sort": "size"}, r"there is no order 'size'.*lost, change, rating, name"),
        ({"region": "knee"}, r"there is no region 'knee'.*choose head"),
        ({"load_case": "sled"}, r"there is no load case 'sled'.*choose drop"),
        ({"state": "fine"}, r"there is no state 'fine'.*not rated, data error"),
    ],
)
def test_an_unknown_name_is_refused_with_those_there_are(asked: dict[str, str], said: str) -> None:
    """Order, region, load case and state."""
    with pytest.raises(SettingsError, match=said):
        of(cell("a")).select("A2", **asked)


NUMBERS = st.none() | st.floats(0, 1)
CELLS = st.lists(
    st.builds(
        lambda rated, ceiling, before, state: cell(
            "x", rating=rated, ceiling=ceiling, change=change(before, rated), states={state: ()}
        ),
        NUMBERS,
        NUMBERS,
        NUMBERS,
        st.sampled_from(CELL_STATES),
    ),
    max_size=12,
)


@given(cells=CELLS, sort=st.sampled_from(SORTS))
def test_an_order_loses_no_cell_and_puts_no_loss_behind_a_smaller_one(
    cells: list[MatrixCell], sort: str
) -> None:
    """Whatever is known, sorting is a permutation, and known losses fall."""
    found = of(*cells).select("A2", sort=sort)
    assert sorted(map(id, found)) == sorted(map(id, cells))
    if sort == "lost":
        lost = [one.lost for one in found if one.lost is not None]
        assert lost == sorted(lost, reverse=True)
