"""What one fault of a channel explains is not reported as another."""

from __future__ import annotations

import pytest

from correlate.reference.check.between import without_consequences
from correlate.reference.finding import Finding, Kind, Severity


def finding(kind: Kind, severity: Severity = "error") -> Finding:
    """Return a finding."""
    return Finding(kind=kind, severity=severity, file="t1", channel="a", what="", remedy="")


def left(own: list[Finding], between: list[Finding]) -> list[str]:
    """Return the kinds that are still reported."""
    return [one.kind for one in without_consequences(own, between)]


ALL: list[Finding] = [
    finding(kind)
    for kind in ("gain", "time zero", "unlike repeats", "sample rate", "noise", "polarity", "offset", "unit")
]


def test_nothing_is_left_out_by_itself() -> None:
    """Without a graver finding."""
    assert left(ALL, []) == [one.kind for one in ALL]


@pytest.mark.parametrize("kind", ["lost samples", "cross-talk", "loose mount"])
def test_what_an_added_or_missing_part_explains(kind: Kind) -> None:
    """Size, timing, rate and noise; not sign, unit and offset."""
    assert left(ALL, [finding(kind)]) == ["polarity", "offset", "unit"]
    assert left([finding("dropout")], [finding("lost samples")]) == []


def test_what_damage_explains() -> None:
    """Size and timing, when it is an error."""
    rest = ["sample rate", "noise", "polarity", "offset", "unit"]
    assert left([finding("spike"), *ALL], []) == ["spike", *rest]
    assert left([finding("spike", "warning"), *ALL], []) == ["spike", *[one.kind for one in ALL]]


def test_too_much_filter_explains_noise() -> None:
    """A filter without phase lets the event reach back into the quiet stretch."""
    assert left([finding("noise"), finding("gain")], [finding("filter class", "warning")]) == ["gain"]
