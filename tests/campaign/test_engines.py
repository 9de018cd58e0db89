"""Whoever rates, the ratings are the same, and a lost worker costs none."""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import PairRecord, load_campaign, score_campaign
from correlate.campaign.scoring import dask_engine
from correlate.errors import SettingsError
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
