"""The diagnosis in the document of a release: suspects of load cases, and why there are no hints."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from correlate.diagnosis.suspects import Suspect
from correlate.report.release_parts import diagnosis

if TYPE_CHECKING:
    from correlate.report.release_contents import ReleaseContents


def test_a_shift_of_time_zero_and_the_silence_are_in_the_document(small_contents: ReleaseContents) -> None:
    """The suspect comes before those of channels, the reason stands in the place of hints."""
    suspect = Suspect(
        kind="time zero off",
        channel="",
        evidence="the model is late by the same time, 5.0 ms, in 2 channels",
        fix="check the clocks",
        rating_before=0.7,
        rating_after=0.9,
    )
    found = small_contents.explanation
    first, *others = found.load_cases
    silent = replace(first, time_zero=suspect, silence="time zero is suspected to be wrong", hints=())
    shown = diagnosis(replace(small_contents, explanation=replace(found, load_cases=(silent, *others))))
    place, (words,) = shown["suspects"][0]
    assert place == f"{first.load_case}, all channels"
    assert words.startswith(
        "time zero off: the model is late by the same time, 5.0 ms, in 2 channels. Rating 0.700, "
    )
    name, _, lines = shown["hints"][0]
    assert (name, lines) == (first.load_case, ["No hints: time zero is suspected to be wrong."])
