"""A scored campaign as JSON, as CSV and as JUnit XML."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree as ET

from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from correlate.campaign import Campaign, Change, Check, PairRecord, ReleaseScore, Score
    from correlate.statistics import Estimate
    from correlate.store.scored import StoredScores

COLUMNS: Final = (
    "release",
    "load_case",
    "channel",
    "repeat",
    "overall",
    "grade",
    "corridor",
    "phase",
    "magnitude",
    "slope",
    "shift_s",
    "samples",
    "version",
    "key",
)
"""Columns of the CSV file, one line per rated pair."""


def scores_json(campaign: Campaign, stored: StoredScores, releases: Sequence[ReleaseScore]) -> str:
    """Return everything that came of scoring as JSON text.

    Parameters
    ----------
    campaign
        The campaign.
    stored
        Its ratings and what they stand on.
    releases
        The numbers made from them.

    Returns
    -------
    str
        Keys ``campaign, file_sha256, version, measure, repeats, missing, releases, evidence, pairs, unrated,
        unpaired``.
    """
    scores = stored.scores
    content = {
        "campaign": campaign.title,
        "file_sha256": campaign.sha256,
        "version": VERSION,
        "measure": campaign.scoring.main,
        "repeats": campaign.scoring.repeats,
        "missing": campaign.scoring.missing,
        "releases": [release_object(release) for release in releases],
        "evidence": [one.as_plain() for one in stored.evidence.values()],
        "pairs": [asdict(record) for record in scores.records],
        "unrated": [asdict(entry) for entry in scores.unrated],
        "unpaired": [asdict(entry) for entry in scores.unpaired],
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def release_object(release: ReleaseScore) -> dict[str, Any]:
    """Return the tree of a release as plain values.

    Parameters
    ----------
    release
        Its numbers.

    Returns
    -------
    dict
        Keys ``release, training, held_out, regions``; each number with ``overall, grade, weight, rated,
        expected, lowest, highest, spread, repeats, by_repeat, estimate, worst, best, parts``.
    """
    return {
        "release": release.release,
        "training": _score_object(release.training),
        "held_out": None if release.held_out is None else _score_object(release.held_out),
        "regions": [_score_object(region) for region in release.regions],
    }


def pairs_csv(records: Iterable[PairRecord]) -> str:
    """Return one line per rated pair, with a heading.

    Parameters
    ----------
    records
        Rated pairs.

    Returns
    -------
    str
        Comma-separated, decimal points, LF. Measures beside the rating follow as further columns.
    """
    listed = list(records)
    also = list(dict.fromkeys(name for record in listed for name in record.ingredients.get("also", {})))
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*COLUMNS, "flags", *also])
    for record in listed:
        others = record.ingredients.get("also", {})
        values = [others.get(name, {}).get("value") for name in also]
        flags = "; ".join(flag["name"] for flag in record.ingredients.get("flags", []))
        writer.writerow([*(getattr(record, name) for name in COLUMNS), flags, *values])
    return text.getvalue()


def changes_json(before: str, after: str, changes: Iterable[Change]) -> str:
    """Return the comparison of two releases as JSON text.

    Parameters
    ----------
    before, after
        Names of the releases.
    changes
        What changed.

    Returns
    -------
    str
    """
    listed = [
        {
            **asdict(change),
            "estimate": None if change.estimate is None else estimate_object(change.estimate),
            "difference": change.difference,
            "verdict": change.verdict,
        }
        for change in changes
    ]
    return json.dumps(
        {"before": before, "after": after, "version": VERSION, "changes": listed},
        indent=2,
        ensure_ascii=False,
    )


def estimate_object(estimate: Estimate) -> dict[str, float | int]:
    """Return an estimate with its 95 % interval as plain values.

    Parameters
    ----------
    estimate
        Of a mean or a difference.

    Returns
    -------
    dict
        Keys ``value, standard_error, degrees, count, lower, upper``.
    """
    return {**asdict(estimate), "lower": estimate.lower(), "upper": estimate.upper()}


def gate_junit(release: str, checks: Sequence[Check]) -> str:
    """Return the checks of the gate as JUnit XML, the form that build pipelines read.

    Parameters
    ----------
    release
        That was checked.
    checks
        With their reasons.

    Returns
    -------
    str
    """
    failed = sum(not check.is_passed for check in checks)
    suite = ET.Element(
        "testsuite",
        name=f"correlate gate {release}",
        tests=str(len(checks)),
        failures=str(failed),
        errors="0",
    )
    for check in checks:
        case = ET.SubElement(suite, "testcase", classname=f"release {release}", name=check.name)
        if not check.is_passed:
            ET.SubElement(case, "failure", message=check.reason)
        if check.waived:
            ET.SubElement(case, "system-out").text = f"waived: {check.waived}"
    ET.indent(suite)
    return ET.tostring(suite, encoding="unicode", xml_declaration=True) + "\n"


def _score_object(score: Score) -> dict[str, Any]:
    parts = [_score_object(part) for part in score.parts]
    plain = {key: value for key, value in asdict(score).items() if key != "parts"}
    estimate = score.estimate
    plain["estimate"] = None if estimate is None else estimate_object(estimate)
    return {**plain, "grade": score.grade, "parts": parts}
