"""The laboratory's data of a project: tests, checks, packages."""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from threading import Lock
from typing import TYPE_CHECKING, Final

from correlate import (
    REGISTER_FILE,
    ChannelPlan,
    CheckOutcome,
    CorrelateError,
    case_health,
    channel_cross_plot,
    channel_repeats,
    checked_package,
    checked_tests,
    laboratory_overview,
    load_waivers,
    log_folder,
    present_findings,
    project_register,
    qualify,
    read,
    signing_chain,
    unhealthy_case,
    with_waivers,
)
from correlate.remembered import Remembered
from dashboard.state import stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Hashable
    from datetime import date
    from pathlib import Path

    from dash import Dash

    from correlate import (
        Campaign,
        CaseHealth,
        ChannelCrossPlot,
        ChannelRepeats,
        Corridor,
        LaboratoryOverview,
        LoadCase,
        Qualification,
        ReceivedPackage,
        Recording,
        RepeatSet,
        TestFindings,
        WaiverBook,
        Window,
        WindowBook,
    )
    from dashboard.state import Project, Stamp


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureWords:
    """Who signed a package, as it is known today.

    Attributes
    ----------
    words
        Signer, date, key, and why it is trusted or not.
    objection
        Why the signature is not accepted; empty where there is no objection.
    """

    words: str
    objection: str


def signature_words(project: Project, package: ReceivedPackage) -> SignatureWords:
    """Return who signed a package, by the trusted keys of the project today."""
    try:
        chain = signing_chain(project.folder, package)
    except CorrelateError as error:
        words = project.without_folder(str(error))
        return SignatureWords(words=words, objection=words)
    return SignatureWords(words=chain.words, objection=chain.objection)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """The data check of some tests, and when it ran.

    Attributes
    ----------
    outcome
        Without waivers.
    moment
        In UTC; None if the findings were saved with the ratings.
    """

    outcome: CheckOutcome
    moment: datetime | None = None

    @property
    def words(self) -> str:
        """When it was checked, in words."""
        return f"{self.moment:%Y-%m-%d %H:%M} UTC" if self.moment else "when it was rated"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedCase:
    """The health of a load case, and when its tests were checked.

    Attributes
    ----------
    health
        Of its tests.
    checked
        When they were checked; empty if they could not be.
    """

    health: CaseHealth
    checked: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampaignHealth:
    """What is known so far about the tests of a campaign.

    Attributes
    ----------
    cases
        Load cases that have been examined, worst first.
    waiting
        The others, in the order of the campaign file.
    """

    cases: tuple[CheckedCase, ...]
    waiting: tuple[LoadCase, ...]


MOST_KEPT: Final = 500
"""Load cases and packages whose data check is remembered."""

MOST_CROSS_PLOTS: Final = 32
"""Cross-plots that are kept, each less than 1 MB for 1,500 samples."""

LONGEST_S: Final = 0.05
"""Processor time after which a request examines no further load case; one that it began is finished."""


@dataclass(slots=True)
class Laboratory:
    """The tests of a project, as the laboratory looks at them.

    Attributes
    ----------
    project
        Reads and keeps the recordings.
    """

    project: Project
    _lock: Lock = field(default_factory=Lock, repr=False)
    _checked: Remembered[Checked] = field(default_factory=lambda: Remembered(MOST_KEPT), repr=False)
    _health: Remembered[CheckedCase] = field(default_factory=lambda: Remembered(MOST_KEPT), repr=False)
    _cross_plots: Remembered[ChannelCrossPlot] = field(
        default_factory=lambda: Remembered(MOST_CROSS_PLOTS), repr=False
    )
    _dummies_lock: Lock = field(default_factory=Lock, repr=False)
    _dummies: dict[tuple[object, ...], LaboratoryOverview] = field(default_factory=dict, repr=False)

    def repeats(
        self,
        campaign: Campaign,
        load_case: LoadCase,
        plan: ChannelPlan,
        *,
        band: Callable[[RepeatSet], Corridor],
    ) -> ChannelRepeats:
        """Compute scatter, ceiling and corridor of one channel; a test without the channel is left out."""
        signals = [test.channel(plan.test) for test in self.tests(campaign, load_case, plan).values()]
        recipe = load_case.recipe(plan)
        return channel_repeats(
            signals, recipe=recipe, settings=campaign.settings, band=band, load_case=load_case.name
        )

    def cross_plot(
        self,
        campaign: Campaign,
        load_case: LoadCase,
        *,
        across: ChannelPlan,
        upright: ChannelPlan,
        times: float,
    ) -> ChannelCrossPlot:
        """Plot one channel of the repeats against another; computed once for the same files."""
        stamps = tuple(map(stamp_of, campaign.test_paths(load_case)))
        key = (campaign.sha256, load_case.name, across.test, upright.test, times, stamps)
        known = self._cross_plots.get(key)
        if known is None:
            tests = [
                test for test in self.tests(campaign, load_case, across).values() if upright.test in test
            ] or self.project.tests(campaign, load_case)
            known = channel_cross_plot(
                across=[test.channel(across.test) for test in tests],
                upright=[test.channel(upright.test) for test in tests],
                across_recipe=load_case.recipe(across),
                upright_recipe=load_case.recipe(upright),
                times=times,
            )
            self._cross_plots.put(key, known)
        return known

    def tests(
        self, campaign: Campaign, load_case: LoadCase, plan: ChannelPlan | None = None
    ) -> dict[str, Recording]:
        """Return the tests of a load case by name: all, or those that have a channel."""
        read = self.project.tests(campaign, load_case)
        named = dict(zip(campaign.tests(load_case), read, strict=True))
        if plan is None:
            return named
        return {name: test for name, test in named.items() if plan.test in test} or named

    def checked(self, campaign: Campaign, load_case: LoadCase) -> Checked:
        """Return the outcome of the data check for a load case, computed once for the same files.

        Findings that were saved with the ratings are used if tests and register have not changed since.
        """
        files = [*campaign.test_paths(load_case), *self._register_file]
        # Layouts determine how the tests are read, and the campaign file names them.
        key = (campaign.sha256, load_case.name, *map(stamp_of, files))
        # One at a time: other requests for the same tests wait for the outcome.
        with self._lock:
            known = self._checked.get(key)
            if known is None:
                known = self._saved_check(campaign, load_case) or _new_check(campaign, load_case)
                self._checked.put(key, known)
            return known

    @property
    def _register_file(self) -> list[Path]:
        """The register, with which the data check compares the tests; empty if there is none."""
        file = self.project.folder / REGISTER_FILE
        return [file] if file.exists() else []

    def _saved_check(self, campaign: Campaign, load_case: LoadCase) -> Checked | None:
        found = present_findings(self.project.findings(campaign), campaign, load_case)
        return None if found is None else Checked(outcome=_outcome(found))

    def judged(self, campaign: Campaign, load_case: LoadCase) -> CheckOutcome:
        """Return the data check of a load case with the waivers of the project."""
        return with_waivers(self.checked(campaign, load_case).outcome, load_waivers(self.project.folder))

    def health(self, campaign: Campaign, longest_s: float = LONGEST_S) -> CampaignHealth:
        """Examine further load cases for a limited time, then return the health of all that are known.

        A load case without saved findings takes seconds, so no request waits for all. Each request
        examines at least one, if any is left.
        """
        looked = _Looked(
            waivers=load_waivers(self.project.folder),
            notes=tuple(map(stamp_of, [*self.project.folder.glob("received/*.json"), *self._register_file])),
        )
        end = time.thread_time() + longest_s
        found: list[CheckedCase] = []
        waiting: list[LoadCase] = []
        is_late = False
        for load_case in campaign.load_cases:
            known = self._known_health(campaign, load_case, looked)
            if known is None and not is_late:
                known = self._new_health(campaign, load_case, looked)
                is_late = time.thread_time() >= end
            if known is None:
                waiting.append(load_case)
            else:
                found.append(known)
        found.sort(key=lambda one: one.health.badness, reverse=True)
        return CampaignHealth(cases=tuple(found), waiting=tuple(waiting))

    def _known_health(self, campaign: Campaign, load_case: LoadCase, looked: _Looked) -> CheckedCase | None:
        try:
            return self._health.get(looked.key(campaign, load_case))
        except CorrelateError as error:  # its tests do not exist
            return CheckedCase(health=unhealthy_case(load_case, error), checked="")

    def _new_health(self, campaign: Campaign, load_case: LoadCase, looked: _Looked) -> CheckedCase:
        # Before anything is read, so that tests that change meanwhile are examined again.
        key = looked.key(campaign, load_case)
        try:
            checked = self.checked(campaign, load_case)
            health = case_health(
                campaign,
                load_case,
                checked.outcome.findings,
                waivers=looked.waivers,
                known={one.key: one for one in self.project.ceilings(campaign)},
            )
            found = CheckedCase(health=health, checked=checked.words)
        except CorrelateError as error:
            found = CheckedCase(health=unhealthy_case(load_case, error), checked="")
        self._health.put(key, found)
        return found

    def examined(self, package: ReceivedPackage) -> Checked:
        """Run the data check over the tests of a package, once for the same files."""
        key = (stamp_of(self.project.folder / package.folder),)
        with self._lock:
            known = self._checked.get(key)
            if known is None:
                outcome = checked_package(self.project.folder, package)
                known = Checked(outcome=outcome, moment=datetime.now(UTC))
                self._checked.put(key, known)
            return known

    def recordings(self, files: Collection[str]) -> list[Recording]:
        """Read some tests that no load case needs to use."""
        return [read(file) for file in sorted(files)]

    def findings_of(self, campaign: Campaign, load_case: LoadCase, name: str) -> CheckOutcome:
        """Return what the data check found in a channel, or in the axes of a resultant, waivers applied."""
        plan = load_case.rated(name)
        channels = {plan.test} if isinstance(plan, ChannelPlan) else set(plan.axes)
        outcome = self.judged(campaign, load_case)
        return replace(
            outcome,
            findings=tuple(one for one in outcome.findings if one.channel in {*channels, ""}),
            waived=tuple(one for one in outcome.waived if one.finding.channel in {*channels, ""}),
        )

    def qualified(
        self, campaign: Campaign, load_case: LoadCase, *, window: Window, book: WindowBook
    ) -> list[Qualification]:
        """Compare every repeat with the windows of a qualification test."""
        return [qualify(test, window, book) for test in self.project.tests(campaign, load_case)]

    def dummies(self, day: date) -> LaboratoryOverview | None:
        """Return the state of every dummy on a day; None where the project has no register."""
        register = project_register(self.project.folder)
        if register is None:
            return None
        log = log_folder(register)
        key = (register.sha256, stamp_of(log) if log.is_dir() else (), day)
        with self._dummies_lock:
            if key not in self._dummies:
                # Only the newest is asked for again.
                self._dummies = {key: laboratory_overview(register, day)}
            return self._dummies[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looked:
    """What the health of all load cases depends on besides their tests, at one moment."""

    waivers: WaiverBook
    notes: tuple[Stamp, ...]

    def key(self, campaign: Campaign, load_case: LoadCase) -> Hashable:
        """Return a key that changes when the health of a load case may have changed; refuse without tests."""
        tests = tuple(map(stamp_of, campaign.test_paths(load_case)))
        return campaign.sha256, load_case.name, tests, self.notes, self.waivers.waivers


def _new_check(campaign: Campaign, load_case: LoadCase) -> Checked:
    outcome = _outcome(checked_tests(campaign, load_case))
    return Checked(outcome=outcome, moment=datetime.now(UTC))


def _outcome(found: TestFindings) -> CheckOutcome:
    """Return findings in the form that waivers are applied to; only findings are saved."""
    return CheckOutcome(findings=found.findings, channels=(), load_cases={})


_LABORATORY: Final = "correlate-laboratory"


def laboratory_of(app: Dash, project: Project) -> Laboratory:
    """Return what an application knows of its tests: one for all pages, so that each is checked once."""
    found: Laboratory = app.server.extensions.setdefault(_LABORATORY, Laboratory(project))
    return found
