"""One channel against what its load case should look like."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.errors import UnitError
from correlate.reference.finding import Finding, RepairProposal
from correlate.unit_factors import factor_into
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.reference.check.facts import ChannelFacts
    from correlate.reference.expectations import ExpectedChannel, ExpectedLoadCase


def examine_expected(
    facts: Sequence[ChannelFacts], expected: ExpectedLoadCase, *, file: str
) -> Iterator[Finding]:
    """Compare sign and size of the main peak with what is expected.

    Parameters
    ----------
    facts
        Channels of one test.
    expected
        Of its load case.
    file
        The test, for channels that are not there.

    Yields
    ------
    Finding
        ``polarity``, ``unit``, ``expected peak`` or ``missing channel``.
    """
    by_name = {item.signal.channel: item for item in facts}
    for channel in expected.channel:
        if channel.channel not in by_name:
            yield Finding(
                kind="missing channel",
                severity="warning",
                file=file,
                channel=channel.channel,
                what=f"the channel is expected in load case '{expected.name}', but it is missing",
                remedy="export it, or take it out of the expectations",
            )
            continue
        yield from _polarity(by_name[channel.channel], channel)
        yield from _size(by_name[channel.channel], channel)


def _polarity(facts: ChannelFacts, expected: ExpectedChannel) -> Iterator[Finding]:
    found = "positive" if facts.peak > 0 else "negative"
    if expected.main_peak is None or facts.peak == 0 or found == expected.main_peak:
        return
    yield Finding(
        kind="polarity",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the main peak, {facts.peak:.5g} {facts.signal.unit}, should be {expected.main_peak}",
        remedy="check how the transducer was mounted; accept the inverted sign",
        evidence={"peak": facts.peak, "expected": expected.main_peak},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("turn sign"),
    )


def _size(facts: ChannelFacts, expected: ExpectedChannel) -> Iterator[Finding]:
    if expected.peak is None or expected.unit is None or facts.peak == 0:
        return
    low, high = expected.peak
    try:
        size = abs(facts.peak) * conversion_factor(facts.signal.unit, expected.unit)
    except UnitError as error:
        yield Finding(
            kind="unit",
            severity="error",
            file=facts.file,
            channel=facts.signal.channel,
            what=error.what,
            remedy="correct the unit in the header",
            evidence={"unit": facts.signal.unit, "expected": expected.unit},
        )
        return
    if low <= size <= high:
        return
    known = factor_into(size, low, high)
    yield Finding(
        kind="unit" if known else "expected peak",
        severity="error" if known else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the peak is {size:.5g} {expected.unit}, expected range {low:.5g} to {high:.5g}"
        + (f"; it is wrong by about the factor between {known[0]}" if known else ""),
        remedy="check the unit in the header and the calibration factor",
        evidence={"peak": size, "low": low, "high": high},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("divide by factor", {"factor": known[1]}) if known else None,
    )
