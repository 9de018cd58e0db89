"""Hints from curves of the simplest mechanics, whose cause is known; wording; refusals; signs."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.hints import EvidenceChannel, Hint, hints
from correlate.diagnosis.hints.causes import GROUPS, SIDES
from correlate.diagnosis.hints.evidence import numbers_of
from correlate.diagnosis.hints.hinting import LEAST_WEIGHT, Sign, behaviours, read_behaviours
from correlate.errors import SettingsError
from correlate.pair import AlignedPair
from tests.diagnosis.struck_mass import SPEEDS, TIME, Struck, curves, evidence
from tests.diagnosis.worlds.cases import cases
from tests.diagnosis.worlds.evidence import channels_of
from tests.diagnosis.worlds.families import FAMILIES, JUDGING_ONLY
from tests.diagnosis.worlds.faults import KINDS

if TYPE_CHECKING:
    from collections.abc import Callable

TEST = Struck()
DAMPED = Struck(damping=0.2)
CHANGES: tuple[tuple[str, str, Struck, dict[str, Any]], ...] = (
    ("stiffness", "too little", TEST, {"stiffness": 42.0}),
    ("stiffness", "too much", TEST, {"stiffness": 84.0}),
    ("damping", "too little", DAMPED, {"damping": 0.1}),
    ("damping", "too much", DAMPED, {"damping": 0.4}),
    ("mass", "too little", TEST, {"mass": 15.0}),
    ("mass", "too much", TEST, {"mass": 26.0}),
    ("hysteresis", "too little", TEST, {"kept": 0.85}),
    ("hysteresis", "too much", TEST, {"kept": 0.3}),
    ("densification", "too little", TEST, {"stop": 1e3}),
    ("densification", "too much", TEST, {"stop": 50.0}),
    ("gap", "too little", TEST, {"gap": 1.0}),
    ("gap", "too much", TEST, {"gap": 18.0}),
    ("speed", "too little", TEST, {"speed": 4.35}),
    ("speed", "too much", TEST, {"speed": 5.75}),
)
SOFTER = replace(TEST, stiffness=42.0)


def said(found: tuple[Hint, ...], most: int = 99) -> list[tuple[str, str]]:
    """Return the behaviours and sides of the first hints."""
    return [(hint.group, hint.side) for hint in found[:most]]


@pytest.mark.parametrize("speeds", [(5.0,), SPEEDS], ids=["one speed", "two speeds"])
@pytest.mark.parametrize(
    ("group", "side", "test", "change"), CHANGES, ids=[f"{one[0]} {one[1]}" for one in CHANGES]
)
def test_what_is_changed_is_among_the_first_two(
    group: str, side: str, test: Struck, change: dict[str, Any], speeds: tuple[float, ...]
) -> None:
    """With force and travel the physics decides: behaviour and side are told."""
    found = hints(evidence(test, replace(test, **change), speeds=speeds))
    assert (group, side) in said(found, 2)


def test_what_is_changed_mostly_comes_first() -> None:
    """At least 12 of the 14 changes, at two speeds."""
    first = [
        said(hints(evidence(test, replace(test, **change))), 1) == [(group, side)]
        for group, side, test, change in CHANGES
    ]
    assert sum(first) >= 12


@pytest.mark.parametrize(("mass", "side"), [(15.0, "too little"), (26.0, "too much")])
def test_a_mass_is_told_by_force_and_acceleration(mass: float, side: str) -> None:
    """The ratio of the two is the mass, whatever the part is like."""
    found = hints(evidence(TEST, replace(TEST, mass=mass), roles=("force", "rig", "travel")))
    assert ("mass", side) in said(found, 2)


def test_equal_curves_give_no_hints() -> None:
    """No difference, no hint."""
    assert hints(evidence(TEST, TEST)) == ()
    load = curves(TEST)["force"]
    assert hints(AlignedPair(time=TIME, reference=load, candidate=load)) == ()


@pytest.mark.parametrize("factor", [0.97, 1.03])
def test_differences_of_honest_models_give_no_hints(factor: float) -> None:
    """3 % of stiffness is what specimens differ by; 30 % is not."""
    assert hints(evidence(TEST, replace(TEST, stiffness=factor * TEST.stiffness))) == ()
    assert hints(evidence(TEST, replace(TEST, stiffness=factor**10 * TEST.stiffness))) != ()


def test_one_small_channel_does_not_hide_a_large_one() -> None:
    """A model may be right in all channels but one."""
    channels = evidence(TEST, SOFTER)
    right = [replace(one, name="other", pair=_equal(one.pair)) for one in channels if one.role == "force"]
    assert hints([*channels, *right]) != ()


def _equal(pair: AlignedPair) -> AlignedPair:
    return AlignedPair(time=pair.time, reference=pair.reference, candidate=pair.reference)


FACTORS = st.floats(1e-3, 1e3) | st.floats(-1e3, -1e-3)


@settings(max_examples=8, deadline=None)
@given(force=FACTORS, travel=FACTORS)
def test_the_unit_and_the_sign_do_not_matter(force: float, travel: float) -> None:
    """Turning both curves or measuring in another unit leaves words and weights as they are."""
    plain = evidence(TEST, SOFTER, speeds=(5.0,))
    factor = {"force": force, "travel": travel}
    turned = hints(replace(one, pair=_times(one.pair, factor[one.role])) for one in plain)
    found, expected = ([hint for hint in some if hint.weight > 0.1] for some in (turned, hints(plain)))
    # A number that is 0 counts as not there, and rounding decides whether it is 0: hence not to the digit.
    assert [hint.weight for hint in found] == pytest.approx([hint.weight for hint in expected], abs=0.02)
    assert [hint.sentence for hint in found] == [hint.sentence for hint in expected]


def _times(pair: AlignedPair, factor: float) -> AlignedPair:
    return AlignedPair(time=pair.time, reference=factor * pair.reference, candidate=factor * pair.candidate)


def test_the_order_of_channels_does_not_matter() -> None:
    """Neither do the names."""
    channels = evidence(TEST, SOFTER)
    turned = hints(reversed(channels))
    assert said(turned) == said(hints(channels))
    assert [hint.weight for hint in turned] == pytest.approx([hint.weight for hint in hints(channels)])


@pytest.mark.parametrize("group", sorted({one[0] for one in CHANGES}))
def test_swapping_test_and_model_turns_the_side(group: str) -> None:
    """What the model has too much of, the test has too little of."""
    test, change = next((one[2], one[3]) for one in CHANGES if one[0] == group)
    model = replace(test, **change)
    there = dict(said(hints(evidence(test, model, speeds=(5.0,)))))
    back = dict(said(hints(_swapped(evidence(test, model, speeds=(5.0,))))))
    assert {there[group], back[group]} == set(SIDES)


def _swapped(channels: list[EvidenceChannel]) -> list[EvidenceChannel]:
    return [
        replace(
            one,
            pair=AlignedPair(time=one.pair.time, reference=one.pair.candidate, candidate=one.pair.reference),
        )
        for one in channels
    ]


def test_weights_are_probabilities() -> None:
    """They fall, none is below what is named, and together they are not more than 1."""
    for _, _, test, change in CHANGES:
        weights = [hint.weight for hint in hints(evidence(test, replace(test, **change)))]
        assert weights == sorted(weights, reverse=True)
        assert min(weights) >= LEAST_WEIGHT
        assert 0.5 < sum(weights) <= 1.0 + 1e-9


def test_each_behaviour_is_hinted_at_once() -> None:
    """With its likelier side; nobody is told that a part is both too stiff and too soft."""
    for _, _, test, change in CHANGES:
        groups = [hint.group for hint in hints(evidence(test, replace(test, **change)))]
        assert len(groups) == len(set(groups))


def test_channels_that_speak_for_a_hint_are_named() -> None:
    """The travel of a wider gap begins the force later: without the force, nothing of the gap is seen."""
    found = hints(evidence(TEST, replace(TEST, gap=18.0)))
    gap = next(hint for hint in found if hint.group == "gap")
    assert "force" in gap.channels
    assert not set(gap.channels) & set(gap.against)


def test_a_channel_that_contradicts_a_hint_is_named() -> None:
    """Alone, the force of too fast a model looks like other things too; the travel speaks against those."""
    channels = evidence(TEST, replace(TEST, speed=5.75))
    alone = {hint.group: hint.weight for hint in hints(one for one in channels if one.role == "force")}
    both = hints(channels)
    dropped = [hint for hint in both if alone.get(hint.group, 0.0) - hint.weight >= 0.06]
    assert dropped
    assert [hint.against for hint in dropped] == [("travel",)] * len(dropped)


def test_a_single_channel_is_not_called_a_witness() -> None:
    """It speaks for everything that is said."""
    found = hints(evidence(TEST, SOFTER, roles=("force",)))
    assert found
    assert {(hint.channels, hint.against) for hint in found} == {((), ())}


def test_a_second_cause_is_told_once_the_first_is_taken_away() -> None:
    """Of two changes at once that are each told alone, the second stands out in most pairs; it says so."""
    changes = (
        {"damping": 0.4, "mass": 28.0}, {"damping": 0.6, "mass": 28.0}, {"stiffness": 90.0, "speed": 4.0},
        {"damping": 0.4, "speed": 6.0}, {"stiffness": 30.0, "mass": 14.0},
    )  # fmt: skip
    right = 0
    for change in changes:
        found = hints(evidence(DAMPED, replace(DAMPED, **change)))
        second = [hint for hint in found if hint.second]
        assert len(second) <= 1
        for hint in second:
            right += {hint.group, found[0].group} == set(change)
            assert hint.group != found[0].group
            removed = f"once the effect of the first hint ({found[0].group}) is removed"
            assert hint.sentence.endswith(f"It is the most probable {removed}: both may be present")
    assert right >= 3


def test_a_test_of_zeros_is_refused() -> None:
    """Nothing can be compared with it; the channel is named."""
    channels = evidence(TEST, SOFTER)
    dead = replace(channels[1], name="rib", pair=_times(channels[1].pair, 0.0))
    with pytest.raises(
        SettingsError, match=r"the test of channel 'rib' is zero throughout.*leave the channel out"
    ):
        hints([channels[0], dead])


def test_a_model_of_zeros_does_not_fail() -> None:
    """Callers leave it out; here it only has no pulse to compare."""
    load = curves(TEST)["force"]
    for hint in hints(AlignedPair(time=TIME, reference=load, candidate=np.zeros_like(load))):
        assert 0.0 < hint.weight <= 1.0


def test_nothing_to_compare_gives_no_hints() -> None:
    """A load case may have no channel left."""
    assert hints([]) == ()


def test_a_sentence_tells_what_is_seen_and_claims_nothing() -> None:
    """Signs in words, then what may be behind them."""
    for _, _, test, change in CHANGES:
        for hint in hints(evidence(test, replace(test, **change))):
            assert re.search(r"\bmay\b", hint.sentence)
            assert not re.search(r"nan|inf|None|_|\d", hint.sentence)


def test_the_sign_of_a_softer_spring_is_told() -> None:
    """Less load at equal travel, and more travel: as is to be seen in the curves."""
    soft = next(hint for hint in hints(evidence(TEST, SOFTER)) if hint.group == "stiffness")
    assert "less load at equal travel" in soft.sentence
    assert "larger travel" in soft.sentence
    assert "the model may be too soft" in soft.sentence


@cache
def full_case() -> dict[str, float]:
    """Return the numbers of a case with a rig, accelerations, forces and travels at two speeds."""
    names: dict[str, float] = {}
    for family in sorted(set(FAMILIES) - {JUDGING_ONLY}):
        names |= numbers_of(channels_of(cases(family, 1, seed=3, kinds=["stiffness"])[0]))
    return names


def test_the_table_knows_every_behaviour() -> None:
    """In the order of the causes."""
    assert tuple(behaviours()) == GROUPS


@pytest.mark.parametrize("group", GROUPS)
def test_every_sign_is_a_number_that_exists(group: str) -> None:
    """A misspelt number would never speak; two signs at least, because one alone has many causes."""
    signs = behaviours()[group].signs  # type: ignore[index]
    assert len(signs) >= 2
    assert [sign.number for sign in signs if sign.read(full_case()) == 0.0] == []


@pytest.mark.parametrize("group", GROUPS)
def test_the_words_are_plain(group: str) -> None:
    """Both sides may be, none is; the words of a number differ by its direction and fit into a sentence."""
    one = behaviours()[group]  # type: ignore[index]
    assert " may " in one.much
    assert " may " in one.little
    words = [text for sign in one.signs for text in (sign.more, sign.less)]
    assert len(set(words)) == len(words)
    assert [text for text in words if not re.fullmatch(r"[a-z][a-z' ]+[a-z]", text)] == []


@cache
def learning_cases() -> tuple[tuple[str, str, dict[str, float]], ...]:
    """Return behaviour, side and numbers of models with one felt fault, of the families to learn from."""
    kinds = [kind for kind in KINDS if kind != "timing"]
    return tuple(
        (case.faults[0].kind, case.faults[0].side, numbers_of(channels_of(case)))
        for family in sorted(set(FAMILIES) - {JUDGING_ONLY})
        for case in cases(family, 96, seed=12, kinds=kinds)
    )


HOLDS = 0.65
"""Share of cases in which a sign has to hold (chosen here); a third of contrary ones leave it a sign."""


@pytest.mark.parametrize(
    ("group", "sign"),
    [
        pytest.param(group, sign, id=f"{group}, {sign.number}")
        for group, one in behaviours().items()
        for sign in one.signs
    ],
)
def test_a_sign_is_true_of_invented_worlds(group: str, sign: Sign) -> None:
    """Where too much or too little is planted, the number moves the stated way in most cases."""
    spoken = [
        sign.speaks(numbers, side)  # type: ignore[arg-type]
        for kind, side, numbers in learning_cases()
        if kind == group
    ]
    heard = [strength for strength in spoken if strength != 0.0]
    assert len(heard) >= 12
    assert np.mean([strength > 0.0 for strength in heard]) >= HOLDS


TABLE = """
[[behaviour]]
name = "gap"
much = "a gap may be too large"
little = "a gap may be too small"
signs = [{ number = "travel: peak", turned = true, more = "a", less = "b" }]
"""


def test_a_turned_sign_speaks_the_other_way() -> None:
    """The number is lower with too much."""
    (sign,) = read_behaviours(TABLE)[0].signs
    assert sign.speaks({"travel: peak": 0.5}, "too much") == -0.5
    assert sign.speaks({"travel: peak": 0.5}, "too little") == 0.5
    assert (sign.words({"travel: peak": 0.5}), sign.words({"travel: peak": -0.5})) == ("a", "b")
    assert sign.speaks({}, "too much") == 0.0


def test_a_sign_of_the_load_reads_the_channel_that_differs_most() -> None:
    """Whether a force, the rig or an acceleration."""
    sign = Sign(number="load: peak", more="a", less="b")
    assert sign.read({"force: peak": 0.2, "rig: peak": -0.4, "travel: peak": 0.9}) == -0.4


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda text: text.replace('"gap"', '"colour"'), "'colour' is no behaviour"),
        (lambda text: text.replace("more =", "most ="), "most"),
        (lambda text: text.replace("little =", "few ="), "little"),
        (lambda text: text.replace("[[behaviour]]", "[[behaviour]"), "the table of signs cannot be read"),
    ],
)
def test_a_damaged_table_is_refused(damage: Callable[[str], str], words: str) -> None:
    """In one sentence, with what to do."""
    with pytest.raises(SettingsError, match=f"(?s){re.escape(words)}.*install the package again"):
        read_behaviours(damage(TABLE))
