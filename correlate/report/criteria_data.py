"""Criteria and qualification windows as JSON, with the steps behind every value and the caution."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from correlate.criteria import CAUTION, NijResult, compare_recorded
from correlate.evaluation.record import input_words, plain
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.criteria import (
        Device,
        Qualification,
        RecordedCriteria,
        RecordedCriterion,
    )


def qualification_json(found: Sequence[Qualification]) -> str:
    """Return recordings against the windows of one test as JSON text.

    Parameters
    ----------
    found
        At least one, all against the same windows.

    Returns
    -------
    str
        Keys ``device, test, source, checked, data, caution, version``; of every entry of ``data`` keys
        ``file, passed, quantities, signals``.
    """
    window = found[0].window
    return _text(
        {
            "device": window.device,
            "test": window.test,
            "source": window.provenance,
            "checked": window.checked,
            "data": [
                {
                    "file": one.path,
                    "passed": one.passed,
                    "quantities": [asdict(verdict) for verdict in one.verdicts],
                    "signals": {name: input_words(signal) for name, signal in one.signals.items()},
                }
                for one in found
            ],
            "caution": CAUTION,
            "version": VERSION,
        }
    )


def criteria_json(repeats: Sequence[RecordedCriteria], candidate: RecordedCriteria | None) -> str:
    """Return the criteria of a test, its repeats and a model as JSON text.

    Parameters
    ----------
    repeats
        At least one.
    candidate
        Of the model; None without one.

    Returns
    -------
    str
        Keys ``device, repeats, candidate, comparison, limits, caution, version``.
    """
    device = repeats[0].device
    compared = () if candidate is None else compare_recorded(repeats, candidate)
    return _text(
        {
            "device": {"name": device.name, "source": device.source},
            "repeats": [_recording(one) for one in repeats],
            "candidate": None if candidate is None else _recording(candidate),
            "comparison": [asdict(one) for one in compared],
            "limits": _limits(device),
            "caution": CAUTION,
            "version": VERSION,
        }
    )


def _recording(one: RecordedCriteria) -> dict[str, Any]:
    return {"file": one.path, "criteria": [_criterion(entry) for entry in one.entries]}


def _criterion(entry: RecordedCriterion) -> dict[str, Any]:
    words: dict[str, Any] = {
        "name": entry.criterion.name,
        "place": entry.place,
        "unit": entry.criterion.unit,
        "value": entry.value,
        "start_s": entry.start_s,
        "end_s": entry.end_s,
        "reason": entry.reason,
        "signals": [input_words(signal) for signal in entry.signals],
    }
    if isinstance(entry.result, NijResult):
        words |= {"case": entry.result.case, "cases": dict(entry.result.cases)}
    return words


def _limits(device: Device) -> list[dict[str, Any]]:
    return [asdict(limit) for limit in device.limits]


def _text(content: dict[str, Any]) -> str:
    return json.dumps(plain(content), indent=2, ensure_ascii=False, allow_nan=False)
