"""What a data check found, over all tests."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import frame, row, short_repr
from correlate.reference.finding import SEVERITIES, Finding, Severity, counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pandas import DataFrame

    from correlate.reference.waivers import WaivedFinding, Waiver


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSummary:
    """The figures of one channel, whether or not anything was found.

    Attributes
    ----------
    file, channel, unit
        Which.
    sha256
        Of the file it was read from.
    samples, step_s, start_s
        Time base.
    peak, peak_s, onset_s
        Largest deviation from the baseline with its sign, when it is, when the event begins.
    offset, noise
        Before the event, in the unit of the channel; None where nothing is quiet.
    count_size
        Size of one count; None where the samples are not whole counts.
    effective_bits
        Bits that are not noise; None where unknown.
    """

    file: str
    channel: str
    unit: str
    sha256: str
    samples: int
    step_s: float
    start_s: float
    peak: float
    peak_s: float
    onset_s: float
    offset: float | None
    noise: float | None
    count_size: float | None
    effective_bits: float | None


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CheckOutcome:
    """All findings, worst first, and the figures of every channel.

    Attributes
    ----------
    findings
        Worst first; without those that are waived.
    channels
        In the order of the tests.
    load_cases
        Tests of each load case, as they were compared.
    waived
        Findings that somebody answers for.
    unused_waivers
        Waivers of these tests whose finding is not there.
    """

    findings: tuple[Finding, ...]
    channels: tuple[ChannelSummary, ...]
    load_cases: Mapping[str, tuple[str, ...]]
    waived: tuple[WaivedFinding, ...] = ()
    unused_waivers: tuple[Waiver, ...] = ()

    def count(self, severity: Severity) -> int:
        """Return the number of findings of a severity."""
        return sum(finding.severity == severity for finding in self.findings)

    @property
    def has_errors(self) -> bool:
        """Whether any finding that is not waived is an error."""
        return self.count("error") > 0

    @property
    def in_words(self) -> str:
        """One line: how many tests, channels and findings."""
        tests = len({channel.file for channel in self.channels})
        counts = Counter(finding.severity for finding in self.findings)
        found = ", ".join(counted(counts[severity], severity) for severity in SEVERITIES)
        waived = f", {len(self.waived)} waived" if self.waived else ""
        return f"{counted(tests, 'test')}, {counted(len(self.channels), 'channel')}: {found}{waived}"

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a finding.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(row(finding) for finding in self.findings)
