"""Killed or disturbed at any step, a command leaves nothing half-done, and the next run ends as usual.

``python -m tests.faults`` does more rounds of each.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.faults.operations import OPERATIONS, Operation, named
from tests.faults.rounds import Bench, Program

if TYPE_CHECKING:
    from pathlib import Path

ROUNDS = 5
SMALL_BYTES = 40_000
"""Less than the store of the smallest project."""


@pytest.mark.parametrize("operation", [one for one in OPERATIONS if one.in_suite], ids=lambda one: one.name)
def test_an_operation(operation: Operation, program: Program, tmp_path: Path) -> None:
    """Killed five times, three at steps and two at moments; then the disk is full, or the connection lost."""
    bench = Bench(program, operation, tmp_path)
    rounds = list(bench.drawn(ROUNDS, seed=1))
    assert sum(one.killed for one in rounds) >= ROUNDS - 2
    rounds += bench.disturbed(1, seed=1, fault=operation.fault)
    assert {one.how: one.broken for one in rounds if one.broken} == {}


def test_a_store_that_cannot_grow(program: Program, tmp_path: Path) -> None:
    """No file may be larger than the store is now: one sentence, and the store stays as it was."""
    one = Bench(program, named("sign"), tmp_path).with_largest_file(SMALL_BYTES)
    assert one.broken == ()
