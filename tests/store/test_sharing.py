"""Several programs that rate the same release at once do the work of one."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier, Event
from typing import TYPE_CHECKING, Any

import pytest

from correlate import RunInfo, load_campaign, open_store, score_into
from correlate.metrics.iso18571 import rate_checked
from correlate.private_folder import STATE_VARIABLE
from correlate.store import sharing
from correlate.store.sharing import ReleaseLocks
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from correlate import CampaignScores

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60
PAIRS = 16
"""That can be rated, in two releases."""


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Write the small project, and look often."""
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path / "state"))
    monkeypatch.setattr(sharing, "LOOK_S", 0.01)
    return write_project(tmp_path / "project")


@pytest.fixture
def kernel(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Count the pairs that the kernel rates, of all programs in this process."""
    counts: list[int] = []

    def counted(pairs: Any, *told: Any, **more: Any) -> Any:
        counts.append(len(pairs))
        return rate_checked(pairs, *told, **more)

    monkeypatch.setattr("correlate.campaign.block.rate_checked", counted)
    return counts


def scored(project: Path, progress: Any = None, releases: tuple[str, ...] = ()) -> CampaignScores:
    """Rate the project as a job does."""
    campaign = load_campaign(project)
    with open_store(project / "ratings.sqlite") as store:
        run = RunInfo.now()
        return score_into(store, campaign, releases, run=run, progress=progress, workers=1).scores


def test_two_that_begin_together_rate_every_pair_once(project: Path, kernel: list[int]) -> None:
    """Both return all ratings; together they did the work of one."""
    begin = Barrier(2)

    def one() -> CampaignScores:
        begin.wait(PATIENCE_S)
        return scored(project)

    with ThreadPoolExecutor(2) as threads:
        first, second = (one.result(PATIENCE_S) for one in [threads.submit(one) for _ in range(2)])
    assert sum(kernel) == PAIRS
    assert first.new + second.new == PAIRS
    assert first.reused + second.reused == PAIRS
    assert [one.overall for one in first.records] == [one.overall for one in second.records]


def test_a_second_one_waits_for_what_the_first_is_at(project: Path, kernel: list[int]) -> None:
    """It says how far it is meanwhile, and rates a release that nobody is at."""
    begun, waits = Event(), Event()
    told: list[tuple[int, int]] = []

    def stop_after_the_first_block(done: int, _: int) -> None:
        if done == 1:
            begun.set()
            assert waits.wait(PATIENCE_S)

    def look(done: int, total: int) -> None:
        told.append((done, total))
        if told.count((3, 4)) == 2:
            waits.set()

    with ThreadPoolExecutor(1) as threads:
        first = threads.submit(scored, project, stop_after_the_first_block, ("A2",))
        assert begun.wait(PATIENCE_S)
        second = scored(project, look)
        assert (first.result().new, second.new, second.reused) == (8, 8, 8)
    assert sum(kernel) == PAIRS
    assert told[:4] == [(1, 4), (2, 4), (3, 4), (3, 4)]
    assert told[-1] == (4, 4)


def test_one_that_waits_can_be_cancelled(project: Path) -> None:
    """What it is told while it waits may raise, and nothing stays locked."""
    locks = ReleaseLocks(str(project / "ratings.sqlite"), load_campaign(project).title)
    assert locks.take_free(["A1", "A2"]) == ["A1", "A2"]

    def cancel(*_: int) -> None:
        raise KeyError

    with pytest.raises(KeyError):
        scored(project, cancel)
    locks.let_go_all()
    assert scored(project).new == PAIRS


RATING = """
import sys
from correlate import RunInfo, load_campaign, open_store, score_into

def look(done, total):
    if done == 3:
        print("rated", flush=True)
        input()

campaign = load_campaign(sys.argv[1])
with open_store(campaign.folder / "ratings.sqlite") as store:
    score_into(store, campaign, run=RunInfo.now(), progress=look, workers=1)
"""


def test_what_a_killed_program_was_at_is_rated_by_the_one_that_waits(project: Path) -> None:
    """Its lock ends with it; what it had saved is used."""
    begun, waited = Event(), Event()
    command = [sys.executable, "-c", RATING, str(project)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    with (
        subprocess.Popen(
            command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        ) as other,
        ThreadPoolExecutor(1) as threads,
    ):
        assert other.stdout
        assert other.stdout.readline() == "rated\n"

        def look(done: int, _: int) -> None:
            begun.set()
            if done < 4:
                waited.set()

        second = threads.submit(scored, project, look)
        assert waited.wait(PATIENCE_S)
        other.send_signal(signal.SIGKILL)
        found = second.result(PATIENCE_S)
    assert 0 < found.new < PAIRS
    assert found.new + found.reused == PAIRS


def test_without_a_folder_for_locks_everything_is_rated(
    project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A state folder that cannot be used keeps nobody from rating."""
    (tmp_path / "a-file").touch()
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path / "a-file"))
    assert scored(project).new == PAIRS


def test_of_two_that_want_the_same_releases_one_gets_all(project: Path) -> None:
    """Whoever does not get all has none, so that nobody waits for ever."""
    one, other = (ReleaseLocks(str(project), "campaign") for _ in range(2))
    assert one.take_all(["B", "A"]) == ["B", "A"]
    assert other.take_all(["C", "A"]) == []
    assert one.take_all([]) == []
    one.let_go("A")
    assert other.take_all(["C", "A"]) == ["C", "A"]
    assert other.take_free(["B", "D"]) == ["D"]
