"""Method, criteria, windows and diagnosis of the report of a release."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.explanation import by_component, by_load_case
from correlate.criteria import Preparation, compare_recorded, qualify, recorded_criteria
from correlate.diagnosis.accounting import largest_stretches
from correlate.evaluation.channels import coded_model
from correlate.evaluation.tables import RATING
from correlate.metrics.iso18571 import RatingSettings
from correlate.plots.explanation_words import (
    ALL_CHANNELS,
    cluster_words,
    finding_words,
    hint_lines,
    place_words,
    points,
    stretch_words,
    suspect_words,
)
from correlate.plots.laboratory_words import rounded, verdict_words
from correlate.plots.loss import loss_strip
from correlate.plots.repeats import window_strip
from correlate.plots.svg_figure import figure_svg
from correlate.plots.wording import (
    COMPONENTS,
    choice_words,
    number,
    share,
    unit_words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import Campaign
    from correlate.campaign.explanation import ChannelExplanation, LoadCaseExplanation
    from correlate.criteria import (
        CriterionComparison,
        Device,
        Qualification,
        QuantityVerdict,
        Window,
        WindowBook,
    )
    from correlate.criteria.devices import Limit
    from correlate.evaluation.tables import LoadCase
    from correlate.formats import Recording
    from correlate.report.release_contents import ReleaseContents


_REPEATS = {
    "each": "every repeat of a test is rated and the mean reported",
    "mean curve": "the mean of the repeats is the one reference",
}
_MISSING = {
    "apart": "a channel without data is left out and counted",
    "zero": "a channel without data counts as a rating of 0",
}


def method(contents: ReleaseContents) -> dict[str, Any]:
    """Return how the release was rated."""
    campaign = contents.campaign
    published, used = RatingSettings().as_dict(), campaign.settings.as_dict()
    return {
        "facts": _facts(campaign),
        "components": [
            (name, meaning, number(getattr(campaign.settings.weights, name)))
            for name, meaning in COMPONENTS.items()
        ],
        "choices": choice_words(campaign.settings),
        "other": [name.replace("_", " ") for name, value in used.items() if value != published[name]],
        "weights": [(region, number(weight)) for region, weight in campaign.regions.items()],
    }


def _facts(campaign: Campaign) -> list[tuple[str, str]]:
    settings, scoring = campaign.settings, campaign.scoring
    widths = f"±{share(settings.inner_half_width)} and ±{share(settings.outer_half_width)}"
    measure = "ISO/TS 18571:2014, from memory"
    if scoring.main != RATING:
        measure = f"{measure}; what is combined into the numbers of the release is {scoring.main}"
    return [
        ("Rating of a pair", measure),
        ("Corridors", f"{widths} of the test’s peak"),
        ("Largest shift tried", f"{share(settings.largest_shift)} of the interval"),
        ("Warping band", f"{share(settings.warping_band)} of the samples"),
        ("Repeats", _REPEATS[scoring.repeats]),
        ("Missing channels", _MISSING[scoring.missing]),
        ("From channel to release", "weighted means: sensor, body region, load case, release"),
    ]


MOST_CRITERIA: Final = 3
"""Criteria on the page of a load case; all of them are in the appendix."""


def criteria_rows(criteria: CaseCriteria) -> list[dict[str, Any]]:
    """Return one row per criterion: test, model, error, published limits."""
    return [_criterion(one, criteria.device.limits_of(one.name)) for one in criteria.compared]


def leading_criteria(criteria: CaseCriteria) -> CaseCriteria:
    """Return the criteria nearest to a published limit in test or model, in the order of the table."""

    def share_of_limit(one: CriterionComparison) -> float:
        limits = [limit.at_most for limit in criteria.device.limits_of(one.name)]
        return max(abs(one.candidate), abs(one.reference)) / min(limits) if limits else 0.0

    leading = sorted(criteria.compared, key=share_of_limit, reverse=True)[:MOST_CRITERIA]
    return replace(criteria, compared=tuple(one for one in criteria.compared if one in leading))


def window_rows(windows: CaseWindows) -> list[dict[str, Any]]:
    """Return one row per quantity: window, tests, model, and where they lie on a strip."""
    columns = zip(*(one.verdicts for one in windows.tests), strict=True)
    return [
        _quantity(list(tests), model) for tests, model in zip(columns, windows.model.verdicts, strict=True)
    ]


MOST_WINDOWS: Final = 5
"""Quantities on the page of a load case, if all others are inside; all of them are in the appendix."""


def leading_window_rows(windows: CaseWindows) -> list[dict[str, Any]]:
    """Return the rows that the page shows: all that are not inside, and others as far as there is room."""
    rows = window_rows(windows)
    spare = len(rows) - MOST_WINDOWS
    kept = []
    for row in reversed(rows):
        if spare > 0 and row["inside"]:
            spare -= 1
        else:
            kept.append(row)
    return kept[::-1]


def _criterion(one: CriterionComparison, limits: tuple[Limit, ...]) -> dict[str, Any]:
    scatter = "" if one.scatter is None else f" ± {rounded(one.scatter, 2)}"
    in_scatter = one.error_in_scatter
    return {
        "name": one.name,
        "unit": "" if one.unit == "1" else unit_words(one.unit),
        "test": f"{rounded(one.reference)}{scatter}",
        "model": rounded(one.candidate),
        "error": "–" if one.relative_error is None else _percent(one.relative_error),
        "in_scatter": one.note if in_scatter is None else rounded(in_scatter, 2),
        "limits": list(dict.fromkeys(rounded(limit.at_most) for limit in limits)),
    }


def _percent(relative: float) -> str:
    words = share(float(f"{relative:.3g}"))
    return words if words.startswith("−") else f"+{words}"


def _quantity(tests: list[QuantityVerdict], model: QuantityVerdict) -> dict[str, Any]:
    known = [verdict.value for verdict in tests if verdict.value is not None]
    spread = [rounded(value) for value in dict.fromkeys([min(known), max(known)])] if known else ["–"]
    outside = sum(verdict.verdict == "outside" for verdict in tests)
    return {
        "words": model.words,
        "unit": "" if model.unit == "1" else unit_words(model.unit),
        "window": f"{rounded(model.low)} to {rounded(model.high)}",
        "tests": " to ".join(spread),
        "outside": f"{outside} of {len(tests)} outside" if outside else "",
        "model": "–" if model.value is None else rounded(model.value),
        "verdict": verdict_words(model),
        "inside": model.verdict == "inside" and not outside,
        # What to do about it is for who computes, not for who reads.
        "reason": model.reason.partition("; ")[0],
        "strip": window_strip([*tests, model]) if known or model.value is not None else None,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseCriteria:
    """Criteria of a load case.

    Attributes
    ----------
    device
        Whose constants and limits are used.
    compared
        Those that the model and every repeat have.
    """

    device: Device
    compared: tuple[CriterionComparison, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseWindows:
    """Windows of a load case.

    Attributes
    ----------
    window
        Of one qualification test.
    tests
        One a repeat.
    model
        The model against the same windows.
    """

    window: Window
    tests: tuple[Qualification, ...]
    model: Qualification


def case_criteria(
    load_case: LoadCase, tests: Sequence[Recording], model: Recording, device: Device
) -> CaseCriteria:
    """Compute the criteria of a load case within its interval of evaluation."""
    start_s, end_s = (value / 1e3 for value in load_case.interval_ms)
    asked = Preparation(start_s=start_s, end_s=end_s)
    repeats = [recorded_criteria(test, device, preparation=asked) for test in tests]
    ours = recorded_criteria(coded_model(load_case, model), device, preparation=asked)
    return CaseCriteria(device=device, compared=compare_recorded(repeats, ours))


def case_windows(
    load_case: LoadCase, tests: Sequence[Recording], model: Recording, window: Window, book: WindowBook
) -> CaseWindows:
    """Compare the tests and the model of a load case with the windows of a qualification test."""
    return CaseWindows(
        window=window,
        tests=tuple(qualify(test, window, book) for test in tests),
        model=qualify(coded_model(load_case, model), window, book),
    )


STRIP_HEIGHT: Final = 180
"""Of the drawing of the loss over time, px before it is fitted to the page."""
_STRIP_WIDTH: Final = 450
_MOST_STRIPS: Final = 2


def diagnosis(contents: ReleaseContents) -> dict[str, Any]:
    """Return what is known of the loss: costs, where in time, shared causes, suspects, hints."""
    found = contents.explanation
    channels = [*found.channels, *found.unrated]
    return {
        "found": found,
        "lost": points(1.0 - found.overall),
        "by_component": list(by_component(found.costs).items()),
        "by_load_case": [
            (name, "not rated" if name in found.unrated_load_cases and not cost else f"{cost:.3f}")
            for name, cost in by_load_case(found.costs).items()
        ],
        "channels": [_cost(channel) for channel in found.channels],
        "strips": _strips(contents),
        "shared": _shared(contents),
        "suspects": [
            *(
                (f"{case.load_case}, {ALL_CHANNELS}", [suspect_words(case.time_zero)])
                for case in found.load_cases
                if case.time_zero
            ),
            *(
                (place_words(one.cost), [suspect_words(suspect) for suspect in one.suspects])
                for one in channels
                if one.suspects
            ),
        ],
        "hints": [(case.load_case, points(case.cost), _hints(contents, case)) for case in found.load_cases],
    }


def _hints(contents: ReleaseContents, case: LoadCaseExplanation) -> list[str]:
    words = _words(contents, case.load_case)
    return hint_lines(case, words)


def _cost(channel: ChannelExplanation) -> dict[str, Any]:
    stretches = () if channel.account is None else largest_stretches(channel.account, 1)
    return {
        "place": place_words(channel.cost),
        "cost": channel.cost.cost,
        "hardware": channel.hardware_cost,
        "finding": finding_words(channel),
        "stretch": stretch_words(stretches[0]) if stretches else "",
    }


def _strips(contents: ReleaseContents) -> list[tuple[str, str]]:
    """Draw where in time the channels that cost most lose their rating."""
    listed = [one for one in contents.explanation.channels if one.account is not None][:_MOST_STRIPS]
    found = []
    for place, channel in enumerate(listed, start=1):
        if channel.account is None:
            continue
        title = f"{place_words(channel.cost)}, against {channel.repeat}"
        figure = loss_strip(channel.account, theme="light")
        words = f"Loss over time of {title}"
        found.append(
            (
                title,
                figure_svg(
                    figure, words=words, name=f"loss-{place}", height=STRIP_HEIGHT, width=_STRIP_WIDTH
                ),
            )
        )
    return found


def _shared(contents: ReleaseContents) -> list[dict[str, Any]]:
    return [
        {
            "load_case": case.load_case,
            "likeness": cluster.least_likeness,
            "words": cluster_words(cluster, _words(contents, case.load_case), case.step_s),
        }
        for case in contents.explanation.load_cases
        for cluster in case.clusters
    ]


def _words(contents: ReleaseContents, load_case: str) -> dict[str, str]:
    return {one.channel: one.words for one in contents.explanation.costs if one.load_case == load_case}
