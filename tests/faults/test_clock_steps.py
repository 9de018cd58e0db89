"""The clock goes a year forward, or an hour back: what is newest is what was saved last."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from correlate import kept_qualifications, open_store, qualify, window_book
from correlate.laboratory import TestConditions, keep_qualification
from dashboard.access import Account, Role
from dashboard.jobs.worker import LostJobs
from tests.dashboard.jobs.at_work import desk
from tests.dashboard.project import write_project
from tests.laboratory.books import WINDOWS, pushed, register_in
from tests.store.writer import RUN, numbered_record

if TYPE_CHECKING:
    from pathlib import Path

STEPS = (timedelta(days=366), timedelta(hours=-1))
NAMES = ("campaign", "release", "load_case", "channel", "repeat")
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


@pytest.mark.parametrize("step", STEPS, ids=str)
def test_the_present_rating_is_the_one_saved_last(step: timedelta, tmp_path: Path) -> None:
    """Whatever the time of its run says."""
    first = numbered_record(0)
    second = replace(numbered_record(1), **{name: getattr(first, name) for name in NAMES})
    with open_store(tmp_path / "ratings.sqlite") as store:
        store.keep([first], run=replace(RUN, started=NOW))
        store.keep([second], run=replace(RUN, started=NOW + step))
        assert store.ratings() == [second]
        store.keep([first], run=replace(RUN, started=NOW + step / 2))
        assert store.ratings() == [first]


@pytest.mark.parametrize("step", STEPS, ids=str)
def test_the_result_of_a_qualification_is_the_one_saved_last(step: timedelta, tmp_path: Path) -> None:
    """A second result of the same recording counts, and saving it again adds nothing."""
    register, recording = register_in(tmp_path), pushed(50.0)
    for limits, moment in (("[40, 60]", NOW), ("[40, 45]", NOW + step), ("[40, 45]", NOW + step / 2)):
        file = tmp_path / "windows.toml"
        file.write_text(WINDOWS.replace("[40, 60]", limits), encoding="utf-8")
        book = window_book([file])
        found = qualify(recording, book.find(device="KELP-M", test="pelvis"), book)
        keep_qualification(register, found, recording, TestConditions(moment=moment))
    (counts,) = kept_qualifications(register)
    assert not counts.passed
    assert len(list((tmp_path / "qualifications").iterdir())) == 2


@pytest.mark.parametrize("step", STEPS, ids=str)
def test_jobs_keep_their_turn_and_their_worker(
    step: timedelta, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The job that was started first is done first, and a worker whose heartbeat goes back is not dead."""
    work = desk(write_project(tmp_path / "project"), tmp_path / "jobs")
    analyst = Account(name="analyst", role=Role.ANALYST)
    shown = [NOW]
    monkeypatch.setattr("dashboard.jobs.worker.process_is_gone", lambda _: False)

    def now() -> str:
        return shown[0].isoformat()

    monkeypatch.setattr("dashboard.jobs.table._now", now)
    numbers = [work.jobs.start("check", {"load_cases": ["drop"]}, analyst)]
    shown[0] += step
    numbers.append(work.jobs.start("check", {"load_cases": ["drop"]}, analyst))
    assert work.table.claim(work.worker.name) == numbers[0]
    lost = LostJobs(work.table)
    lost.give_up("somebody else")
    shown[0] -= 2 * step
    work.table.beat(work.worker.name)
    lost.give_up("somebody else")
    assert work.jobs.state(numbers[0]).stage == "running"
