"""Where a release loses its rating, in words: as the table of a person who acts on it says it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from correlate.campaign.explanation import ChannelCost, ChannelExplanation, LoadCaseExplanation
from correlate.diagnosis.clusters import Cluster, Member
from correlate.diagnosis.hints import Hint
from correlate.diagnosis.suspects import Suspect
from correlate.diagnosis.what_if import CurveChange
from correlate.plots.explanation_words import (
    NO_HINT,
    NO_SUSPECT,
    NO_SUSPECT_OF_RELEASE,
    change_words,
    cluster_words,
    finding_words,
    for_a_pair,
    hint_lines,
    hint_words,
    place_words,
    points,
    shown_hints,
    suspect_words,
)
from correlate.reference.scatter import HardwareScatter

if TYPE_CHECKING:
    from collections.abc import Mapping

SHARES = {
    "phase": {"corridor": 0.003, "phase": 0.018, "magnitude": 0.0, "slope": 0.0},
    "corridor": {"corridor": 0.018, "phase": 0.003, "magnitude": 0.0, "slope": 0.0},
    "magnitude": {"corridor": 0.0, "phase": 0.0, "magnitude": 0.021, "slope": 0.0},
}
BOUNDS = {"corridor": 0.02, "phase": 0.0006, "magnitude": 0.31, "slope": 0.1}


def three(model: Mapping[str, float]) -> HardwareScatter:
    """Return the scatter of three repeats, and the model's errors against their mean."""
    return HardwareScatter(repeats=3, rating=0.95, bounds=BOUNDS, model=model)


def channel(mostly: str, errors: Mapping[str, float], *, repeats: int = 3) -> ChannelExplanation:
    """Return a channel that costs 0.021 points."""
    cost = ChannelCost(
        load_case="neck-extension",
        channel="D0NECKUP00KMMOYP",
        words="neck moment",
        region="neck",
        weight=0.1,
        rating=0.79,
        cost=0.021,
        by_component=SHARES[mostly],
        errors=errors,
        repeats=3,
    )
    hardware = three(errors) if repeats == 3 else None
    return ChannelExplanation(cost=cost, repeat="R1", account=None, hardware=hardware, suspects=())


def test_a_late_model_beyond_the_scatter_of_the_hardware() -> None:
    """The delay, and how far a further repeat may be off."""
    late = channel("phase", {"phase": 0.004})
    assert finding_words(late) == ("mostly phase, model 4 ms late, beyond hardware scatter (up to 0.6 ms)")
    assert place_words(late.cost) == "neck-extension, neck moment"


def test_a_model_within_the_scatter_of_the_hardware() -> None:
    """An early model, no further off than one more repeat might be; sizes likewise."""
    early = channel("phase", {"phase": -0.0005})
    assert finding_words(early) == (
        "mostly phase, model 0.5 ms early, within hardware scatter (up to 0.6 ms)"
    )
    small = channel("magnitude", {"phase": 0.0, "magnitude": 0.234})
    assert finding_words(small) == (
        "mostly magnitude, model 23 % too large, within hardware scatter (up to 31 %)"
    )


def test_a_delay_is_told_beside_the_component_that_costs_most() -> None:
    """A corridor score suffers from a delay too."""
    words = finding_words(channel("corridor", {"corridor": 0.412, "phase": 0.004}))
    assert words == (
        "mostly corridor, corridor loss 0.41, beyond hardware scatter (up to 0.02); "
        "model 4 ms late, beyond hardware scatter (up to 0.6 ms)"
    )


def test_what_is_said_is_what_is_judged() -> None:
    """The mean error over single repeats is larger; the one against their mean is said and judged."""
    cost = channel("magnitude", {"phase": 0.0, "magnitude": 0.4})
    small = replace(cost, hardware=three({"magnitude": -0.2}))
    assert finding_words(small) == (
        "mostly magnitude, model 20 % too small, within hardware scatter (up to 31 %)"
    )


def test_too_few_repeats_are_told_once() -> None:
    """Without scatter there is neither within nor beyond."""
    words = finding_words(channel("corridor", {"corridor": 0.412, "phase": 0.004}, repeats=2))
    assert words == (
        "mostly corridor, corridor loss 0.41; model 4 ms late; too few repeats to determine hardware scatter"
    )


def test_an_error_that_is_no_number_is_left_out() -> None:
    """The component is still named."""
    assert finding_words(channel("magnitude", {})) == "mostly magnitude"


@pytest.mark.parametrize(
    ("rating", "words"), [(None, "not rated, counts as 0"), (0.5, "not divided by component")]
)
def test_a_cost_without_components(rating: float | None, words: str) -> None:
    """What is missing, and what another measure lost where the rating lost nothing."""
    cost = ChannelCost(
        load_case="drop", channel="a", words="a", region="head", weight=0.1, rating=rating, cost=0.1,
        by_component={}, errors={}, repeats=0,
    )  # fmt: skip
    bare = ChannelExplanation(cost=cost, repeat="", account=None, hardware=None, suspects=())
    assert finding_words(bare) == words
    assert bare.hardware_cost is None


def test_the_cost_of_the_hardware_is_what_its_own_rating_lacks() -> None:
    """Weight 0.1 and a median rating of 0.95 between repeats."""
    assert channel("phase", {"phase": 0.004}).hardware_cost == pytest.approx(0.005)


def test_small_points_are_not_nothing() -> None:
    """Zero is zero; what rounds to it is said to be small."""
    assert [points(value) for value in (0.0, 0.0004, 0.0211)] == [
        "0.000 points",
        "under 0.001 points",
        "0.021 points",
    ]


def test_a_cluster_lists_delay_and_sign_against_its_first_channel() -> None:
    """20 samples of 0.1 ms are 2 ms."""
    members = (
        Member(name="a", sign=1, lag_samples=0, likeness=1.0),
        Member(name="b", sign=-1, lag_samples=20, likeness=0.9),
        Member(name="c", sign=1, lag_samples=-5, likeness=0.9),
    )
    words = cluster_words(Cluster(members=members, least_likeness=0.85), {"a": "moment", "b": "angle"}, 1e-4)
    assert words == "moment; angle (2 ms later, opposite sign); c (0.5 ms earlier)"


def test_a_suspect_says_what_it_would_win_and_what_to_do() -> None:
    """Evidence, both ratings, remedy; a pair that could not be rated says so."""
    suspect = Suspect(
        kind="sign turned",
        channel="a",
        evidence="correlation -0.98.",
        fix="write model_sign = -1",
        rating_before=None,
        rating_after=0.91,
    )
    assert suspect_words(suspect) == (
        "sign turned: correlation -0.98. Not rated, corrected 0.910. Write model_sign = -1."
    )


@pytest.mark.parametrize(("sign", "remedy"), [(-1, "add --turn-sign"), (1, "leave --turn-sign out")])
def test_the_remedy_of_a_pair_is_an_option(sign: int, remedy: str) -> None:
    """There is not a campaign file to write into; what is already turned is to be turned back."""
    suspect = Suspect(
        kind="sign turned", channel="a", evidence="e", fix="write model_sign", rating_before=0.2,
        rating_after=0.9, change={"candidate_sign": sign},
    )  # fmt: skip
    assert suspect_words(for_a_pair(suspect)).endswith(
        f"Check the polarity of both sides; if the model is wrong, {remedy}."
    )


def test_the_remedy_of_another_mistake_stays() -> None:
    """Only the sign has an option of its own."""
    suspect = Suspect(
        kind="unit wrong", channel="a", evidence="e", fix="f", rating_before=0.2, rating_after=0.9
    )
    assert for_a_pair(suspect) is suspect


def test_a_value_at_a_bound_of_the_search_is_marked() -> None:
    """Only that value; the others were found inside."""
    change = CurveChange(shift_s=-0.0041, scale=3.0)
    assert change_words(change, "kN", ("scale",)) == "4.1 ms earlier, × 3 (limit of the search)"
    assert change_words(change, "kN") == "4.1 ms earlier, × 3"


def test_a_model_that_is_zero_has_no_errors_to_tell() -> None:
    """Its numbers would mean nothing."""
    dead = replace(channel("phase", {"phase": 0.004}), model_is_zero=True)
    assert finding_words(dead) == "the model is zero throughout: not connected, or the wrong column?"


def test_no_suspect_is_said_with_the_limit_of_the_search() -> None:
    """The limit of docs/suspects.md: shifts of less than 9 ms."""
    assert NO_SUSPECT.startswith(
        "none found; a delay under 9 ms, or a longer one beside other errors, cannot"
    )


SOFT = Hint(
    group="stiffness",
    side="too little",
    sentence="the model may be too soft. Signs: lower peak load",
    weight=0.5,
)
WORDS = "stiffness (probability 0.50): the model may be too soft. Signs: lower peak load."


@pytest.mark.parametrize(
    ("channels", "against", "words"),
    [
        ((), (), ""),
        (("A1", "B2"), (), " Supported by moment, angle."),
        ((), ("B2",), " Contradicted by angle."),
        (("A1",), ("C3",), " Supported by moment. Contradicted by C3."),
    ],
)
def test_a_hint_calls_channels_by_their_words(
    channels: tuple[str, ...], against: tuple[str, ...], words: str
) -> None:
    """Those for it and those against it; a channel without words keeps its name."""
    hint = replace(SOFT, channels=channels, against=against)
    assert hint_words(hint, {"A1": "moment", "B2": "angle"}) == WORDS + words


def test_hints_of_several_load_cases_name_the_others() -> None:
    """First, which other load cases the hints have to explain; nothing of them where there are no hints."""
    lines = hint_lines(load_case(SOFT, together=("fast", "slow")), {})
    assert lines == ["explained together with fast, slow", WORDS]
    assert hint_lines(load_case(together=("fast",)), {}) == [NO_HINT]


def load_case(*found: Hint, **more: Any) -> LoadCaseExplanation:
    """Return a load case with hints and what else is said of it."""
    return LoadCaseExplanation(load_case="drop", cost=0.1, step_s=1e-4, clusters=(), hints=found, **more)


def test_a_silent_load_case_says_why() -> None:
    """One line with the reason, and nothing else."""
    silent = load_case(silence="the model is within hardware scatter in every channel", within_scatter=("a",))
    assert hint_lines(silent, {"a": "head"}) == [
        "No hints: the model is within hardware scatter in every channel."
    ]


def test_channels_without_hints_are_listed_with_the_reason() -> None:
    """Below the hints, by their words; at most two hints."""
    hint = Hint(group="stiffness", side="too much", sentence="a: early", weight=0.5, channels=("a",))
    words = {"a": "head", "b": "neck", "c": "chest", "d": "knee", "e": "foot"}
    lines = hint_lines(
        load_case(hint, hint, hint, waiting=("b",), shifted=("c",), within_scatter=("d",), minor=("e",)),
        words,
    )
    assert lines[:2] == [hint_words(hint, words)] * 2
    assert lines[2:] == [
        "neck: hints are withheld until the suspected error is resolved",
        "chest: not explained, because a shift in time alone recovers most of the loss",
        "knee: not explained, because the model is within hardware scatter; used as evidence",
        "foot: not used, because the peak is below a tenth of the sensor's resultant (minor axis)",
    ]


def test_improbable_hints_are_not_printed() -> None:
    """From a probability of 0.2 on, and a second cause; two at most."""
    weak, strong = replace(SOFT, weight=0.19), replace(SOFT, weight=0.2)
    assert shown_hints([strong, weak]) == [strong]
    assert shown_hints([strong, replace(weak, second=True), strong]) == [strong, replace(weak, second=True)]
    assert hint_lines(load_case(weak), {}) == [NO_HINT]


def test_a_load_case_without_hints_or_rating_is_told() -> None:
    """Too small or of no known pattern where it is rated; not rated where it is not."""
    assert hint_lines(load_case(), {}) == [NO_HINT]
    assert NO_HINT.startswith("none: the differences are as small as those of a good model")
    assert hint_lines(load_case(rated=False), {}) == ["not rated"]


def test_no_suspect_of_a_release_says_what_cannot_be_told() -> None:
    """One channel alone, and all channels alike."""
    assert "one channel under 9 ms, or of all channels together under 2.6 ms" in NO_SUSPECT_OF_RELEASE
