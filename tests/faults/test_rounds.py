"""Killed at any step or moment, a command leaves nothing half-done, and the next run ends as if undisturbed.

``python -m tests.faults`` does more rounds of each.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.faults.operations import OPERATIONS, Operation
from tests.faults.rounds import Bench, Program

if TYPE_CHECKING:
    from pathlib import Path

ROUNDS = 5


@pytest.mark.parametrize("operation", [one for one in OPERATIONS if one.in_suite], ids=lambda one: one.name)
def test_a_killed_operation(operation: Operation, program: Program, tmp_path: Path) -> None:
    """Five rounds, three at steps and two at moments: some are killed, nothing is broken."""
    rounds = list(Bench(program, operation, tmp_path).drawn(ROUNDS, seed=1))
    assert {one.how: one.broken for one in rounds if one.broken} == {}
    assert sum(one.killed for one in rounds) >= ROUNDS - 2
