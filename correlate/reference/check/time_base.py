"""The time step: constant as recorded, or made so while reading."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.reference.check.facts import ChannelFacts

WORTH_A_NOTE: Final = 0.02
"""Printed times this share of a step off the constant step are worth a note."""


def examine_time_step(facts: ChannelFacts) -> Iterator[Finding]:
    """Look in the history for a step that was not constant.

    Parameters
    ----------
    facts
        Of the channel.

    Yields
    ------
    Finding
        ``uneven step``: an error when samples were interpolated, a note when printed times were evened out.
    """
    signal = facts.signal
    for step in signal.history:
        if step.name == "resample unevenly sampled":
            smallest, largest = step.settings["smallest_step_s"], step.settings["largest_step_s"]
            yield Finding(
                kind="uneven step",
                severity="error",
                file=facts.file,
                channel=signal.channel,
                what=f"the time step is not constant: {smallest * 1e3:.4g} to {largest * 1e3:.4g} ms; "
                f"the samples were interpolated to {signal.step_s * 1e3:.4g} ms while reading",
                remedy="look for lost samples; export the channel again with its own clock",
                evidence={
                    "smallest_step_s": smallest,
                    "largest_step_s": largest,
                    "samples_recorded": step.settings["samples_before"],
                },
                start_s=signal.start_s,
                end_s=signal.end_s,
            )
        elif step.name == "even time step":
            off = step.settings["largest_deviation_s"] / signal.step_s
            if off > WORTH_A_NOTE:
                yield Finding(
                    kind="uneven step",
                    severity="note",
                    file=facts.file,
                    channel=signal.channel,
                    what=f"the printed times are up to {off:.0%} of a step off a constant step",
                    remedy="export more digits of the time",
                    evidence={"largest_deviation_s": step.settings["largest_deviation_s"]},
                )
