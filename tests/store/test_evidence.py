"""Evidence and findings in the store: the last saved is the present one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from correlate.campaign.release_evidence import TestFindings
from correlate.evaluation import CaseEvidence, ChannelEvidence
from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from correlate.store import Store

CHANNEL = ChannelEvidence(
    channel="Δ force",
    expected=2,
    found=("R1",),
    rated=("R1",),
    missing={"R2": "R2.csv, line 4: 'x' is not a number"},
    pairs=("R1",),
)
CASE = CaseEvidence(campaign="C", release="B1", load_case="push", state="one", channels=(CHANNEL,))


def test_evidence_is_replaced_case_by_case(store: Store) -> None:
    """Another state of one load case takes the place of the earlier one; others stay."""
    other = replace(CASE, release="B2")
    store.save_evidence([CASE, other, replace(CASE, campaign="D")])
    store.save_evidence([replace(CASE, state="two", channels=())])
    assert store.evidence("C") == [replace(CASE, state="two", channels=()), other]
    assert store.evidence("E") == []


def test_findings_are_replaced_with_their_state(store: Store) -> None:
    """What the check found last, by load case."""
    one = Finding(kind="offset", severity="error", file="R1.csv", channel="ax", what="w", remedy="r")
    found = TestFindings(load_case="push", state="two", findings=(one,))
    store.save_findings("C", "push", state="one", content=[])
    store.save_findings("C", "push", state="two", content=found.as_plain())
    store.save_findings("C", "pull", state="one", content=[])
    assert store.findings("C") == {
        "push": found,
        "pull": TestFindings(load_case="pull", state="one", findings=()),
    }
