"""Hints from curves of the simplest mechanics, whose cause is known; wording; refusals."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from correlate.diagnosis.hints import Hint, hints
from correlate.diagnosis.hints.rules import parse_rules, rules
from correlate.errors import SettingsError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME: Floats = np.arange(1201, dtype=np.float64) * 1e-4


def struck(
    *, stiffness: float = 60.0, damping: float = 0.06, kept: float = 1.0, stop: float = 1e3
) -> tuple[Floats, Floats]:
    """Return force [kN] and deflection [mm] of a 20 kg mass at 5 m/s that meets a spring and a dashpot.

    ``kept`` is the share of the elastic force on unloading; beyond ``stop`` mm the spring is 4 times stiffer.
    Units kN, mm, ms; integrated by scipy with a contact that never pulls.
    """

    def force(x: float, v: float) -> float:
        elastic = 1e-3 * stiffness * (x + 3.0 * max(0.0, x - stop))
        blend = 0.5 * (1.0 + kept) + 0.5 * (1.0 - kept) * math.tanh(v / 0.1)
        return max(0.0, elastic * blend + damping * v * min(1.0, x / 2.0)) if x > 0 else 0.0

    times = np.clip(TIME * 1e3 - 10.0, 0.0, None)
    path = solve_ivp(
        lambda _, y: [y[1], -force(y[0], y[1]) / 20.0], (0.0, 120.0), [0.0, 5.0], t_eval=np.unique(times),
        max_step=0.25,
    ).y  # fmt: skip
    at = np.searchsorted(np.unique(times), times)
    load = np.array([force(x, v) for x, v in path.T])
    load[0] = 0.0
    return load[at], np.maximum(path[0], 0.0)[at]


def first(test: Floats, model: Floats, *, travel: bool = False) -> Hint:
    """Return the first hint of one pair."""
    pairs = {"curve": AlignedPair(time=TIME, reference=test, candidate=model)}
    return hints(pairs, travels=["curve"] if travel else [])[0]


@pytest.mark.parametrize(
    ("factor", "side"), [(0.6, "too little"), (0.85, "too little"), (1.2, "too much"), (1.7, "too much")]
)
@pytest.mark.parametrize("travel", [False, True])
def test_stiffness_of_a_struck_mass(factor: float, side: str, *, travel: bool) -> None:
    """A softer spring makes load late and low and travel large; the hint says stiffness, and which way."""
    test, model = struck()[travel], struck(stiffness=60.0 * factor)[travel]
    hint = first(test, model, travel=travel)
    assert (hint.group, hint.side) == ("stiffness", side)


@pytest.mark.parametrize(("damping", "side"), [(0.1, "too little"), (0.5, "too much")])
def test_damping_of_a_struck_mass(damping: float, side: str) -> None:
    """More dashpot: the load ends earlier, gives less back; the hint says damping, and which way."""
    hint = first(struck(damping=0.25)[0], struck(damping=damping)[0])
    assert (hint.group, hint.side) == ("damping", side)


@pytest.mark.parametrize(("kept", "side"), [(0.85, "too little"), (0.3, "too much")])
def test_hysteresis_of_a_struck_mass(kept: float, side: str) -> None:
    """The loading is untouched, only unloading gives back more or less."""
    hint = first(struck(kept=0.55)[0], struck(kept=kept)[0])
    assert (hint.group, hint.side) == ("hysteresis", side)


@pytest.mark.parametrize(("stops", "side"), [((70.0, 1e3), "too little"), ((1e3, 70.0), "too much")])
def test_an_end_stop_on_one_side_only(stops: tuple[float, float], side: str) -> None:
    """One of the curves runs into a stop late in loading: contact or densification is among the first two."""
    test, model = (struck(stop=stop)[0] for stop in stops)
    found = hints(AlignedPair(time=TIME, reference=test, candidate=model))
    assert ("contact or densification", side) in [(hint.group, hint.side) for hint in found[:2]]


def test_a_flat_top_that_is_missing() -> None:
    """The test is cut off at a plateau, as by a foam that gives way; the model peaks."""
    load = struck(damping=0.0)[0]
    found = hints(AlignedPair(time=TIME, reference=np.minimum(load, 0.6 * load.max()), candidate=load))
    flat = next(hint for hint in found if hint.group == "contact or densification")
    assert "flat top of the test is missing" in flat.sentence


def test_a_wrong_second_phase_after_a_right_peak() -> None:
    """The first pulse is right, the second too low: inertia or the sequence of contacts is hinted at."""
    pulse = np.sin(np.pi * np.clip((TIME - 0.01) / 0.02, 0, 1))
    second = np.sin(np.pi * np.clip((TIME - 0.05) / 0.03, 0, 1))
    hint = first(pulse + 0.6 * second, pulse + 0.25 * second)
    assert hint.group == "inertia"
    assert "second phase is too low or missing" in hint.sentence


@pytest.mark.parametrize(
    ("decay", "frequency", "group", "side"),
    [
        (8.0, 40.0, "damping", "too little"),
        (60.0, 40.0, "damping", "too much"),
        (25.0, 28.0, "stiffness", "too little"),
    ],
)
def test_a_wrong_tail(decay: float, frequency: float, group: str, side: str) -> None:
    """Same pulse, another tail: what rings too long is too little damped, what rings too slowly too soft."""

    def rung(decay: float, frequency: float) -> Floats:
        late = np.maximum(TIME - 0.02, 0.0)
        pulse = np.sin(0.5 * np.pi * np.clip((TIME - 0.005) / 0.015, 0, 1))
        return np.where(late > 0, np.exp(-decay * late) * np.cos(2 * np.pi * frequency * late), pulse)

    found = hints(AlignedPair(time=TIME, reference=rung(25.0, 40.0), candidate=rung(decay, frequency)))
    assert (group, side) in [(hint.group, hint.side) for hint in found[:2]]


def test_equal_curves_hint_at_nothing() -> None:
    """No difference, no hint; nor does a model that is zero throughout say anything about a material."""
    load = struck()[0]
    assert hints(AlignedPair(time=TIME, reference=load, candidate=load)) == ()
    assert hints(AlignedPair(time=TIME, reference=load, candidate=np.zeros_like(load))) == ()


def test_the_unit_and_the_sign_do_not_matter() -> None:
    """Turning both curves and measuring in another unit leaves every weight as it is."""
    test, model = struck()[0], struck(stiffness=45.0)[0]
    plain = hints(AlignedPair(time=TIME, reference=test, candidate=model))
    turned = hints(AlignedPair(time=TIME, reference=-4448.0 * test, candidate=-4448.0 * model))
    assert [hint.weight for hint in turned] == pytest.approx([hint.weight for hint in plain])
    assert [hint.sentence for hint in turned] == [hint.sentence for hint in plain]


def test_the_channel_that_lost_more_speaks_louder() -> None:
    """A channel that is wrong by stiffness outweighs one with a small difference of hysteresis."""
    pairs = {
        "slightly": AlignedPair(time=TIME, reference=struck(kept=0.55)[0], candidate=struck(kept=0.5)[0]),
        "badly": AlignedPair(time=TIME, reference=struck()[0], candidate=struck(stiffness=35.0)[0]),
    }
    found = hints(pairs)
    assert found[0].group == "stiffness"
    assert found[0].channels[0] == "badly"
    assert 0.5 < found[0].weight <= 1.0
    alone = hints(pairs["slightly"])[0]
    assert alone.group == "hysteresis"
    assert alone.weight > 0.8
    assert [hint.weight < 0.2 for hint in found if hint.group == "hysteresis"] in ([], [True])


def test_a_pattern_does_not_depend_on_its_size() -> None:
    """A spring 4 % too soft draws the pattern of one 40 % too soft, only smaller: both are clear."""
    for stiffness in (57.6, 36.0):
        hint = first(struck()[0], struck(stiffness=stiffness)[0])
        assert (hint.group, hint.side) == ("stiffness", "too little")
        assert hint.weight > 0.8


def test_a_hint_gives_its_evidence_and_claims_nothing() -> None:
    """The sentence names channel, pattern and numbers, and what it concludes is a may."""
    sentence = first(struck()[0], struck(stiffness=40.0)[0]).sentence
    assert sentence.startswith("curve: late and low peak with long duration (")
    assert re.search(r"peak \d+ % lower, duration at half peak \d+ % longer, peak [\d.]+ ms later", sentence)
    assert sentence.endswith("the model may be too soft")


def test_what_speaks_against_a_hint_is_said() -> None:
    """A pulse that is lower and longer but early: its early peak is listed against softness, not for it."""
    test = np.sin(np.pi * np.clip((TIME - 0.03) / 0.03, 0, 1))
    model = 0.7 * np.sin(np.pi * np.clip((TIME - 0.0233) / 0.0428, 0, 1))
    found = hints(AlignedPair(time=TIME, reference=test, candidate=model))
    soft = next(hint for hint in found if hint.group == "stiffness")
    assert soft.sentence.endswith(
        "(peak 30 % lower, duration at half peak 43 % longer; against it: peak 0.3 ms earlier); "
        "the model may be too soft"
    )


def test_every_rule_is_worded_as_a_hint() -> None:
    """No rule of the table states a fact."""
    readings = [reading for rule in rules() for reading in (rule.forward, rule.backward)]
    assert [reading.may for reading in readings if " may " not in f" {reading.may} "] == []


def test_several_pairs_without_names_are_counted() -> None:
    """A plain list works and names its channels by number."""
    pair = AlignedPair(time=TIME, reference=struck()[0], candidate=struck(stiffness=40.0)[0])
    assert hints([pair, pair])[0].channels == ("channel 1", "channel 2")


def test_an_unknown_travel_is_refused() -> None:
    """A misspelt channel would silently be judged by the rules for loads."""
    pair = AlignedPair(time=TIME, reference=struck()[0], candidate=struck(stiffness=40.0)[0])
    with pytest.raises(
        SettingsError, match="'rib' is named as a travel, but no channel has that name; use one of ribs"
    ):
        hints({"ribs": pair}, travels=["rib"])


RULE = """
[[rule]]
group = "damping"
quantity = "load"
forward = { side = "too little", seen = "a", may = "it may be b" }
backward = { side = "too much", seen = "c", may = "it may be d" }
conditions = [{ number = "peak", none = 0.0, full = 1.0 }]
"""


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            '"damping"',
            '"colour"',
            "rule 1 of the table of hints has 'colour', which is unknown; use one of stiffness",
        ),
        ('"load"', '"heat"', "has 'heat', which is unknown; use one of load"),
        ('"peak"', '"peek"', "has 'peek', which is unknown"),
        ("full = 1.0", "fool = 1.0", "lacks or misspells a key"),
        ("quantity", "quantities", "lacks or misspells a key"),
        ("[[rule]]", "[[rule]", "the table of hints cannot be read"),
    ],
)
def test_a_damaged_table_is_refused(old: str, new: str, message: str) -> None:
    """Each mistake is named with the number of its rule."""
    assert len(parse_rules(RULE)) == 1
    with pytest.raises(SettingsError, match=re.escape(message)):
        parse_rules(RULE.replace(old, new))
