"""What follows from a scoreboard: the verdict, and every objection to a release."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import ceiling_scores, decide, load_campaign, open_store, release_scores, scoreboard
from correlate.campaign import Change, Check, Decision
from correlate.campaign.release_evidence import Gap, ReleaseEvidence
from correlate.evaluation.tables import Limits
from correlate.reference.finding import Finding
from correlate.statistics import Estimate
from tests.dashboard.board_project import rating, write_board_project

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from correlate import Campaign, Objection, ReleaseScore


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    """Write three releases of three load cases, the last held out; channel 3 gets worse."""
    return load_campaign(write_board_project(tmp_path_factory.mktemp("board")))


@pytest.fixture(scope="module")
def scores(campaign: Campaign) -> dict[str, ReleaseScore]:
    """Return the numbers of its releases."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        return release_scores(campaign, store.rated_pairs(campaign.title))


def evidence(
    release: str, *gaps: Gap, findings: Mapping[str, tuple[Finding, ...]] | None = None
) -> ReleaseEvidence:
    """Return the evidence of a release with these gaps."""
    limits = Limits(least=0.6, largest_loss=0.02)
    return ReleaseEvidence(
        release=release,
        cases=(),
        gaps=gaps,
        waived_in={},
        findings_in=findings or {},
        limits=limits,
    )


def decided(
    campaign: Campaign,
    scores: dict[str, ReleaseScore],
    release: str,
    *gaps: Gap,
    limits: Limits | None = None,
    findings: Mapping[str, tuple[Finding, ...]] | None = None,
) -> Decision:
    """Decide about a release whose evidence has these gaps; the release before it lacks nothing."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        hardware = ceiling_scores(campaign, store.ceilings(campaign.title))
    held = {name: evidence(name) for name in scores} | {release: evidence(release, *gaps, findings=findings)}
    board = scoreboard(campaign, scores, release=release, ceilings=hardware, evidence=held, limits=limits)
    return decide(campaign, board)


def at(found: Decision, *place: str) -> Objection:
    """Return the objections to a place."""
    (one,) = [objection for objection in found.objections if objection.place == place]
    return one


def test_missed_limits_are_counted_and_compared(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """Channel 3 loses 0.05, alone in its region; two other regions gain 0.02: 0.01 is lost over three."""
    found = decided(campaign, scores, "B2")
    assert found.verdict == f"B2 misses 4 of {len(found.limits)} limits; worse than B1"
    lost = {f"case-{case} / lumbar / c3" for case in (0, 1)} | {"case-2 / lumbar / c3 (held out)"}
    assert {check.where for check in found.unmet} == {"regions / lumbar", *lost}
    assert found.is_proven


def test_a_channel_that_is_poor_and_misses_a_limit_is_one_line(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """Both reasons, its rating, and where it is; the region has no load case."""
    found = decided(campaign, scores, "B2")
    one = at(found, "case-0", "c3")
    by_hand = sum(rating(2, 0, 3, repeat) for repeat in range(3)) / 3
    assert one.kinds == ("limit", "poor")
    assert one.rating == pytest.approx(by_hand)
    assert one.reasons[0].startswith("no loss above 0.02 against B1: ")
    assert one.reasons[1:] == ("poor, below 0.58",)
    assert (one.load_case, one.channel) == ("case-0", "c3")
    assert (one.where, one.within) == ("channel 3", "Load case 0 <i>")
    assert one.words.startswith(f"channel 3, Load case 0 <i>, {by_hand:.3f}: no loss above 0.02")
    region = at(found, "regions", "lumbar")
    assert (region.load_case, region.channel, region.kinds) == ("", "", ("limit",))


def test_the_lowest_channel_is_known_even_where_none_is_poor(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """In B0 all are fair, and the first channel of the first load case is the lowest."""
    found = decided(campaign, scores, "B0")
    assert found.poor == ()
    assert found.lowest is not None
    assert (found.lowest.place, found.lowest.grade) == (("case-0", "c0"), "fair")
    assert found.lowest.rating == pytest.approx(sum(rating(0, 0, 0, n) for n in range(3)) / 3)
    assert decided(campaign, scores, "B2").lowest == replace(
        found.lowest,
        place=("case-0", "c3"),
        where="channel 3",
        grade="poor",
        rating=at(decided(campaign, scores, "B2"), "case-0", "c3").rating,
    )


def test_a_held_out_load_case_has_rating_and_ceiling(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """In one line, together with the limits that it misses."""
    one = at(decided(campaign, scores, "B1"), "case-2")
    assert one.kinds == ("held out",)
    assert one.held_out
    assert one.reasons == ("fair; the tests agree with each other to 0.950",)
    assert one.rating is not None


def test_no_held_out_load_case_is_said(tmp_path: Path) -> None:
    """Without one there is no independent evidence."""
    campaign = load_campaign(write_board_project(tmp_path, releases=1, load_cases=1))
    with open_store(tmp_path / "ratings.sqlite") as store:
        found = decided(campaign, release_scores(campaign, store.rated_pairs(campaign.title)), "B0")
    (one,) = [objection for objection in found.objections if "held out" in objection.kinds]
    assert "no independent evidence" in one.words


def test_the_first_release_says_what_cannot_be_checked(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """Nothing is claimed of a loss: there is nothing to compare with."""
    found = decided(campaign, scores, "B0")
    assert found.verdict == "B0 meets the 2 limits that can be checked; no earlier release to compare with"
    assert found.objections[0].words == "B0: no loss above 0.02 cannot be checked without an earlier release"


def test_without_limits_nothing_is_met(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """No limit is invented."""
    found = decided(campaign, scores, "B2", limits=Limits())
    assert found.verdict == "B2 is not judged, because no limits are set; worse than B1"
    assert any("no limits are set" in one.words for one in found.objections)


STALE = [Gap(kind="stale", load_case=f"case-{case}", reason="files differ") for case in range(3)]


def test_stale_load_cases_of_one_reason_are_one_line(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """One load case is named, several are counted."""
    found = decided(campaign, scores, "B1", *STALE)
    assert found.objections[0].words == "B1, 3 load cases: stale: files differ"
    assert found.objections[0].kinds == ("evidence",)
    one = at(decided(campaign, scores, "B1", STALE[0]), "case-0")
    assert one.reasons == ("stale: files differ",)


def test_what_is_missing_is_named_by_its_place(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """A channel without a rating leads to that channel; several of one cause are counted in one line."""
    gaps = [
        Gap(kind="channel not rated", load_case="case-0", channel="c1", reason="no partner"),
        *(
            Gap(kind="repeat missing", load_case="case-1", channel=name, repeat="R2", reason="no file")
            for name in ("c1", "c2")
        ),
        Gap(kind="data error", load_case="case-1", channel="c4", repeat="R1", reason="spike: at 3 ms"),
    ]
    found = decided(campaign, scores, "B1", *gaps)
    assert at(found, "case-0", "c1").reasons == ("channel not rated: no partner",)
    assert at(found, "case-1").reasons == ("repeat missing (2 channels / R2): no file",)
    assert at(found, "case-1", "c4").reasons == ("data error (c4 / R1): spike: at 3 ms",)
    assert at(found, "case-1", "c4").kinds == ("data",)


def test_open_findings_are_against_it(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """Each with its severity; they are no unmet check."""
    finding = Finding(
        kind="drift",
        severity="warning",
        file="R1.csv",
        channel="c1",
        what="the curve drifts",
        remedy="look at it",
    )
    found = decided(campaign, scores, "B1", findings={"case-0": (finding,)})
    (one,) = [objection for objection in found.objections if "data" in objection.kinds]
    assert "warning of the data check, drift: the curve drifts" in one.words
    assert (one.load_case, one.channel) == ("case-0", "c1")
    assert found.is_proven


def test_evidence_that_is_not_recorded_is_missing(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """A board that was made without evidence judges nothing."""
    found = decide(campaign, scoreboard(campaign, scores, release="B1"))
    assert not found.is_proven
    assert "nothing is recorded of it; rate the release again" in found.objections[0].words


GAPS = st.builds(
    Gap,
    kind=st.sampled_from(["channel not rated", "repeat missing", "stale", "data error"]),
    load_case=st.sampled_from(["case-0", "case-1", "case-2"]),
    channel=st.sampled_from(["", "c1", "c3"]),
    repeat=st.sampled_from(["", "R1"]),
    reason=st.sampled_from(["one reason", "another reason"]),
    held_out=st.booleans(),
)


@settings(max_examples=30, deadline=None)
@given(
    gaps=st.lists(GAPS, max_size=4),
    release=st.sampled_from(["B0", "B1", "B2"]),
    limits=st.builds(
        Limits,
        least=st.one_of(st.none(), st.floats(0.5, 0.9)),
        largest_loss=st.one_of(st.none(), st.floats(0.0, 0.1)),
    ),
)
def test_nothing_that_is_open_is_left_out_or_said_twice(
    campaign: Campaign,
    scores: dict[str, ReleaseScore],
    gaps: list[Gap],
    release: str,
    limits: Limits,
) -> None:
    """Every unmet check and every gap has its line; no place has two; a good verdict needs all of it met."""
    limits = limits if release != "B0" else limits.model_copy(update={"largest_loss": None})
    found = decided(campaign, scores, release, *gaps, limits=limits)
    reasons = [reason for one in found.objections for reason in one.reasons]
    for check in found.unmet:
        assert f"{check.condition}: {check.reason}" in reasons
    for gap in gaps:
        assert any(gap.reason in reason for reason in reasons)
    lines = [(one.place, one.held_out, one.where) for one in found.objections]
    assert len(lines) == len(set(lines))
    places = [(one.place, one.held_out) for one in found.objections if one.place]
    assert len(places) == len(set(places))
    assert ("meets" in found.verdict) == (not found.unmet and not gaps and bool(found.limits))


CHECKS = st.builds(
    Check,
    where=st.just("somewhere"),
    condition=st.just("something"),
    reasons=st.sampled_from([(), (), ("not so",)]),
    kind=st.sampled_from(["evidence", "limit"]),
)


@given(checks=st.lists(CHECKS, max_size=6), is_rated=st.booleans())
def test_a_verdict_is_never_better_than_its_checks(checks: list[Check], *, is_rated: bool) -> None:
    """It says "meets" only where every check is met and there is a limit; else it counts or says why."""
    found = Decision(
        release="B1",
        against=None,
        is_rated=is_rated,
        limits=tuple(check for check in checks if check.kind == "limit"),
        evidence=tuple(check for check in checks if check.kind == "evidence"),
        change=None,
        held_out_change=None,
        objections=(),
    )
    unmet = [check for check in checks if check.reason]
    assert ("meets" in found.verdict) == (is_rated and not unmet and bool(found.limits))
    if is_rated and found.unmet:
        assert f"misses {len(found.unmet)} of {len(found.limits)} limit" in found.verdict
    if is_rated and not found.is_proven:
        assert "evidence" in found.verdict


def changed(difference: float, scatter: float) -> Change:
    """Return a change of the release with a half width of its interval."""
    return Change(
        kind="release",
        place=(),
        words="release",
        before=0.7,
        after=0.7 + difference,
        estimate=Estimate(value=difference, standard_error=scatter, degrees=8, count=9),
        held_out=False,
    )


@pytest.mark.parametrize(
    ("tuned", "held_out", "words"),
    [
        (0.1, 0.1, "better than B0"),
        (0.1, -0.1, "better than B0, but worse on held-out load cases"),
        (0.1, 0.001, "better than B0, not distinguishable on held-out load cases"),
        (0.001, 0.1, "not distinguishable from B0, better on held-out load cases"),
        (-0.1, -0.1, "worse than B0"),
    ],
)
def test_a_release_is_better_only_as_far_as_it_is(
    campaign: Campaign, scores: dict[str, ReleaseScore], tuned: float, held_out: float, words: str
) -> None:
    """The held-out load cases are named where they say something else."""
    found = decided(campaign, scores, "B1")
    held = replace(found, change=changed(tuned, 0.01), held_out_change=changed(held_out, 0.01))
    assert held.comparison == words
    alone = replace(held.change, estimate=None) if held.change else None
    assert replace(held, change=alone, held_out_change=None).comparison == "not distinguishable from B0"
