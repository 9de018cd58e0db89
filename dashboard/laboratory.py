"""The laboratory's data of a project: tests, checks, packages."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from threading import Lock
from typing import TYPE_CHECKING, Final, TypeVar

from correlate import (
    ChannelPlan,
    CorrelateError,
    case_health,
    channel_cross_plot,
    channel_repeats,
    check_with_register,
    checked_package,
    laboratory_overview,
    load_waivers,
    log_folder,
    project_register,
    qualify,
    read,
    signing_chain,
    unhealthy_case,
    with_waivers,
)
from dashboard.state import stamp_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from datetime import date

    from dash import Dash

    from correlate import (
        Campaign,
        CaseHealth,
        ChannelCrossPlot,
        ChannelRepeats,
        CheckOutcome,
        Corridor,
        LaboratoryOverview,
        LoadCase,
        Qualification,
        ReceivedPackage,
        Recording,
        RepeatSet,
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
        In UTC.
    """

    outcome: CheckOutcome
    moment: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedCase:
    """The health of a load case, and when its tests were checked.

    Attributes
    ----------
    health
        Of its tests.
    moment
        In UTC; None where they could not be checked.
    """

    health: CaseHealth
    moment: datetime | None


Key = TypeVar("Key")
Value = TypeVar("Value")

MOST_KEPT: Final = 500
"""Load cases and packages whose data check is remembered."""


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
    _checked: dict[tuple[Stamp, ...], Checked] = field(default_factory=dict, repr=False)
    _health: dict[tuple[object, ...], CaseHealth] = field(default_factory=dict, repr=False)
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
        """Plot one channel of the repeats against another."""
        tests = [
            test for test in self.tests(campaign, load_case, across).values() if upright.test in test
        ] or self.project.tests(campaign, load_case)
        return channel_cross_plot(
            across=[test.channel(across.test) for test in tests],
            upright=[test.channel(upright.test) for test in tests],
            across_recipe=load_case.recipe(across),
            upright_recipe=load_case.recipe(upright),
            times=times,
        )

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
        """Run the data check over the repeats of a load case, once for the same files."""
        tests = self.project.tests(campaign, load_case)
        register = project_register(self.project.folder)
        files = [test.path for test in tests] + ([] if register is None else [register.path])
        stamps = tuple(map(stamp_of, files))
        # One at a time: who asks meanwhile for the same tests waits for their outcome.
        with self._lock:
            if stamps not in self._checked:
                outcome = check_with_register(tests, register)
                _keep(self._checked, stamps, Checked(outcome=outcome, moment=datetime.now(UTC)))
            return self._checked[stamps]

    def judged(self, campaign: Campaign, load_case: LoadCase) -> CheckOutcome:
        """Return the data check of a load case with the waivers of the project."""
        return with_waivers(self.checked(campaign, load_case).outcome, load_waivers(self.project.folder))

    def health(self, campaign: Campaign) -> list[CheckedCase]:
        """Return the health of every load case, worst first."""
        waivers = load_waivers(self.project.folder)
        found = [self._health_of(campaign, load_case, waivers) for load_case in campaign.load_cases]
        return sorted(found, key=lambda one: one.health.badness, reverse=True)

    def _health_of(self, campaign: Campaign, load_case: LoadCase, waivers: WaiverBook) -> CheckedCase:
        try:
            checked = self.checked(campaign, load_case)
            notes = tuple(self.project.folder.glob("received/*.json"))
            stamps = tuple(map(stamp_of, [*campaign.test_paths(load_case), *notes]))
            key = (campaign.sha256, load_case.name, stamps, checked.moment, waivers.waivers)
            found = self._health.get(key)
            if found is None:
                found = case_health(campaign, load_case, checked.outcome, waivers=waivers)
                with self._lock:
                    _keep(self._health, key, found)
        except CorrelateError as error:
            return CheckedCase(health=unhealthy_case(load_case, error), moment=None)
        return CheckedCase(health=found, moment=checked.moment)

    def examined(self, package: ReceivedPackage) -> Checked:
        """Run the data check over the tests of a package, once for the same files."""
        stamps = (stamp_of(self.project.folder / package.folder),)
        with self._lock:
            if stamps not in self._checked:
                outcome = checked_package(self.project.folder, package)
                _keep(self._checked, stamps, Checked(outcome=outcome, moment=datetime.now(UTC)))
            return self._checked[stamps]

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


def _keep(kept: dict[Key, Value], key: Key, value: Value) -> None:
    """Keep a result; the one that was kept first makes room for it."""
    while len(kept) >= MOST_KEPT:
        del kept[next(iter(kept))]
    kept[key] = value


_LABORATORY: Final = "correlate-laboratory"


def laboratory_of(app: Dash, project: Project) -> Laboratory:
    """Return what an application knows of its tests: one for all pages, so that each is checked once."""
    found: Laboratory = app.server.extensions.setdefault(_LABORATORY, Laboratory(project))
    return found
