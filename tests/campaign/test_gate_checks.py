"""Single checks of the gate on evidence that is written down, and verdicts of single changes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.campaign import Change, gate
from correlate.campaign.aggregation import ReleaseScore, Score
from correlate.campaign.gate import gap_lines
from correlate.campaign.release_evidence import (
    Gap,
    GapKind,
    ReleaseEvidence,
    _gaps_of_channel,
    findings_of_plain,
)
from correlate.campaign.scoring import _bundles
from correlate.evaluation.evidence import ChannelEvidence
from correlate.evaluation.tables import Limits, LoadCase
from correlate.reference.finding import Finding


def gap(kind: GapKind, channel: str = "", repeat: str = "", **more: str | bool) -> Gap:
    """Return a gap of the load case push."""
    given: dict[str, object] = {"load_case": "push", "reason": "why", **more}
    return Gap(kind=kind, channel=channel, repeat=repeat, **given)  # type: ignore[arg-type]


def evidence(*gaps: Gap) -> ReleaseEvidence:
    """Return the evidence of a release with these gaps."""
    return ReleaseEvidence(release="B1", cases=(), gaps=gaps, waived_in={}, findings_in={}, limits=Limits())


def release() -> ReleaseScore:
    """Return a release that is rated 0.9."""
    total = Score(kind="release", name="training", words="training", overall=0.9, rated=1, expected=1)
    return ReleaseScore(release="B1", training=total, held_out=None, regions=())


def failed(*gaps: Gap, allowed: tuple[str, ...] = ()) -> list[str]:
    """Return the checks that fail."""
    checks = gate(release(), evidence=[evidence(*gaps)], allowed=allowed)
    return [one.name.removeprefix("B1: ") for one in checks if not one.is_passed]


@pytest.mark.parametrize(
    ("found", "name"),
    [
        (gap("channel not rated", "force"), "every channel is rated"),
        (gap("repeat missing", "force", "R2"), "every repeat is rated"),
        (gap("channel not rated", "force", held_out=True), "held-out load cases are complete"),
        (gap("repeat missing", "force", "R2", held_out=True), "held-out load cases are complete"),
        (gap("stale"), "ratings are of the present files"),
        (gap("stale", held_out=True), "ratings are of the present files"),
        (gap("data error", "force"), "reference data: no open error"),
    ],
)
def test_each_gap_fails_one_check(found: Gap, name: str) -> None:
    """The one that is about it, and no other."""
    assert failed(found) == [name]
    assert failed() == []


@pytest.mark.parametrize(
    ("allowed", "name"),
    [
        ("push", []),
        ("push/force", []),
        ("push/R2", []),
        ("push/force/R2", []),
        ("pull", ["every repeat is rated"]),
    ],
)
def test_what_is_allowed_to_be_missing(allowed: str, name: list[str]) -> None:
    """By load case, channel, repeat, or all three; another name helps nothing and is said to be unneeded."""
    missing = gap("repeat missing", "force", "R2")
    assert failed(missing, allowed=(allowed,)) == name
    checks = gate(release(), evidence=[evidence(missing)], allowed=(allowed,))
    unneeded = [one.name for one in checks if one.name.startswith("allowed")]
    assert unneeded == ([f"allowed: {allowed}"] if name else [])


def test_several_allowances_are_all_used() -> None:
    """One for a channel, one for a repeat: neither is called unneeded."""
    missing = (gap("channel not rated", "force"), gap("repeat missing", "head", "R2"))
    checks = gate(release(), evidence=[evidence(*missing)], allowed=("push/force", "push/R2"))
    assert [one.name for one in checks if one.name.startswith("allowed") or not one.is_passed] == []
    assert [one.waived for one in checks if one.waived] == ["push / force: why", "push / head / R2: why"]


def test_stale_ratings_cannot_be_allowed() -> None:
    """Nor can errors of the data."""
    assert failed(gap("stale"), allowed=("push",)) == ["ratings are of the present files"]
    assert failed(gap("data error"), allowed=("push",)) == ["reference data: no open error"]


def test_gaps_of_one_reason_are_one_line() -> None:
    """One channel or repeat is named, more are counted; another reason is another line."""
    gaps = [
        gap("repeat missing", "force", "R1"),
        gap("repeat missing", "force", "R2"),
        gap("repeat missing", "head", "R2", reason="other"),
        gap("repeat missing", "neck", "R2", reason="other"),
        gap("stale", reason="old"),
    ]
    assert gap_lines(gaps) == ("push / force / 2 repeats: why", "push / 2 channels / R2: other", "push: old")
    assert gap_lines([]) == ()


def test_gaps_of_a_kind_and_of_load_cases() -> None:
    """All load cases where none is named."""
    found = evidence(gap("stale"), gap("stale", load_case="pull"), gap("data error"))
    assert [one.load_case for one in found.of("stale")] == ["push", "pull"]
    assert [one.load_case for one in found.of("stale", ["pull"])] == ["pull"]
    assert found.of("stale", []) == ()


def channel_gaps(
    *,
    expected: int,
    rated: tuple[str, ...],
    missing: dict[str, str] | None = None,
    before: set[str] | None = None,
) -> list[tuple[str, str, str]]:
    """Return kind, repeat and reason of what a channel of the load case push lacks."""
    case = LoadCase.model_validate(
        {
            "name": "push",
            "tests": ["t"],
            "interval_ms": [0, 50],
            "channel": [{"test": "force", "region": "neck"}],
        }
    )
    channel = ChannelEvidence(
        channel="force", expected=expected, found=rated, rated=rated, missing=missing or {}, pairs=rated
    )
    return [(one.kind, one.repeat, one.reason) for one in _gaps_of_channel(case, channel, before or set())]


def test_repeats_that_a_channel_lacks() -> None:
    """Those with a reason, those rated before, and those that are expected beyond the named ones."""
    assert channel_gaps(expected=2, rated=("R1", "R2")) == []
    assert channel_gaps(expected=1, rated=("R1", "R2")) == []
    assert channel_gaps(expected=2, rated=("R1",), missing={"R2": "it is cut"}) == [
        ("repeat missing", "R2", "it is cut")
    ]
    assert channel_gaps(expected=3, rated=("R1", "R2")) == [
        ("repeat missing", "", "3 tests are expected, 2 are named")
    ]
    assert channel_gaps(expected=1, rated=("R1",), before={"R1", "R9", "mean of 2"}) == [
        ("repeat missing", "R9", "it was rated before, but the campaign no longer names it")
    ]


def test_a_channel_without_any_rated_repeat() -> None:
    """Each reason once, or that there is no repeat."""
    assert channel_gaps(expected=3, rated=(), missing={"R1": "cut", "R2": "cut", "R3": "lost"}) == [
        ("channel not rated", "", "cut; lost")
    ]
    assert channel_gaps(expected=3, rated=()) == [("channel not rated", "", "there is no repeat")]


def test_marks_beside_a_number() -> None:
    """Those of its load cases and of its channel; what concerns a whole load case concerns each channel."""
    found = evidence(
        gap("channel not rated", "force"),
        gap("channel not rated", "head"),
        gap("repeat missing", "force", "R2"),
        gap("data error", "force"),
        gap("stale", load_case="pull"),
    )
    assert found.marks() == ("stale", "2 channels not rated", "1 repeat missing", "1 data error")
    assert found.marks(["push"]) == ("2 channels not rated", "1 repeat missing", "1 data error")
    assert found.marks(["push"], "head") == ("not rated",)
    assert found.marks(["push"], "force") == ("not rated", "1 repeat missing", "1 data error")
    assert found.marks(["pull"], "force") == ("stale",)
    assert found.marks(["push"], "neck") == ()
    assert found.marks([]) == ()


def test_findings_are_read_as_they_were_written() -> None:
    """Kind, severity, place, words and remedy."""
    finding = Finding(
        kind="spike", severity="note", file="t1", channel="force", what="one spike", remedy="look at it"
    )
    row = {
        "kind": "spike",
        "severity": "note",
        "file": "t1",
        "channel": "force",
        "what": "one spike",
        "remedy": "look at it",
    }
    read = findings_of_plain("push", "abc", [row])
    assert (read.load_case, read.state, read.findings) == ("push", "abc", (finding,))


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        (None, None, "not rated"),
        (0.5, None, "rated in one release only"),
        (None, 0.5, "rated in one release only"),
        (0.5, 0.5, "not distinguishable: one repeat"),
    ],
)
def test_the_verdict_of_a_change_without_repeats(
    before: float | None, after: float | None, verdict: str
) -> None:
    """What is missing on one side or on both."""
    change = Change(
        kind="channel",
        place=("push", "a"),
        words="a",
        before=before,
        after=after,
        estimate=None,
        held_out=False,
    )
    assert change.verdict == verdict
    assert change.is_distinguishable is None


def test_tasks_of_a_scheduler_become_smaller_towards_the_end() -> None:
    """Half of the remaining blocks per worker, at least one block, at most eight, of one load case."""
    jobs = [("push", f"{number}") for number in range(40)] + [("pull", f"{number}") for number in range(3)]
    sizes = [len(bundle) for bundle in _bundles(jobs, 1)]
    # 43 // 2 is 21, of which 8 are allowed, as of 35 // 2, 27 // 2 and 19 // 2; then 11 // 2, 6 // 2, 3 // 2.
    assert sizes == [8, 8, 8, 8, 5, 3, 1, 1, 1]
    assert [len(bundle) for bundle in _bundles(jobs, 0)] == sizes
    assert [len(bundle) for bundle in _bundles(jobs, 5)][:2] == [4, 3]
    assert [job for bundle in _bundles(jobs, 2) for job in bundle] == jobs


def test_what_has_nothing_to_compare_with_counts_as_no_limit_met() -> None:
    """Of three channels one is rated in both, one in neither, one no longer: two limits, one unmet."""

    def total(name: str, rating: dict[str, float | None]) -> ReleaseScore:
        channels = tuple(
            Score(
                kind="channel", name=one, words=one, overall=value, rated=int(value is not None), expected=1
            )
            for one, value in rating.items()
        )
        one = Score(kind="load case", name="push", words="push", overall=0.9, rated=3, expected=3)
        case = replace(one, parts=channels)
        whole = replace(one, kind="release", name="training", parts=(case,))
        return ReleaseScore(release=name, training=whole, held_out=None, regions=())

    before = total("B0", {"force": 0.9, "moment": None, "travel": 0.9})
    after = total("B1", {"force": 0.9, "moment": None, "travel": None})
    checks = gate(after, baseline=before, largest_loss=0.02)
    of_channels = {one.place[-1]: one for one in checks if one.kind == "limit" and len(one.place) > 1}
    assert sorted(of_channels) == ["force", "travel"]
    assert of_channels["force"].is_passed
    assert of_channels["travel"].reason == "no longer rated, 0.900 before"


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["stale", "channel not rated", "repeat missing", "data error"]),
            st.sampled_from(["drop", "sled"]),
            st.sampled_from(["", "x", "y"]),
        ),
        max_size=12,
    ),
    st.none() | st.sets(st.sampled_from(["drop", "sled", "fall"])),
    st.sampled_from(["", "x", "y", "z"]),
)
def test_marks_count_the_gaps_behind_a_number(
    found: list[tuple[GapKind, str, str]], cases: set[str] | None, channel: str
) -> None:
    """Of these load cases, and of the channel or of all its load case; each kind in its own words."""
    gaps = [gap(kind, name, load_case=case) for kind, case, name in found]
    kinds: list[str] = [
        one.kind
        for one in gaps
        if (cases is None or one.load_case in cases) and (not channel or one.channel in {"", channel})
    ]
    unrated = kinds.count("channel not rated")
    words = "not rated" if channel else f"{unrated} channel{'' if unrated == 1 else 's'} not rated"
    expected = [
        *["stale"][: kinds.count("stale")],
        *[words][:unrated],
        *[
            f"{kinds.count(kind)} {noun}{'' if kinds.count(kind) == 1 else 's'}{ending}"
            for kind, noun, ending in (
                ("repeat missing", "repeat", " missing"),
                ("data error", "data error", ""),
            )
            if kind in kinds
        ],
    ]
    assert list(evidence(*gaps).marks(cases, channel)) == expected
