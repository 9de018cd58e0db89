"""Criteria and windows as rows of tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate.plots.laboratory_words import rounded, verdict_words
from correlate.plots.window_strip import window_strip
from correlate.plots.wording import share, unit_words

if TYPE_CHECKING:
    from correlate.criteria import CriterionComparison, QuantityVerdict
    from correlate.criteria.devices import Limit
    from correlate.report.release_criteria import CaseCriteria, CaseWindows


def criteria_rows(criteria: CaseCriteria) -> list[dict[str, Any]]:
    """Return one row per criterion: test, model, error, published limits.

    Parameters
    ----------
    criteria
        Of a load case.

    Returns
    -------
    list of dict
    """
    return [_criterion(one, criteria.device.limits_of(one.name)) for one in criteria.compared]


def window_rows(windows: CaseWindows) -> list[dict[str, Any]]:
    """Return one row per quantity: window, tests, model, and where they lie on a strip.

    Parameters
    ----------
    windows
        Of a load case.

    Returns
    -------
    list of dict
    """
    columns = zip(*(one.verdicts for one in windows.tests), strict=True)
    return [
        _quantity(list(tests), model) for tests, model in zip(columns, windows.model.verdicts, strict=True)
    ]


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
        "limits": [f"{rounded(limit.at_most)}: {limit.source}, {limit.edition}" for limit in limits],
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
        # What to do about it is for who computes, not for who reads.
        "reason": model.reason.partition("; ")[0],
        "strip": window_strip([*tests, model]) if known or model.value is not None else None,
    }
