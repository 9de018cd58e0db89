"""Partners are assigned one to one, by names, units and curves together."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from correlate import Signal
from correlate.campaign import clues
from correlate.campaign.clues import View, channel_meaning, common_interval
from correlate.campaign.partners import assign, ranked
from correlate.formats import Recording

Floats = NDArray[np.float64]

TIME = np.arange(1000) * 1e-4


def curve(name: str, unit: str, *, start: float = 0.02, length: float = 0.03, height: float = 1.0) -> Signal:
    """Return a half-sine."""
    samples = height * np.sin(np.pi * np.clip((TIME - start) / length, 0, 1))
    return Signal(samples=samples, start_s=0.0, step_s=1e-4, unit=unit, channel=name)


def recording(*signals: Signal, headers: dict[str, dict[str, str]] | None = None) -> Recording:
    """Put signals together."""
    return Recording(signals=signals, path=Path("here"), format="none", channel_headers=headers or {})


def view(tests: list[Signal], model: list[Signal]) -> View:
    """Return one repeat beside one result."""
    return View(tests=(recording(*tests),), model=recording(*model))


def test_no_model_channel_is_assigned_twice() -> None:
    """Two alike test channels get two model channels, though both like the same one best."""
    tests = [curve("upper neck force x", "N"), curve("neck force x", "N", start=0.021)]
    model = [curve("neck upper fx", "N"), curve("beam 12 fx", "N", start=0.021)]
    partners = assign({"push": [view(tests, model)]})["push"].partners
    assert {one.test: one.model for one in partners} == {
        "upper neck force x": "neck upper fx",
        "neck force x": "beam 12 fx",
    }


def test_what_measures_something_else_stays_alone_with_the_reason() -> None:
    """Another dimension is never assigned, another place neither; both say why."""
    tests = [curve("head acceleration x", "g"), curve("left femur force z", "N")]
    model = [curve("head acceleration x", "mm"), curve("pelvis force z", "N", height=20.0, start=0.05)]
    assignment = assign({"push": [view(tests, model)]})["push"]
    assert assignment.partners == ()
    assert assignment.alone["head acceleration x"] == "no channel of the model measures the same quantity"
    assert "the closest is 'pelvis force z'" in assignment.alone["left femur force z"]


@pytest.mark.parametrize("unit", ["V", "°C"])
def test_a_trigger_or_a_temperature_gets_no_channel_without_unit(unit: str) -> None:
    """A number of the model that has no unit is no voltage because its curve looks like one."""
    assignment = assign({"push": [view([curve("trigger", unit)], [curve("trigger", "1")])]})["push"]
    assert assignment.alone == {"trigger": "no channel of the model measures the same quantity"}


def test_words_of_headers_count_as_names_do() -> None:
    """A code without meaning and a header that describes it."""
    tests = recording(
        curve("00CHNL0001000000", "g"),
        curve("00CHNL0002000000", "g", start=0.021),
        headers={
            "00CHNL0001000000": {"Name of the channel": "pelvis acceleration z"},
            "00CHNL0002000000": {"Name of the channel": "head acceleration z"},
        },
    )
    model = recording(curve("head az", "g"), curve("pelvis az", "g", start=0.021))
    partners = assign({"drop": [View(tests=(tests,), model=model)]})["drop"].partners
    assert [one.model for one in partners] == ["pelvis az", "head az"]
    assert channel_meaning(tests, "00CHNL0001000000").kind == "acceleration"


def test_curves_decide_where_names_say_nothing() -> None:
    """Three nodes, told apart by when they move."""
    starts = {"head acceleration x": 0.01, "chest acceleration x": 0.03, "pelvis acceleration x": 0.05}
    tests = [curve(name, "g", start=start) for name, start in starts.items()]
    model = [curve(f"node {number}", "g", start=0.01 * number) for number in (5, 1, 3)]
    partners = assign({"sled": [view(tests, model)]})["sled"].partners
    assert [one.model for one in partners] == ["node 1", "node 3", "node 5"]


@pytest.mark.parametrize("sign", [1, -1])
def test_the_sign_follows_from_the_curves(sign: int) -> None:
    """A mirrored curve, also with noise, is proposed with its sign turned."""
    noise = 0.02 * np.random.default_rng(1).standard_normal(TIME.size)
    test = Signal(
        samples=curve("f", "N").samples + noise, start_s=0, step_s=1e-4, unit="N", channel="neck force x"
    )
    (partner,) = assign({"push": [view([test], [curve("neck fx", "kN", height=sign * 1e-3)])]})[
        "push"
    ].partners
    assert partner.sign == sign


def test_a_channel_without_unit_gets_the_usual_one_of_its_size() -> None:
    """A force of a thousandth is in kN; a channel that is called a moment is no force."""
    tests = [curve("neck force x", "N", height=900.0)]
    model = [curve("neck force x", "1", height=0.8), curve("neck moment x", "1", height=0.8)]
    (partner,) = assign({"push": [view(tests, model)]})["push"].partners
    assert (partner.model, partner.unit) == ("neck force x", "kN")
    assert partner.reasons[0] == "the model gives no unit, kN would fit best"


def test_load_cases_help_each_other() -> None:
    """What one load case cannot tell apart is settled by another with the same names."""
    same = view([curve("a x", "g"), curve("b x", "g")], [curve("node 1", "g"), curve("node 2", "g")])
    apart = view(
        [curve("a x", "g"), curve("b x", "g", start=0.05)],
        [curve("node 1", "g", start=0.05), curve("node 2", "g")],
    )
    found = assign({"same": [same], "apart": [apart]})
    assert [one.model for one in found["same"].partners] == ["node 2", "node 1"]


def test_confidence_is_low_where_another_assignment_is_as_good() -> None:
    """Two channels that nothing tells apart are even chances; one that stands alone is sure."""
    twins = view(
        [curve("head acceleration x", "g")], [curve("head acc x 1", "g"), curve("head acc x 2", "g")]
    )
    (unsure,) = assign({"": [twins]})[""].partners
    (sure,) = assign({"": [view([curve("head acceleration x", "g")], [curve("head ax", "g")])]})[""].partners
    assert unsure.score < 0.6
    assert sure.score > 0.95


def test_ranked_lists_the_assigned_one_first_and_none_first_twice() -> None:
    """The alternatives follow, none above the assigned one; paired channels are left out."""
    tests = [curve("head acceleration x", "g"), curve("chest acceleration x", "g", start=0.04)]
    model = [curve("head ax", "g"), curve("node 9", "g", start=0.04), curve("taken", "g")]
    lists = ranked({"": [view([*tests, curve("paired", "g")], model)]}, {"": (["paired"], ["taken"])})[""]
    assert [[one.model for one in found] for found in lists] == [["head ax", "node 9"], ["node 9", "head ax"]]
    assert all(found[0].score >= found[1].score for found in lists)


def test_ranked_offers_what_is_left_to_an_unlikely_channel() -> None:
    """Below the threshold a proposal is still shown, with its low score, and for the last channel none."""
    tests = [
        curve(name, "g", start=start) for name, start in (("head x", 0.02), ("b y", 0.05), ("c z", 0.06))
    ]
    model = [curve("head x", "g"), curve("pelvis z", "g", start=0.02, height=9.0)]
    lists = ranked({"": [view(tests, model)]}, {})[""]
    firsts = [found[0].model for found in lists]
    assert len(firsts) == len(set(firsts)) == 2
    assert lists[0][0].score > 0.9 > lists[1][0].score


def test_only_channels_without_a_partner_are_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is paired in every load case is not weighed; the others get the same proposals as without it."""
    model = [curve("head ax", "g"), curve("node 9", "g", start=0.04)]
    test = curve("head acceleration x", "g")
    alone = ranked({"a": [view([test], model)], "b": [view([test], model)]}, {"b": ([test.channel], [])})
    paired = [curve(f"paired {number}", "g") for number in range(5)]
    names = [one.channel for one in paired]
    compared: list[int] = []
    cosines = clues._cosines

    def counting(one: Floats, other: Floats, shift: int) -> Floats:
        compared.append(len(one))
        return cosines(one, other, shift)

    monkeypatch.setattr(clues, "_cosines", counting)
    views = {name: [view([test, *paired], model)] for name in ("a", "b")}
    assert ranked(views, {"a": (names, []), "b": ([*names, test.channel], [])}) == alone
    assert set(compared) == {1}
    compared.clear()
    assert ranked({"a": [view(paired, model)]}, {"a": (names, [])}) == {"a": []}
    assert not compared


def test_the_common_interval_starts_at_zero_or_where_all_have_begun() -> None:
    """Recordings without common time have none."""
    early = Signal(samples=np.zeros(100), start_s=-0.005, step_s=1e-4, unit="g", channel="a")
    late = Signal(samples=np.zeros(100), start_s=0.002, step_s=1e-4, unit="g", channel="b")
    never = Signal(samples=np.zeros(100), start_s=5.0, step_s=1e-4, unit="g", channel="c")
    assert common_interval([recording(early)]) == pytest.approx((0.0, 0.0049))
    assert common_interval([recording(early), recording(late)]) == pytest.approx((0.002, 0.0049))
    assert common_interval([recording(early), recording(never)]) is None
    assert common_interval([]) is None
