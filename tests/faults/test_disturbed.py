"""A full disk and a lost connection end a command with one sentence, and cost nothing that was there.

``python -m tests.faults --fault "full disk"`` does more rounds of each.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.faults.operations import OPERATIONS, Operation
from tests.faults.rounds import Bench, Program

if TYPE_CHECKING:
    from pathlib import Path

WRITES_FILES = [
    one
    for one in OPERATIONS
    if one.fill is None and one.in_suite and one.name not in {"score", "sign", "migration", "tune fit"}
]
"""The others write databases alone, or last; a full disk of SQLite is a test of its own."""
USES_A_SERVER = [one for one in OPERATIONS if one.fill is not None and one.in_suite]


@pytest.mark.parametrize("operation", WRITES_FILES, ids=lambda one: one.name)
def test_a_full_disk(operation: Operation, program: Program, tmp_path: Path) -> None:
    """From a drawn step on nothing can be created; with space again, the same command ends as usual."""
    rounds = Bench(program, operation, tmp_path).disturbed(2, 1, "full disk")
    assert {one.how: one.broken for one in rounds if one.broken} == {}


@pytest.mark.parametrize("operation", USES_A_SERVER, ids=lambda one: one.name)
def test_a_lost_connection(operation: Operation, program: Program, tmp_path: Path) -> None:
    """The server ends the connection before a drawn statement; the next run ends as usual."""
    rounds = Bench(program, operation, tmp_path).disturbed(3, 1, "lost connection")
    assert {one.how: one.broken for one in rounds if one.broken} == {}


@pytest.mark.parametrize("name", ["score on a small disk", "sign on a small disk"])
def test_a_store_that_cannot_grow(name: str, program: Program, tmp_path: Path) -> None:
    """No file may exceed what the store has now: one sentence, and the store stays sound."""
    from tests.faults.operations import named  # noqa: PLC0415

    bench = Bench(program, named(name.removesuffix(" on a small disk")), tmp_path)
    one = bench.with_largest_file(40_000)
    assert one.broken == ()
