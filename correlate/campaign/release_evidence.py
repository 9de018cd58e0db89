"""Evidence of a release: what is missing, stale or doubtful, for the gate and wherever a number is shown."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.case import CaseEvaluation
from correlate.evaluation.curves import Missing
from correlate.evaluation.evidence import InputStates
from correlate.file_hashes import file_hashes
from correlate.reference.finding import Finding, WaivedFinding, counted, load_waivers
from correlate.reference.package.received import release_of_test

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from correlate.campaign.scoring import Named
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.evidence import CaseEvidence, ChannelEvidence
    from correlate.evaluation.tables import Limits, LoadCase, Release
    from correlate.reference.finding import WaiverBook
    from correlate.reference.package.received import PackageRelease

GapKind = Literal["channel not rated", "repeat missing", "stale", "data error"]

NO_RECORD: Final = "there is no record of the repeats and files behind its ratings; score it"
"""Why ratings without evidence count as stale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """One thing that a release lacks.

    Attributes
    ----------
    kind
        ``channel not rated``, ``repeat missing``, ``stale`` or ``data error``.
    load_case, channel, repeat
        Where; empty for all of them.
    reason
        Why, in one sentence.
    cause
        What of it is the same for everything that is missing for this reason; empty where nothing is known.
    held_out
        Whether tuning may not use the load case.
    """

    kind: GapKind
    load_case: str
    channel: str = ""
    repeat: str = ""
    reason: str
    cause: str = ""
    held_out: bool = False

    @property
    def place(self) -> str:
        """Load case, channel and repeat, as far as they are named."""
        return " / ".join(word for word in (self.load_case, self.channel, self.repeat) if word)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class TestFindings:
    """What the data check says of the tests of one load case.

    Attributes
    ----------
    load_case
        Its name.
    state
        Of the tests when they were checked.
    findings
        Errors, warnings and notes, worst first.
    """

    __test__ = False  # this is no collection of tests

    load_case: str
    state: str
    findings: tuple[Finding, ...]

    def as_plain(self) -> list[dict[str, Any]]:
        """Return the findings as plain values, for the store."""
        return [
            {name: getattr(one, name) for name in ("kind", "severity", "file", "channel", "what", "remedy")}
            for one in self.findings
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleasedTests:
    """Tests of a load case whose package somebody released from quarantine.

    Attributes
    ----------
    load_case, package
        Names.
    tests
        Names of the tests.
    record
        Who released it, when and why.
    """

    load_case: str
    package: str
    tests: tuple[str, ...]
    record: PackageRelease

    @property
    def words(self) -> str:
        """Load case, tests, package and the record, for people."""
        return f"{self.load_case}: {', '.join(self.tests)} of package {self.package}, {self.record.words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseSummary:
    """The part of the evidence of a load case that shows its gaps.

    Attributes
    ----------
    state
        State of its files and settings when it was rated.
    channels
        Names of the channels.
    lacking
        Channels with gaps, by name.
    earlier
        Repeats of these channels that have a rating, current or earlier, of the release or of any.
    """

    state: str
    channels: tuple[str, ...]
    lacking: Mapping[str, ChannelEvidence]
    earlier: Mapping[str, Collection[str]]


def case_summary(found: CaseEvidence, earlier: Mapping[str, Collection[str]]) -> CaseSummary:
    """Return the summary of evidence; `earlier` are the rated repeats of each channel."""
    lacking = {one.channel: one for one in found.channels if lacks(one, earlier.get(one.channel, ()))}
    return CaseSummary(
        state=found.state,
        channels=tuple(one.channel for one in found.channels),
        lacking=lacking,
        earlier={name: earlier.get(name, ()) for name in lacking},
    )


@short_repr
@dataclass(frozen=True, kw_only=True)
class ReleaseEvidence:
    """The evidence behind the ratings of one release.

    Attributes
    ----------
    release
        Its name.
    cases
        What is known of each load case, in the order of the campaign.
    gaps
        Everything that is missing, stale or wrong.
    waived_in
        Findings of the data check that somebody answers for, by load case.
    findings_in
        Open findings of the data check that are no errors, or are of channels in no pair that cannot be used,
        by load case.
    limits
        That the release must keep.
    released
        Tests whose package was released from quarantine.
    """

    release: str
    cases: tuple[CaseEvidence, ...]
    gaps: tuple[Gap, ...]
    waived_in: Mapping[str, tuple[WaivedFinding, ...]]
    findings_in: Mapping[str, tuple[Finding, ...]]
    limits: Limits
    released: tuple[ReleasedTests, ...] = ()

    @property
    def waived(self) -> tuple[WaivedFinding, ...]:
        """Waived findings of all load cases."""
        return tuple(one for found in self.waived_in.values() for one in found)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Open findings that are no errors, of all load cases."""
        return tuple(one for found in self.findings_in.values() for one in found)

    def of(self, kind: GapKind, load_cases: Collection[str] | None = None) -> tuple[Gap, ...]:
        """Return the gaps of a kind, of all or of some load cases."""
        return tuple(
            gap
            for gap in self.gaps
            if gap.kind == kind and (load_cases is None or gap.load_case in load_cases)
        )

    @property
    def flags(self) -> dict[str, int]:
        """How many pairs have each warning beside the rating, the most frequent first."""
        counts: dict[str, int] = {}
        for case in self.cases:
            for channel in case.channels:
                for name, count in channel.flags.items():
                    counts[name] = counts.get(name, 0) + count
        return dict(sorted(counts.items(), key=lambda item: -item[1]))

    def marks(self, load_cases: Collection[str] | None = None, channel: str = "") -> tuple[str, ...]:
        """Return what must stand beside a number, in a few words each.

        Parameters
        ----------
        load_cases
            Behind the number; all when left out.
        channel
            Behind the number; all when empty.

        Returns
        -------
        tuple of str
            Such as ``stale``, ``2 channels not rated``, ``3 repeats missing``; empty where nothing is.
        """
        cases = self._gaps_in if load_cases is None else load_cases
        found = (gap for case in cases for gaps in self._gaps_of(case, channel) for gap in gaps)
        return marks_of_gaps(found, of_channel=bool(channel))

    def _gaps_of(self, load_case: str, channel: str) -> Iterable[Sequence[Gap]]:
        """Return the gaps behind a result: for a channel, its own and those of the whole load case."""
        of_case = self._gaps_in.get(load_case, {})
        return (of_case.get("", ()), of_case.get(channel, ())) if channel else of_case.values()

    @cached_property
    def _gaps_in(self) -> dict[str, dict[str, list[Gap]]]:
        """Gaps by load case and channel; those of all channels under no name."""
        found: dict[str, dict[str, list[Gap]]] = {}
        for gap in self.gaps:
            found.setdefault(gap.load_case, {}).setdefault(gap.channel, []).append(gap)
        return found

    def as_plain(self) -> dict[str, Any]:
        """Return everything as plain values, for JSON."""
        return {
            "release": self.release,
            "load_cases": [
                {"load_case": case.load_case, "state": case.state, "channels": case.as_plain()}
                for case in self.cases
            ],
            "flags": self.flags,
            "gaps": [asdict(gap) for gap in self.gaps],
            "waived": [
                {
                    "finding": one.finding.kind,
                    "test": Path(one.finding.file).name,
                    "channel": one.finding.channel,
                    **one.waiver.model_dump(mode="json", include={"who", "date", "why"}),
                }
                for one in self.waived
            ],
            "findings": [
                {"kind": one.kind, "severity": one.severity, "place": one.place, "what": one.what}
                for one in self.findings
            ],
            "released": [asdict(one) for one in self.released],
            "limits": self.limits.model_dump(),
        }


def marks_of_gaps(gaps: Iterable[Gap], *, of_channel: bool = False) -> tuple[str, ...]:
    """Return the marks beside a result with gaps; see :meth:`ReleaseEvidence.marks`."""
    kinds = [gap.kind for gap in gaps]
    if not kinds:
        return ()
    not_rated, missing = kinds.count("channel not rated"), kinds.count("repeat missing")
    errors = kinds.count("data error")
    return (
        *(["stale"] if "stale" in kinds else []),
        *(["not rated" if of_channel else f"{counted(not_rated, 'channel')} not rated"] if not_rated else []),
        *([f"{counted(missing, 'repeat')} missing"] if missing else []),
        *([counted(errors, "data error")] if errors else []),
    )


class EvidenceToday:
    """Checks the evidence behind ratings of a campaign against the files, findings and waivers of one moment.

    What all releases share is determined once, so a new instance is needed for each check.

    Parameters
    ----------
    campaign
        The campaign.
    findings
        Latest findings of the data check, by load case.
    waivers
        Waivers of the project.
    states
        States of the inputs at the same moment, if known.
    """

    def __init__(
        self,
        campaign: Campaign,
        *,
        findings: Mapping[str, TestFindings],
        waivers: WaiverBook,
        states: InputStates | None = None,
    ) -> None:
        self._campaign = campaign
        self._states = states or InputStates(campaign)
        self._rated_names = {case.name: case.rated_names for case in campaign.load_cases}
        self._judged = {
            case.name: _judged(case, findings.get(case.name), waivers, self._state_of_check(case))
            for case in campaign.load_cases
        }

    def gaps(self, release: str, summaries: Mapping[str, CaseSummary]) -> tuple[Gap, ...]:
        """Return all gaps of a release, from summaries of its evidence by load case."""
        of = self._campaign.release(release)
        found: list[Gap] = []
        for case in self._campaign.load_cases:
            summary = summaries.get(case.name)
            stale = "" if summary is None else self._why_stale(of, case, summary)
            found += _gaps_of_ratings(case, self._rated_names[case.name], summary, stale)
            found += self._judged[case.name][0]
        return tuple(found)

    def evidence(
        self, release: str, cases: Mapping[str, CaseEvidence], gaps: tuple[Gap, ...]
    ) -> ReleaseEvidence:
        """Return the evidence behind the ratings of a release, from that of its load cases and its gaps."""
        campaign = self._campaign
        return ReleaseEvidence(
            release=release,
            cases=tuple(cases[case.name] for case in campaign.load_cases if case.name in cases),
            gaps=gaps,
            waived_in={name: tuple(judged[1]) for name, judged in self._judged.items()},
            findings_in={name: tuple(judged[2]) for name, judged in self._judged.items()},
            limits=campaign.limits,
            released=self._released,
        )

    @cached_property
    def _released(self) -> tuple[ReleasedTests, ...]:
        return tuple(
            one for case in self._campaign.load_cases for one in released_tests(self._campaign, case)
        )

    def _why_stale(self, release: Release, case: LoadCase, found: CaseSummary) -> str:
        try:
            today = self._states.of(release, case)
        except CorrelateError as error:
            return str(error)
        return "" if today == found.state else "files, settings or version differ from those that were rated"

    def _state_of_check(self, case: LoadCase) -> str | None:
        try:
            return state_of_check(self._campaign, case, self._states)
        except CorrelateError:
            return None


def released_tests(campaign: Campaign, case: LoadCase) -> list[ReleasedTests]:
    """Return the tests of a load case whose packages were released from quarantine, by package."""
    records: dict[str, PackageRelease] = {}
    tests: dict[str, list[str]] = {}
    try:
        named = campaign.tests(case)
    except CorrelateError:
        return []  # what has no tests has none of a package
    for name, path in named.items():
        found = release_of_test(campaign.folder, path)
        if found is not None:
            records[found[0]] = found[1]
            tests.setdefault(found[0], []).append(name)
    return [
        ReleasedTests(load_case=case.name, package=package, tests=tuple(tests[package]), record=record)
        for package, record in records.items()
    ]


def repeats_by_place(earlier: Iterable[Named]) -> dict[str, dict[str, set[str]]]:
    """Return the repeats with a rating, by load case and channel."""
    found: dict[str, dict[str, set[str]]] = {}
    for one in earlier:
        found.setdefault(one.load_case, {}).setdefault(one.channel, set()).add(one.repeat)
    return found


def evidence_by_release(
    campaign: Campaign,
    releases: Iterable[str],
    *,
    evidence: Iterable[CaseEvidence],
    findings: Mapping[str, TestFindings],
    earlier: Iterable[Named],
) -> dict[str, ReleaseEvidence]:
    """Return the current evidence behind the ratings of several releases, with the waivers of the project.

    A test that was removed is missed in every release, also in those rated afterwards: `earlier` are the
    repeats that any release was rated with.
    """
    today = EvidenceToday(campaign, findings=findings, waivers=load_waivers(campaign.folder))
    repeats = repeats_by_place(earlier)
    cases: dict[str, dict[str, CaseEvidence]] = {}
    for one in evidence:
        cases.setdefault(one.release, {})[one.load_case] = one
    found = {}
    for name in releases:
        of_release = cases.get(name, {})
        summaries = {case: case_summary(one, repeats.get(case, {})) for case, one in of_release.items()}
        found[name] = today.evidence(name, of_release, today.gaps(name, summaries))
    file_hashes(campaign.folder).save()
    return found


def state_of_check(campaign: Campaign, load_case: LoadCase, states: InputStates | None = None) -> str:
    """Return the hash of the tests of a load case and of the register that they are compared with."""
    from correlate.laboratory import project_register  # noqa: PLC0415 - slow to load

    register = project_register(campaign.folder)
    state = (states or InputStates(campaign)).of_tests(load_case)
    return state if register is None else hashlib.sha256(f"{state} {register.sha256}".encode()).hexdigest()


def checked_tests(campaign: Campaign, load_case: LoadCase) -> TestFindings:
    """Run the data check over the tests of a load case."""
    from correlate.laboratory import check_with_register, project_register  # noqa: PLC0415 - slow to load

    # Before anything is read: tests that change meanwhile then count as not checked.
    state = state_of_check(campaign, load_case)
    case = CaseEvaluation(campaign, load_case)
    read = [one for one in map(case.test, case.paths) if not isinstance(one, Missing)]
    found = check_with_register(read, project_register(campaign.folder)).findings if read else ()
    return TestFindings(load_case=load_case.name, state=state, findings=tuple(found))


def findings_of_plain(load_case: str, state: str, content: Sequence[Mapping[str, Any]]) -> TestFindings:
    """Return the findings that :meth:`TestFindings.as_plain` wrote."""
    return TestFindings(load_case=load_case, state=state, findings=tuple(Finding(**row) for row in content))


def _gaps_of_ratings(
    case: LoadCase, rated_names: tuple[str, ...], found: CaseSummary | None, stale: str
) -> list[Gap]:
    if found is None:
        return [Gap(kind="stale", load_case=case.name, reason=NO_RECORD, held_out=case.held_out)]
    gaps = []
    if stale:
        gaps.append(Gap(kind="stale", load_case=case.name, reason=stale, held_out=case.held_out))
    if not found.lacking and found.channels == rated_names:
        return gaps
    known = frozenset(found.channels)
    for name in rated_names:
        if name in found.lacking:
            gaps += _gaps_of_channel(case, found.lacking[name], found.earlier.get(name, ()))
        elif name not in known:
            gaps.append(
                Gap(
                    kind="channel not rated",
                    load_case=case.name,
                    channel=name,
                    reason="it was not in the campaign when the release was rated",
                    held_out=case.held_out,
                )
            )
    return gaps


def lacks(found: ChannelEvidence, earlier: Collection[str]) -> bool:
    """Tell whether a channel, or a repeat of it, is not rated; `earlier` are its repeats with a rating."""
    return not found.rated or bool(_missing(found, earlier))


def _missing(found: ChannelEvidence, earlier: Collection[str]) -> dict[str, str]:
    """Return why each unrated repeat is not rated, by its name."""
    missing = dict(found.missing)
    named = {*found.found, *found.missing}
    # A mean is named after the number of its repeats; it is not a repeat itself.
    for repeat in sorted({*earlier} - named):
        if not repeat.startswith("mean of "):
            missing[repeat] = "it was rated before, but the campaign no longer names it"
    if found.expected - len(found.rated) - len(missing) > 0:
        missing[""] = f"{found.expected} tests are expected, {len(named)} are named"
    return missing


def _gaps_of_channel(case: LoadCase, found: ChannelEvidence, earlier: Collection[str]) -> list[Gap]:
    if not found.rated:
        reasons = list(dict.fromkeys(found.missing.values())) or ["there is no repeat"]
        return [
            Gap(
                kind="channel not rated",
                load_case=case.name,
                channel=found.channel,
                reason="; ".join(reasons),
                cause="; ".join(dict.fromkeys(found.causes.values())),
                held_out=case.held_out,
            )
        ]
    return [
        Gap(
            kind="repeat missing",
            load_case=case.name,
            channel=found.channel,
            repeat=repeat,
            reason=reason,
            cause=found.causes.get(repeat, ""),
            held_out=case.held_out,
        )
        for repeat, reason in _missing(found, earlier).items()
    ]


def divided(
    case: LoadCase, findings: Iterable[Finding], waivers: WaiverBook
) -> tuple[list[Finding], list[WaivedFinding], list[Finding]]:
    """Divide findings into open errors, accepted ones, and other open ones.

    A channel that cannot be used stands against the release only where the campaign plans it.
    """
    planned = {plan.test for plan in case.channel}
    errors: list[Finding] = []
    accepted: list[WaivedFinding] = []
    others: list[Finding] = []
    for finding in findings:
        waiver = waivers.waiver_of(finding)
        if waiver is not None:
            accepted.append(WaivedFinding(finding, waiver))
        elif finding.severity == "error" and (finding.kind != "set aside" or finding.channel in planned):
            errors.append(finding)
        else:
            others.append(finding)
    return errors, accepted, others


@lru_cache(maxsize=4096)
def _stem(file: str) -> str:
    """Return the name of a test; cached, because many findings are about one test."""
    return Path(file).stem


def _judged(
    case: LoadCase, found: TestFindings | None, waivers: WaiverBook, state: str | None
) -> tuple[list[Gap], list[WaivedFinding], list[Finding]]:
    """Divide the findings of a load case, and say of open errors that the release lacks sound data."""
    if found is None or found.state != state:
        reason = "the current tests were not checked; score the release"
        gap = Gap(kind="data error", load_case=case.name, reason=reason, held_out=case.held_out)
        return [gap], [], []
    errors, accepted, others = divided(case, found.findings, waivers)
    gaps = [
        Gap(
            kind="data error",
            load_case=case.name,
            channel=finding.channel,
            repeat=_stem(finding.file),
            reason=f"{finding.kind}: {finding.what}",
            held_out=case.held_out,
        )
        for finding in errors
    ]
    return gaps, accepted, others
