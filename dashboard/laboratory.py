"""The laboratory's data of a project: tests, checks, packages."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from correlate import (
    ChannelPlan,
    channel_cross_plot,
    channel_repeats,
    check,
    load_waivers,
    qualify,
    with_waivers,
)
from dashboard.state import stamp_of

if TYPE_CHECKING:
    from correlate import (
        Campaign,
        ChannelCrossPlot,
        ChannelRepeats,
        CheckOutcome,
        LoadCase,
        Qualification,
        Window,
        WindowBook,
    )
    from dashboard.state import Project, Stamp


@dataclass(slots=True)
class Laboratory:
    """The tests of a project, as the laboratory looks at them.

    Attributes
    ----------
    project
        Reads and keeps the recordings.
    """

    project: Project
    _checked: dict[tuple[Stamp, ...], CheckOutcome] = field(default_factory=dict, repr=False)

    def repeats(
        self, campaign: Campaign, load_case: LoadCase, plan: ChannelPlan, *, times: float
    ) -> ChannelRepeats:
        """Learn from the repeats of one channel."""
        signals = [test.channel(plan.test) for test in self.project.tests(campaign, load_case)]
        recipe = load_case.recipe(plan)
        return channel_repeats(
            signals, recipe=recipe, settings=campaign.settings, times=times, load_case=load_case.name
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
        tests = self.project.tests(campaign, load_case)
        return channel_cross_plot(
            across=[test.channel(across.test) for test in tests],
            upright=[test.channel(upright.test) for test in tests],
            across_recipe=load_case.recipe(across),
            upright_recipe=load_case.recipe(upright),
            times=times,
        )

    def checked(self, campaign: Campaign, load_case: LoadCase) -> CheckOutcome:
        """Run the data check over the repeats of a load case, once for the same files."""
        tests = self.project.tests(campaign, load_case)
        stamps = tuple(stamp_of(test.path) for test in tests)
        if stamps not in self._checked:
            self._checked[stamps] = check(tests)
        return self._checked[stamps]

    def findings_of(self, campaign: Campaign, load_case: LoadCase, name: str) -> CheckOutcome:
        """Return what the data check found in a channel, or in the axes of a resultant, waivers applied."""
        plan = load_case.rated(name)
        channels = {plan.test} if isinstance(plan, ChannelPlan) else set(plan.axes)
        outcome = with_waivers(self.checked(campaign, load_case), load_waivers(campaign.folder))
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
