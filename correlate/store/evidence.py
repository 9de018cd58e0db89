"""Saves what ratings stand on; the last saved of a load case and release is the present one."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from sqlalchemy import Table, select
from sqlalchemy.dialects import postgresql, sqlite

from correlate.evaluation.evidence import content_of, evidence_of
from correlate.store.tables import EVIDENCE, FINDINGS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy import Connection

    from correlate.evaluation.evidence import CaseEvidence


def save_evidence(connection: Connection, found: Iterable[CaseEvidence]) -> None:
    """Write evidence in the place of earlier evidence. See `Store.save_evidence`."""
    replace(
        connection,
        EVIDENCE,
        [
            {
                "campaign": one.campaign,
                "release": one.release,
                "load_case": one.load_case,
                "state": one.state,
                "content": json.dumps(content_of(one), ensure_ascii=True),
            }
            for one in found
        ],
    )


def read_evidence(connection: Connection, campaign: str, **only: str) -> list[CaseEvidence]:
    """Return the evidence of a campaign. See `Store.evidence`."""
    wanted = (EVIDENCE.c[name] == value for name, value in only.items())
    statement = select(EVIDENCE).where(EVIDENCE.c.campaign == campaign, *wanted)
    found = [
        evidence_of(
            json.loads(row.content),
            campaign=row.campaign,
            release=row.release,
            load_case=row.load_case,
            state=row.state,
        )
        for row in connection.execute(statement)
    ]
    # Sorted here, because each database sorts text in its own way.
    return sorted(found, key=lambda one: (one.release, one.load_case))


def save_findings(
    connection: Connection, campaign: str, load_case: str, *, state: str, content: list[dict[str, Any]]
) -> None:
    """Write findings in the place of earlier ones. See `Store.save_findings`."""
    row = {"campaign": campaign, "load_case": load_case, "state": state, "content": json.dumps(content)}
    replace(connection, FINDINGS, [row])


def read_findings(connection: Connection, campaign: str) -> dict[str, tuple[str, list[dict[str, Any]]]]:
    """Return state and findings by load case. See `Store.findings`."""
    statement = select(FINDINGS).where(FINDINGS.c.campaign == campaign)
    return {row.load_case: (row.state, json.loads(row.content)) for row in connection.execute(statement)}


def replace(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    """Write rows in the place of those that have the same primary key."""
    if not rows:
        return
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    insert = dialect.insert(table)
    names = [column.name for column in table.primary_key]
    given = {column.name: insert.excluded[column.name] for column in table.c if column.name not in names}
    statement = insert.on_conflict_do_update(index_elements=names, set_=given)
    # In one order, so that of two writers none waits for a row of the other that waits for one of its own.
    connection.execute(statement, sorted(rows, key=lambda row: [row[name] for name in names]))
