"""Running the data check, and its outcome."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

from correlate.display import frame, row, short_repr
from correlate.reference.check.alone import examine_alone
from correlate.reference.check.baseline import (
    examine_drift,
    examine_offset,
    examine_pre_trigger,
    examine_time_step,
)
from correlate.reference.check.between import examine_between, spoilt_channels, without_consequences
from correlate.reference.check.exchanges import examine_exchanges
from correlate.reference.check.frequency import (
    effective_bits,
    examine_frequency_class,
    examine_noise,
    examine_range,
    examine_resolution,
)
from correlate.reference.check.grouping import repeat_groups
from correlate.reference.check.reading import examine_reading
from correlate.reference.check.relations import (
    examine_expected,
    examine_redundancy,
    relations_by_code,
)
from correlate.reference.check.repeats import examine_among_repeats, trigger_shifts
from correlate.reference.check.samples import (
    examine_copies,
    examine_dropouts,
    examine_saturation,
    examine_spikes,
)
from correlate.reference.check.sensors import beside_its_sensor, with_minor_axes, with_sensors
from correlate.reference.check.statistics import statistics_of
from correlate.reference.check.trials import Trial, Trials
from correlate.reference.expectations import NOTHING_EXPECTED
from correlate.reference.finding import SEVERITIES, Finding, Severity, counted, worst_first

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from pandas import DataFrame

    from correlate.formats import Recording
    from correlate.reference.check.repeats import RepeatLikeness
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.expectations import Expectations, ExpectedLoadCase
    from correlate.reference.finding import WaivedFinding, Waiver


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
        Tests of each group of repeats, as they were compared. A second group of a load case has the reason
        behind its name, such as ``thorax (4.3 m/s)``.
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
        tests = len({one.file for one in self.channels} | {one.file for one in self.findings})
        counts = Counter(finding.severity for finding in self.findings)
        found = ", ".join(counted(counts[severity], severity) for severity in SEVERITIES)
        waived = f", {len(self.waived)} waived" if self.waived else ""
        return f"{counted(tests, 'test')}, {counted(len(self.channels), 'channel')}: {found}{waived}"

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per finding.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(row(finding) for finding in self.findings)


class _Test:
    """One test while it is being checked."""

    def __init__(self, recording: Recording) -> None:
        self.file = str(recording.path)
        self.facts = with_sensors(statistics_of(recording))
        self.recording = recording

    def channel(self, name: str) -> ChannelStatistics | None:
        return next((item for item in self.facts if item.signal.channel == name), None)


def check(
    recordings: Iterable[Recording],
    *,
    against: Iterable[Recording] = (),
    expectations: Expectations = NOTHING_EXPECTED,
) -> CheckOutcome:
    """Examine every channel of tests. Nothing is changed.

    Tests of one load case are taken for repeats and compared with each other, if they share most of their
    channels and state nearly the same mass, speed and test object.

    Parameters
    ----------
    recordings
        The tests.
    against
        Further repeats to compare with, about which nothing is reported.
    expectations
        Polarity, size and relations of channels.

    Returns
    -------
    CheckOutcome

    Examples
    --------
    >>> import numpy as np
    >>> from pathlib import Path
    >>> from correlate import Recording, Signal
    >>> pulse = np.zeros(2000)
    >>> pulse[1000:1400] = np.minimum(60.0, 100 * np.sin(np.pi * np.arange(400) / 400))
    >>> channel = Signal(samples=pulse, start_s=-0.05, step_s=5e-5, unit="g", channel="head ax")
    >>> test = Recording(signals=(channel,), path=Path("drop1"), format="computed")
    >>> [finding.kind for finding in check([test]).findings]
    ['saturation']
    """
    own, further = list(recordings), list(against)
    tests = [_Test(recording) for recording in (*own, *further)]
    findings: list[Finding] = []
    load_cases: dict[str, tuple[str, ...]] = {}
    for group in repeat_groups([*own, *further]):
        members = [index for index in group.members if index < len(own)]
        others = [index for index in group.members if index >= len(own)]
        if members:
            mine, rest = ([tests[index] for index in indices] for indices in (members, others))
            findings += _check_load_case(mine, rest, expectations, group.load_case)
            load_cases[group.name] = tuple(test.file for test in (*mine, *rest))
    return CheckOutcome(
        findings=tuple(sorted(findings, key=worst_first)),
        channels=tuple(_summary(item) for test in tests[: len(own)] for item in test.facts),
        load_cases=load_cases,
    )


def with_findings(outcome: CheckOutcome, findings: Iterable[Finding]) -> CheckOutcome:
    """Return an outcome with further findings about the same tests, worst first."""
    return replace(outcome, findings=tuple(sorted((*outcome.findings, *findings), key=worst_first)))


def together(outcomes: Sequence[CheckOutcome]) -> CheckOutcome:
    """Return the outcomes of several load cases as one, worst findings first."""
    load_cases: dict[str, tuple[str, ...]] = {}
    for outcome in outcomes:
        load_cases |= outcome.load_cases
    return CheckOutcome(
        findings=tuple(sorted((item for outcome in outcomes for item in outcome.findings), key=worst_first)),
        channels=tuple(item for outcome in outcomes for item in outcome.channels),
        waived=tuple(item for outcome in outcomes for item in outcome.waived),
        unused_waivers=tuple(item for outcome in outcomes for item in outcome.unused_waivers),
        load_cases=load_cases,
    )


def _check_load_case(
    tests: Sequence[_Test], others: Sequence[_Test], expectations: Expectations, name: str
) -> Iterator[Finding]:
    pool = (*tests, *others)
    for test, judged in zip(pool, with_minor_axes([test.facts for test in pool]), strict=True):
        test.facts = judged
    trials = Trials([Trial(test.facts) for test in pool])
    matches = _matches(trials, len(tests))
    expected = expectations.of(name)
    for index, test in enumerate(tests):
        yield from examine_reading(test.recording)
        rest = [other for other in pool if other is not test]
        trigger = trigger_shifts(test.facts, matches, index)
        exchanges = list(examine_exchanges(trials, index))
        yield from exchanges
        swapped = {name for one in exchanges for name in (one.channel, str(one.evidence["other"]))}
        own: dict[str, list[Finding]] = {}
        for facts in test.facts:
            channel = facts.signal.channel
            own[channel] = list(_check_channel(facts, [] if channel in swapped else rest))
            if channel not in swapped:
                own[channel] += examine_among_repeats(facts, matches.get((index, channel), []), trigger)
        between = list(examine_between(trials, index, own, swapped))
        yield from between
        for channel, found in own.items():
            yield from without_consequences(found, [one for one in between if one.channel == channel])
        yield from examine_copies(test.facts, [item for other in rest for item in other.facts])
        spoilt = swapped | {one.channel for one in between} | spoilt_channels(own, len(rest))
        yield from _against_expectations(test, expected, spoilt, is_alone=not rest)


def _against_expectations(
    test: _Test, expected: ExpectedLoadCase, spoilt: Collection[str], *, is_alone: bool
) -> Iterator[Finding]:
    """Compare a test with what is expected of it, and its channels with each other.

    A channel that is spoilt proves nothing about another one.
    """
    known = set(test.recording.all_names)
    for finding in examine_expected(test.facts, expected, file=test.file):
        if not (finding.kind == "missing channel" and finding.channel in known):
            yield finding
    details = test.recording.details
    names = [item.signal.channel for item in test.facts]
    relations = [*expected.relation, *relations_by_code(names, details)]
    sound = [one for one in relations if not set(one.channels).intersection(spoilt)]
    yield from examine_redundancy(test.facts, sound, details)
    if is_alone:
        stated = {channel.channel for channel in expected.channel}
        yield from examine_alone(test.facts, test.recording, stated)


def _check_channel(facts: ChannelStatistics, rest: Sequence[_Test]) -> Iterator[Finding]:
    """Examine a channel by itself, with the levels of the other repeats beside it."""
    same = [item for test in rest if (item := test.channel(facts.signal.channel)) is not None]
    alike = [beside_its_sensor(item) for item in same if item.signal.unit == facts.signal.unit]
    for finding in _examined(beside_its_sensor(facts), alike):
        words = (
            finding.what.replace("of the peak", "of the peak of its sensor")
            if facts.is_minor
            else finding.what
        )
        yield replace(finding, what=words)


def _examined(facts: ChannelStatistics, alike: Sequence[ChannelStatistics]) -> Iterator[Finding]:
    yield from examine_saturation(facts)
    yield from examine_spikes(facts)
    yield from examine_dropouts(facts)
    yield from examine_time_step(facts)
    yield from examine_pre_trigger(facts)
    yield from examine_offset(facts, alike)
    yield from examine_drift(facts, alike)
    yield from examine_noise(facts, alike)
    yield from examine_resolution(facts)
    yield from examine_range(facts)
    yield from examine_frequency_class(facts)


def _matches(
    trials: Trials, reported: int
) -> Mapping[tuple[int, str], list[tuple[ChannelStatistics, RepeatLikeness]]]:
    """Match every two repeats of every channel once, where one of the two is among the first `reported`."""
    found: dict[tuple[int, str], list[tuple[ChannelStatistics, RepeatLikeness]]] = {}
    for (i, one), (j, other) in combinations(enumerate(trials.trials), 2):
        if i >= reported:
            break
        for name, facts in one.facts.items():
            counterpart = other.facts.get(name)
            if counterpart is not None and facts.peak and counterpart.peak:
                found.setdefault((i, name), []).append((counterpart, trials.match(i, j, name)))
                found.setdefault((j, name), []).append((facts, trials.match(j, i, name)))
    return found


def _summary(facts: ChannelStatistics) -> ChannelSummary:
    signal = facts.signal
    return ChannelSummary(
        file=facts.file,
        channel=signal.channel,
        unit=signal.unit,
        sha256=signal.source.sha256,
        samples=len(signal),
        step_s=signal.step_s,
        start_s=signal.start_s,
        peak=facts.peak,
        peak_s=facts.peak_s,
        onset_s=facts.onset_s,
        offset=float(signal.samples[facts.quiet].mean()) if facts.has_quiet else None,
        noise=facts.noise if facts.has_quiet else None,
        count_size=facts.resolution or None,
        effective_bits=effective_bits(facts),
    )
