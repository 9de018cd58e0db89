"""Whoever rates, the ratings are the same, and a lost worker costs none."""

from __future__ import annotations

import os
import shutil
import signal
import sys
from collections import Counter
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest
from distributed.diagnostics.plugin import SchedulerPlugin

from correlate.campaign import CampaignScores, PairRecord, load_campaign, score_campaign, scoring
from correlate.campaign.delivery import Delivery, FirstHalf, Saving
from correlate.campaign.scoring import _bundle, _deliveries_of, _delivery_of, dask_engine
from correlate.errors import SettingsError, StoreError
from correlate.evaluation.evidence import InputStates
from correlate.parallel import WORKERS, libraries, scheduled
from correlate.store import RunInfo, open_store, score_into
from tests.campaign.conftest import half_sine, write_columns

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from distributed import LocalCluster

    from correlate.evaluation.evidence import CaseEvidence

RELEASES = 12


@pytest.fixture
def many_releases(project: Path) -> Path:
    """Add releases to the small project, each a little different."""
    text = (project / "campaign.toml").read_text(encoding="utf-8")
    for number in range(2, RELEASES + 1):
        write_columns(
            project / f"model-{number}" / "push.csv",
            {
                "probe force [N]": -half_sine(6.0, 3900.0 + number),
                "compression [m]": half_sine(8.0, 0.055 + 1e-3 * number),
            },
        )
        text += f'\n[[release]]\nname = "B{number}"\nfolder = "model-{number}"\n'
    (project / "campaign.toml").write_text(text, encoding="utf-8")
    return project


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Start a scheduler and two worker processes on this machine, without a page."""
    from distributed import LocalCluster  # noqa: PLC0415 - slow, and only these tests need it

    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as started:
        yield started


@pytest.mark.parametrize(("worth_s", "most"), [(0.0, 1), (1e6, 0)])
def test_another_process_starts_only_where_enough_work_is_left(
    many_releases: Path, monkeypatch: pytest.MonkeyPatch, *, worth_s: float, most: int
) -> None:
    """If the number of processes is left out, the work that is left decides; the ratings are the same."""
    started = []
    start = WORKERS.Process.start

    def counted(own: Any) -> None:
        started.append(own)
        start(own)

    monkeypatch.setattr(WORKERS.Process, "start", counted)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr(scoring, "WORTH_S", worth_s)
    campaign = load_campaign(many_releases)
    left_out = score_campaign(campaign)
    assert len(started) == most
    assert left_out.records == score_campaign(campaign, workers=1).records


def test_a_scheduler_gives_the_same_and_loses_nothing_with_a_worker(
    many_releases: Path, cluster: LocalCluster
) -> None:
    """One of two workers is killed after the first block: every pair comes once, as in one process."""
    campaign = load_campaign(many_releases)
    victims = [worker.pid for worker in cluster.workers.values()]
    kept: list[PairRecord] = []

    def keep(records: list[PairRecord], _: CaseEvidence) -> None:
        kept.extend(records)
        if victims:
            os.kill(victims.pop(), signal.SIGKILL)
            victims.clear()

    scores = score_campaign(campaign, keep=keep, engine=dask_engine(cluster.scheduler_address))
    alone = score_campaign(campaign, workers=1)
    assert scores.records == alone.records
    assert sorted(one.key for one in kept) == sorted(one.key for one in alone.records)


def test_what_is_known_is_not_rated_by_a_scheduler(many_releases: Path, cluster: LocalCluster) -> None:
    """Known keys travel, and come back as reused."""
    campaign = load_campaign(many_releases)
    known = {one.key: one for one in score_campaign(campaign, releases=["B1", "B2"], workers=1).records}
    scores = score_campaign(campaign, known=known, engine=dask_engine(cluster.scheduler_address))
    assert (scores.reused, scores.new) == (8, 4 * (RELEASES - 2))


class Computed(SchedulerPlugin):
    """Counts how often each task was computed."""

    def __init__(self) -> None:
        self.times: Counter[str] = Counter()

    def transition(self, key: Any, start: str, finish: str, *_: Any, **__: Any) -> None:
        """Note that a result has arrived."""
        if (start, finish) == ("processing", "memory") and str(key).startswith("blocks-"):
            self.times[key] += 1


def test_two_programs_at_once_share_the_tasks(many_releases: Path, cluster: LocalCluster) -> None:
    """A program that submits what another has submitted gets its results: each task is computed once."""
    campaign, computed = load_campaign(many_releases), Computed()
    engine = dask_engine(cluster.scheduler_address)
    second: list[CampaignScores] = []

    def keep(*_: object) -> None:
        if not second:
            second.append(score_campaign(campaign, engine=engine))

    scheduler: Any = cluster.scheduler
    scheduler.add_plugin(computed, name="computed")
    first = score_campaign(campaign, keep=keep, engine=engine)
    scheduler.remove_plugin("computed")
    assert first.records == second[0].records
    assert len(first.records) == 4 * RELEASES
    assert set(computed.times.values()) == {1}


def test_another_state_or_setting_is_another_task(many_releases: Path) -> None:
    """The key of a task changes with a byte of a result and with what is known, and with nothing else."""
    campaign = load_campaign(many_releases)
    jobs = [("push", "B1"), ("push", "B2")]

    def key(*common: str) -> str:
        return _bundle(campaign, jobs, common).key

    before = key("a")
    assert key("a") == before != key("b")
    result = many_releases / "model-2" / "push.csv"
    result.write_bytes(result.read_bytes() + b"\n")
    assert key("a") != before


def test_a_stopped_program_continues_from_what_was_saved(many_releases: Path, cluster: LocalCluster) -> None:
    """What had arrived is in the store and is not rated again; the store then has every pair once."""
    campaign, engine = load_campaign(many_releases), dask_engine(cluster.scheduler_address)

    def stop(done: int, _: int) -> None:
        if done == 3:
            raise KeyError

    with open_store(many_releases / "ratings.sqlite") as store:
        with pytest.raises(KeyError):
            score_into(store, campaign, run=RunInfo.now(), engine=engine, progress=stop)
        saved = {one.key for one in store.ratings()}
        scores = score_into(store, campaign, run=RunInfo.now(), engine=engine).scores
        assert saved
        assert (scores.reused, scores.new) == (len(saved), 4 * RELEASES - len(saved))
        alone = score_campaign(campaign, workers=1)
        assert scores.records == alone.records
        assert len(store.ratings()) == len(alone.records)
        assert store.evidence(campaign.title) == sorted(alone.evidence, key=lambda one: one.release)


def test_a_copy_of_a_project_is_read_where_it_lies(many_releases: Path, cluster: LocalCluster) -> None:
    """A worker that has rated one project does not rate its files for another with the same campaign file."""
    engine = dask_engine(cluster.scheduler_address)
    copy = many_releases.with_name(f"{many_releases.name}-copy")
    shutil.copytree(many_releases, copy)
    write_columns(
        copy / "model" / "push.csv",
        {"probe force [N]": -half_sine(9.0, 2900.0), "compression [m]": half_sine(8.0, 0.075)},
    )
    for folder in (many_releases, copy):
        campaign = load_campaign(folder)
        alone = score_campaign(campaign, workers=1)
        assert score_campaign(campaign, engine=engine).records == alone.records


def test_a_worker_with_other_libraries_is_refused(
    many_releases: Path, cluster: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence names the library, both versions and the machine."""
    there = libraries()
    monkeypatch.setattr(scoring, "libraries", lambda: there | {"numpy": "0.1"})
    with pytest.raises(SettingsError, match=rf"a worker has numpy {there['numpy']}, this program 0\.1"):
        score_campaign(load_campaign(many_releases), engine=dask_engine(cluster.scheduler_address))


def test_a_worker_that_reads_other_files_is_refused(
    many_releases: Path, cluster: LocalCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a worker rated belongs to the files that the program sees, or is not used."""
    monkeypatch.setattr(InputStates, "of", lambda *_: "0" * 64)
    kept: list[object] = []
    with pytest.raises(SettingsError, match=r"'push' of release 'B.*': a worker read other files"):
        score_campaign(
            load_campaign(many_releases),
            keep=lambda *told: kept.append(told),
            engine=dask_engine(cluster.scheduler_address),
        )
    assert kept == []


def refuse(_: object) -> None:
    """Refuse as a server does whose disk is full."""
    raise StoreError("the disk of the database is full", where="server", remedy="free some space")


def test_the_result_of_another_task_is_refused(many_releases: Path) -> None:
    """In one sentence with place and remedy, before anything of it is used."""
    campaign = load_campaign(many_releases)
    asked = _bundle(campaign, [("push", "B1")], ())
    swapped = SimpleNamespace(status="finished", result=lambda: ("blocks-of-others", None))
    with pytest.raises(SettingsError, match=r"a worker returned the result of another task; score again"):
        _delivery_of(swapped, asked)


def test_results_before_a_refused_one_are_used(many_releases: Path) -> None:
    """Tasks that ended together are one delivery; a refused one and those after it are not used."""
    campaign = load_campaign(many_releases)
    bundles = [_bundle(campaign, [("push", f"B{number}")], ()) for number in range(1, 5)]
    ended = [
        (one, SimpleNamespace(status="finished", result=lambda one=one: (one.key, delivered(one))))
        for one in bundles
    ]
    ended[2][1].result = lambda: ("blocks-of-others", None)
    found = _deliveries_of(ended)
    first = next(found)
    assert (first.jobs, first.prepared) == (
        [("push", "B1"), ("push", "B2")],
        [bundles[0].key, bundles[1].key],
    )
    with pytest.raises(SettingsError, match=r"release 'B3': a worker returned the result of another task"):
        next(found)


def delivered(bundle: Any) -> Delivery:
    """Return the parts of a worker's result that are used."""
    blocks: list[Any] = [SimpleNamespace(evidence=SimpleNamespace(state=state)) for state in bundle.states]
    return Delivery(bundle.jobs, blocks, [bundle.key])


def test_tasks_that_ended_meanwhile_come_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """At most four at once; each comes once and is released, and as many more are submitted."""
    released: list[object] = []

    class Ended(list[Any]):
        """Tasks that end as soon as they are submitted."""

        def __init__(self, **_: object) -> None:
            super().__init__()
            self.add = self.append

        def next_batch(self) -> list[Any]:
            """Return the tasks that were submitted since the last call."""
            batch = [*self]
            self.clear()
            return batch

    def submit(_: object, task: int, **__: object) -> object:
        return SimpleFuture(task, released)

    client = SimpleNamespace(loop=None, nthreads=dict, submit=submit, cancel=list)
    monkeypatch.setattr("distributed.as_completed", Ended)
    batches = [[task for task, _ in one] for one in scheduled(client, abs, range(200))]
    assert [len(batch) for batch in batches] == [4] * 50
    assert [task for batch in batches for task in batch] == released == [*range(200)]


class SimpleFuture:
    """A future that has ended."""

    def __init__(self, task: int, released: list[object]) -> None:
        self._task, self._released = task, released

    def release(self) -> None:
        """Record that the result is not needed any more."""
        self._released.append(self._task)


def test_what_a_worker_cannot_save_is_said_in_its_words(many_releases: Path, cluster: LocalCluster) -> None:
    """The sentence of the store arrives as it is, with place and remedy."""
    saving = Saving(first=FirstHalf(prepare=refuse, keeps=True), finish=refuse)
    with pytest.raises(StoreError, match=r"^server: the disk of the database is full; free some space$"):
        score_campaign(
            load_campaign(many_releases), saving=saving, engine=dask_engine(cluster.scheduler_address)
        )


def test_no_scheduler_is_one_sentence(many_releases: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An address where nothing answers is named, with the remedy."""
    monkeypatch.setattr("correlate.parallel.PATIENCE_S", 0.2)
    engine = dask_engine("tcp://127.0.0.1:9")
    with pytest.raises(SettingsError, match=r"no scheduler answers at tcp://127\.0\.0\.1:9; start it"):
        score_campaign(load_campaign(many_releases), engine=engine)


def test_a_missing_library_is_one_sentence(many_releases: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the library of the scheduler is not installed, the extra that brings it is named."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SettingsError, match="a library that is not installed; install the extra 'scale'"):
        score_campaign(load_campaign(many_releases), engine=dask_engine("tcp://127.0.0.1:9"))
