"""The log of the laboratory: its qualification tests, compared with their windows as a user would do."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from correlate import TestConditions, keep_qualification, qualify, read, read_register, window_book
from demo_pairs.laboratory.life import qualification_tests
from demo_pairs.writing import REGISTER, write_record

if TYPE_CHECKING:
    from demo_pairs.laboratory.life import Life

DEVICE, TEST = "adult male", "thorax"


def make_history(life: Life, folder: Path) -> str:
    """Run the qualification tests of one thorax and keep their results; the curves are not kept."""
    # The register itself arrives in the folder with the other files of the project.
    register = replace(read_register(REGISTER), path=folder / REGISTER.name)
    book = window_book()
    window = book.find(device=DEVICE, test=TEST)
    for test in qualification_tests(life):
        with TemporaryDirectory() as beside:
            write_record(test, Path(beside) / test.name)
            recording = read(Path(beside) / test.name)
        # Kept on the evening of the test, so that every build writes the same bytes.
        evening = datetime.combine(date.fromisoformat(test.conditions.date), time(18), UTC)
        conditions = TestConditions(moment=evening)
        keep_qualification(register, qualify(recording, window, book), recording, conditions)
    return f"history {life.serial}"
