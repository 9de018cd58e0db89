"""Health of the reference data of a campaign: what a laboratory has to look at first."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from correlate.campaign.ceilings import campaign_ceilings
from correlate.campaign.release_evidence import divided, released_tests
from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.reference.repeatability import LEAST_REPEATS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from correlate.campaign.ceilings import ChannelCeiling
    from correlate.campaign.release_evidence import ReleasedTests
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase
    from correlate.reference.finding import Finding, WaiverBook


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CaseHealth:
    """What is known of the tests of a load case.

    Attributes
    ----------
    load_case
        As the campaign plans it.
    tests
        Names of the tests.
    channels
        Different channels in them.
    errors, warnings
        Open findings of the data check. Errors are those that the gate counts: a channel that cannot be
        used and that nobody plans is a warning.
    waived
        Findings that somebody answers for.
    missing
        Planned channels that a test does not have, by the name of the test.
    weakest
        Channel whose repeats agree least; None with fewer than three repeats.
    released
        Tests whose package somebody released from quarantine.
    worst_channel
        Planned channel with the worst open finding, as an entry for whoever looks; empty for none.
    problem
        Why the tests cannot be examined, or the repeats not be compared; empty when they can.
    """

    load_case: LoadCase
    tests: tuple[str, ...] = ()
    channels: int = 0
    errors: int = 0
    warnings: int = 0
    waived: int = 0
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    weakest: ChannelCeiling | None = None
    released: tuple[ReleasedTests, ...] = ()
    worst_channel: str = ""
    problem: str = ""

    @property
    def expected_tests(self) -> int:
        """Tests that there should be."""
        return self.load_case.expected_repeats or len(self.tests)

    @property
    def missing_channels(self) -> int:
        """How many planned channels are missing in a test, over all tests."""
        return sum(map(len, self.missing.values()))

    @property
    def is_sound(self) -> bool:
        """Whether nothing is open: no problem, error, warning, missing test or channel."""
        lacking = self.problem or self.errors or self.warnings or self.missing
        return not lacking and len(self.tests) >= self.expected_tests

    @property
    def badness(self) -> tuple[float, ...]:
        """Sort key, larger is worse: problem, errors, what is missing, warnings, then least repeatability."""
        lacking = max(0, self.expected_tests - len(self.tests)) + self.missing_channels
        repeatability = 0.0 if self.weakest is None else self.weakest.median
        return (float(bool(self.problem)), self.errors, lacking, self.warnings, 1.0 - repeatability)

    @property
    def repeatability_words(self) -> str:
        """The rating of the weakest channel, or why there is none."""
        if self.weakest is None:
            return f"needs {LEAST_REPEATS} tests"
        return f"{self.weakest.median:.3f}"


def unhealthy_case(load_case: LoadCase, error: CorrelateError) -> CaseHealth:
    """Return the health of a load case whose tests cannot be found or read."""
    return CaseHealth(load_case=load_case, problem=str(error))


def case_health(
    campaign: Campaign,
    load_case: LoadCase,
    findings: Iterable[Finding],
    *,
    waivers: WaiverBook,
    known: Mapping[str, ChannelCeiling] | None = None,
) -> CaseHealth:
    """Say what is known of the tests of a load case.

    Parameters
    ----------
    campaign, load_case
        Whose tests.
    findings
        Of the data check of all of them, without waivers.
    waivers
        Of the project.
    known
        Known ceilings by key; they are not computed again.

    Returns
    -------
    CaseHealth

    Raises
    ------
    FormatError
        The tests cannot be found, or one cannot be read.
    """
    tests = campaign.tests(load_case)
    errors, accepted, others = divided(load_case, findings, waivers)
    # Read here and not kept: the samples of all tests would fill the memory of a server.
    held = {name: {*campaign.read_test(path, load_case).channel_names} for name, path in tests.items()}
    lacking = {
        name: tuple(plan.test for plan in load_case.channel if plan.test not in channels)
        for name, channels in held.items()
    }
    planned = {plan.test for plan in load_case.channel}
    weakest, problem = _weakest(campaign, load_case, known)
    return CaseHealth(
        load_case=load_case,
        tests=tuple(tests),
        channels=len(set().union(*held.values())),
        errors=len(errors),
        warnings=sum(one.severity != "note" for one in others),
        waived=len(accepted),
        missing={name: channels for name, channels in lacking.items() if channels},
        weakest=weakest,
        released=tuple(released_tests(campaign, load_case)),
        worst_channel=next((one.channel for one in (*errors, *others) if one.channel in planned), ""),
        problem=problem,
    )


def _weakest(
    campaign: Campaign, load_case: LoadCase, known: Mapping[str, ChannelCeiling] | None
) -> tuple[ChannelCeiling | None, str]:
    """Return the channel whose repeats agree least, or why they cannot be compared."""
    try:
        ceilings = list(campaign_ceilings(campaign, load_cases=[load_case.name], known=known))
    except CorrelateError as error:
        return None, f"the repeats cannot be compared: {error}"
    return min(ceilings, key=lambda one: one.median, default=None), ""
