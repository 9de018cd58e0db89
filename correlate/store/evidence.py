"""Saves the evidence behind ratings; the last saved of a load case and release is the present one."""

from __future__ import annotations

import json
from dataclasses import replace as dataclass_replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from correlate.campaign.release_evidence import TestFindings, findings_of_plain
from correlate.evaluation.evidence import content_of, evidence_of
from correlate.store import aggregates
from correlate.store.tables import EVIDENCE, FINDINGS, bound

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy import Connection

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.store.tables import Bound


def save_evidence(connection: Connection, found: Iterable[CaseEvidence]) -> None:
    """Write evidence in the place of earlier evidence. See `Store.save_evidence`."""
    rows = {(one.campaign, one.release, one.load_case): one for one in found}
    aggregates.lock(connection, rows)
    aggregates.replace(connection, EVIDENCE, [evidence_row(one) for one in rows.values()])
    for block in rows:
        aggregates.evidence_saved(connection, block)


def evidence_row(one: CaseEvidence) -> Bound:
    """Make the row of evidence."""
    row = {
        "campaign": one.campaign,
        "release": one.release,
        "load_case": one.load_case,
        "state": one.state,
        "content": json.dumps(content_of(one), ensure_ascii=True),
    }
    return bound(EVIDENCE, row)


def read_evidence(connection: Connection, campaign: str, **only: str) -> list[CaseEvidence]:
    """Return the evidence of a campaign. See `Store.evidence`."""
    wanted = (EVIDENCE.c[name] == value for name, value in only.items())
    statement = select(EVIDENCE).where(EVIDENCE.c.campaign == campaign, *wanted)
    found = [
        dataclass_replace(
            _evidence(row.content),
            campaign=row.campaign,
            release=row.release,
            load_case=row.load_case,
            state=row.state,
        )
        for row in connection.execute(statement)
    ]
    # Sorted here, because each database sorts text in its own way.
    return sorted(found, key=lambda one: (one.release, one.load_case))


@lru_cache(maxsize=64)
def _evidence(text: str) -> CaseEvidence:
    """Read the content of evidence; the caller adds names and state."""
    return evidence_of(json.loads(text), campaign="", release="", load_case="", state="")


def save_findings(
    connection: Connection, campaign: str, load_case: str, *, state: str, content: list[dict[str, Any]]
) -> None:
    """Write findings in the place of earlier ones. See `Store.save_findings`."""
    row = {"campaign": campaign, "load_case": load_case, "state": state, "content": json.dumps(content)}
    aggregates.replace(connection, FINDINGS, [bound(FINDINGS, row)])


def read_findings(connection: Connection, campaign: str) -> dict[str, TestFindings]:
    """Return findings by load case. See `Store.findings`."""
    statement = select(FINDINGS).where(FINDINGS.c.campaign == campaign)
    return {
        row.load_case: _findings(row.load_case, row.state, row.content)
        for row in connection.execute(statement)
    }


@lru_cache(maxsize=64)
def _findings(load_case: str, state: str, content: str) -> TestFindings:
    """Read findings; cached, because pages request them often."""
    return findings_of_plain(load_case, state, json.loads(content))
