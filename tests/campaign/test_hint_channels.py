"""Which channels may give hints: each has the first reason that holds, and the reasons are told in words."""

from __future__ import annotations

import numpy as np

from correlate.campaign.hint_channels import HintChannels, minor_axes, sort_channels
from correlate.evaluation.tables import ChannelPlan


def test_each_channel_has_the_first_reason_that_holds() -> None:
    """Waiting before minor before scatter before shift; the later questions are not asked."""
    asked: list[str] = []

    def shifted(name: str) -> bool:
        asked.append(name)
        return name == "late"

    found = sort_channels(
        ["turned", "small", "good", "late", "poor"],
        waiting=["turned"],
        minor=["turned", "small"],
        within_scatter=lambda name: name in {"turned", "small", "good"},
        shifted=shifted,
    )
    assert found == HintChannels(
        speaking=("poor",), waiting=("turned",), minor=("small",), within_scatter=("good",), shifted=("late",)
    )
    assert asked == ["late", "poor"]


def test_silence_is_told_in_words() -> None:
    """Nothing while a channel may speak; one reason for all; several, counted."""
    assert HintChannels(speaking=("a",), waiting=("b",)).silence == ""
    assert HintChannels(speaking=()).silence == ""
    assert HintChannels(speaking=(), minor=("a",)).silence == "all channels are minor axes"
    assert HintChannels(speaking=(), within_scatter=("a", "b"), minor=("c",)).silence == (
        "the model is within hardware scatter in every channel; minor axes are not counted"
    )
    assert HintChannels(speaking=(), within_scatter=("a", "b"), waiting=("c",)).silence == (
        "no channel can give hints: 1 with a suspected data-handling error, 2 within hardware scatter"
    )


def test_minor_axes_are_below_a_tenth_of_the_resultant() -> None:
    """By codes and by sensor names, in one unit; a channel without sisters is never one."""
    wave = np.sin(np.linspace(0, np.pi, 50))
    tests = {
        "D0HEAD0000KMACXP": 100 * wave,
        "D0HEAD0000KMACYP": 9 * wave,
        "D0HEAD0000KMACZP": 11 * wave,
        "D0NECKUP00KMFOZP": 0.1 * wave,
        "spine x": 50 * wave,
        "spine y": 1 * wave,
        "spine turn": 1 * wave,
    }
    units = dict.fromkeys(tests, "g") | {"spine turn": "deg"}
    plans = [
        ChannelPlan(test=name, region="head", sensor="spine" if name.startswith("spine") else "")
        for name in [*tests, "not measured"]
    ]
    assert minor_axes(plans, tests, units) == ("D0HEAD0000KMACYP", "spine y")


def test_channels_within_scatter_are_evidence_and_no_reason() -> None:
    """Beside a channel that asks for an explanation they are read; alone they are not."""
    assert HintChannels(speaking=("a",), within_scatter=("b",), shifted=("c",)).evidence == ("a", "b")
    assert HintChannels(speaking=(), within_scatter=("b",)).evidence == ()
