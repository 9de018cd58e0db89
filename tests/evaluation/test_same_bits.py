"""One number, one place: every way to a pair of the demo gives the same bits."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate import RunInfo, load_campaign, open_store, rate, release_scores, score_into, stored_ratings
from correlate.campaign.explanation import CaseExaminer
from correlate.cli.pairs import pair_of_campaign
from correlate.criteria import window_book
from correlate.diagnosis.suspects.case import open_case
from correlate.evaluation import CaseEvaluation, ChannelPlan
from correlate.report.release_contents import CaseNumbers, Yardsticks, case_part
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.selection import Address, selected
from dashboard.state import Project
from tests.docs.demo_project import copy_of, shared_demo

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from correlate import Campaign, Rating, Score
    from correlate.campaign import PairRecord, ReleaseScore

RELEASE = "A3"
Place = tuple[str, str, str]


class Scored:
    """The last release of the demo, rated and stored."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.campaign = load_campaign(folder)
        with open_store(folder / "bits.sqlite") as store:
            run = RunInfo.now(campaign_sha256=self.campaign.sha256)
            found = score_into(store, self.campaign, [RELEASE], run=run, workers=1)
            self.board = release_scores(self.campaign, stored_ratings(store, self.campaign).pairs)[RELEASE]
        self.records = {(one.load_case, one.channel, one.repeat): one for one in found.scores.records}
        self.evidence = found.evidence[RELEASE]


@pytest.fixture(scope="module", params=["each", "mean curve"])
def scored(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Scored:
    """Rate a copy of the demo under one setting."""
    folder = copy_of(shared_demo(tmp_path_factory), tmp_path_factory.mktemp("bits") / "demo")
    file = folder / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    assert 'repeats = "each"' in text
    file.write_text(text.replace('repeats = "each"', f'repeats = "{request.param}"'), encoding="utf-8")
    return Scored(folder)


def bits(rating: Rating | PairRecord) -> tuple[float, ...]:
    """Return the numbers of a rating."""
    return (
        rating.overall,
        rating.corridor,
        rating.phase,
        rating.magnitude,
        rating.slope,
        rating.shift_s,
    )


def channels_of(score: Score) -> Iterator[Score]:
    """Yield the channels under a number."""
    if score.kind == "channel":
        yield score
    for part in score.parts:
        yield from channels_of(part)


def of_board(board: ReleaseScore) -> dict[Place, float]:
    """Return what the scoreboard makes its numbers of."""
    halves = [board.training, *([board.held_out] if board.held_out is not None else [])]
    return {
        (case.name, channel.name, repeat): value
        for half in halves
        for case in half.parts
        for channel in channels_of(case)
        for repeat, value in channel.by_repeat.items()
    }


def test_every_pair_of_the_demo_is_rated(scored: Scored) -> None:
    """Every repeat of every channel and resultant, or the mean of each."""
    campaign = scored.campaign
    names = {(case.name, name) for case in campaign.load_cases for name in case.rated_names}
    assert {(case, channel) for case, channel, _ in scored.records} == names
    assert any("resultant" in channel for _, channel in names)
    assert not scored.evidence.gaps
    each = campaign.scoring.repeats == "each"
    assert len(scored.records) == (140 if each else len(names))


def test_the_scoreboard_is_made_of_the_stored_ratings(scored: Scored) -> None:
    """Channel by channel and repeat by repeat."""
    assert of_board(scored.board) == {place: one.overall for place, one in scored.records.items()}


def test_the_command_gives_the_same_bits(scored: Scored) -> None:
    """`correlate pair` by its options."""
    for (case, channel, repeat), record in scored.records.items():
        command = pair_of_campaign(scored.folder, RELEASE, case, channel, repeat)
        assert bits(command.rating) == bits(record)


def test_the_pair_page_shows_the_number_of_every_channel(scored: Scored) -> None:
    """Without a repeat in its address the mean, as scoreboard and store have it; with one, that rating."""
    campaign = scored.campaign
    project = Project(scored.folder, str(scored.folder / "bits.sqlite"))
    analysis = PairAnalysis(project)
    halves = [scored.board.training, scored.board.held_out]
    found = [(case.name, one) for half in halves if half for case in half.parts for one in channels_of(case)]
    assert len(found) == sum(len(case.rated_names) for case in campaign.load_cases)
    for case, channel in found:
        address = Address(release=RELEASE, case=case, channel=channel.name)
        selection = selected(campaign, address)
        shown = analysis.rated(campaign, selection)
        assert shown.rating.overall == channel.overall
        assert shown.rating.by_repeat == channel.by_repeat
        assert project.stored_channel(campaign, selection.pair) == channel.by_repeat
        for repeat, score in shown.scores.items():
            assert bits(score.rating) == bits(scored.records[case, channel.name, repeat])
        alone = analysis.rated(campaign, selected(campaign, replace(address, repeat=shown.typical)))
        assert alone.rating.overall == scored.records[case, channel.name, shown.typical].overall


def test_the_release_document_draws_rated_pairs(scored: Scored) -> None:
    """What is shown of each channel is the stored rating of that repeat."""
    campaign, release = scored.campaign, scored.campaign.release(RELEASE)
    by_place: dict[tuple[str, str], list[PairRecord]] = {}
    for (case, channel, _), record in scored.records.items():
        by_place.setdefault((case, channel), []).append(record)
    numbers = CaseNumbers(records=by_place, ceilings={}, changes={})
    nothing = Yardsticks(device=None, windows={}, book=window_book())
    for half in (scored.board.training, scored.board.held_out):
        assert half is not None
        for score in half.parts:
            part = case_part(campaign, release, score, numbers, nothing)
            for drawn in part.channels:
                assert drawn.shown is not None
                record = scored.records[score.name, drawn.score.name, drawn.repeat]
                assert bits(drawn.shown.rating) == bits(record)


def test_explanations_start_from_the_rated_pairs(scored: Scored) -> None:
    """The curves that are examined, and the pair that suspects are tried on, have the stored rating."""
    campaign, release = scored.campaign, scored.campaign.release(RELEASE)
    for case in campaign.load_cases:
        records = [one for one in scored.records.values() if one.load_case == case.name]
        examiner = CaseExaminer(campaign, case, release, records)
        for channel, pairs in examiner.pairs.items():
            for repeat, pair in pairs.items():
                record = scored.records[case.name, channel, repeat]
                assert bits(rate(pair, campaign.settings)) == bits(record)
        if campaign.scoring.repeats == "each":
            _compare_suspects(campaign, CaseEvaluation(campaign, case), scored)


def _compare_suspects(campaign: Campaign, case: CaseEvaluation, scored: Scored) -> None:
    """Hold the pair under suspicion against the stored rating, for the first repeat of each channel."""
    repeat = next(iter(case.paths))
    for name in case.channels:
        plan = case.load_case.rated(name)
        if isinstance(plan, ChannelPlan):
            test, model = case.recorded(campaign.release(RELEASE), plan, repeat)
            opened = open_case(test, model, case.recipe(name), campaign.settings, {})
            assert opened.rating == scored.records[case.load_case.name, name, repeat].overall
