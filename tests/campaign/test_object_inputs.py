"""A campaign in object storage is rated as from a disk, and nothing looks fresh that is not known to be."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import load_campaign, score_campaign
from correlate.campaign.scoring import dask_engine
from correlate.errors import CorrelateError, FormatError
from correlate.evaluation.evidence import inputs_state
from correlate.store import open_store, stored_board
from dashboard.state import Project
from tests.cli.conftest import correlate as correlate_in_process
from tests.object_server import object_server

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release
    from tests.cli.conftest import Outcome
    from tests.object_server import ObjectServer


correlate = correlate_in_process


@pytest.fixture
def server(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Iterator[ObjectServer]:
    """Start an empty server."""
    with object_server(tmp_path_factory.mktemp("cache"), monkeypatch) as started:
        yield started


@pytest.fixture
def remote(project: Path, server: ObjectServer, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the small campaign, with its data in object storage and nowhere else."""
    server.put_folder(project / "tests", "tests/push")
    server.put_folder(project / "model", "releases/B1")
    text = (project / "campaign.toml").read_text(encoding="utf-8")
    text = text.replace('"tests/*.csv"', '"s3://bucket/tests/push/*.csv"')
    text = text.replace('folder = "model"', 'folder = "s3://bucket/releases/B1"')
    folder = tmp_path_factory.mktemp("remote")
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return folder


def test_ratings_are_the_same_as_from_a_disk(project: Path, remote: Path) -> None:
    """Keys, numbers and everything saved with them are equal; files are named by their addresses."""
    here = score_campaign(load_campaign(project), workers=1)
    there = score_campaign(load_campaign(remote), workers=1)
    assert len(there.records) == 4
    text = json.dumps([record.inputs for record in there.records])
    assert "s3://bucket/tests/push/R1.csv" in text
    assert "/objects/" not in text
    named = text.replace("s3://bucket/tests/push/", f"{project}/tests/")
    named = named.replace("s3://bucket/releases/B1/", f"{project}/model/")
    assert json.loads(named) == json.loads(json.dumps([record.inputs for record in here.records]))
    for one, other in zip(here.records, there.records, strict=True):
        assert (one.key, one.overall, one.ingredients) == (other.key, other.overall, other.ingredients)
    assert [one.state for one in there.evidence] == [one.state for one in here.evidence]


def test_a_second_run_lists_each_folder_once_and_fetches_nothing(
    remote: Path, server: ObjectServer, correlate: Callable[..., Outcome]
) -> None:
    """What is known is known from two listings, one of the tests and one of the release."""
    assert correlate("score", remote, "--workers", 1).code == 0
    assert sorted(server.fetched) == ["releases/B1/push.csv", "tests/push/R1.csv", "tests/push/R2.csv"]
    for command in (("score", remote, "--workers", 1), ("gate", remote, "--release", "B1", "--min", 0.1)):
        server.forget()
        done = correlate(*command)
        assert done.code == 0, done.out + done.err
        assert (sorted(server.listed), server.fetched) == (["releases/B1/", "tests/push/"], [])


def test_a_changed_object_makes_the_ratings_stale(
    remote: Path, server: ObjectServer, correlate: Callable[..., Outcome]
) -> None:
    """The gate does not pass on ratings of other bytes; after scoring it does."""
    gate = "gate", remote, "--release", "B1", "--min", 0.1
    assert correlate("score", remote, "--workers", 1).code == 0
    assert correlate(*gate).code == 0
    before = inputs_state(*_block(remote))
    server.objects["releases/B1/push.csv"] += b"\n"
    assert inputs_state(*_block(remote)) != before
    server.objects["tests/push/R3.csv"] = server.objects["tests/push/R2.csv"]
    assert [*load_campaign(remote).tests(_block(remote)[2])] == ["R1", "R2", "R3"]


def _block(remote: Path) -> tuple[Campaign, Release, LoadCase]:
    campaign = load_campaign(remote)
    return campaign, campaign.releases[0], campaign.load_cases[0]


def test_a_removed_object_counts_like_a_removed_file(
    project: Path, remote: Path, server: ObjectServer
) -> None:
    """A missing result is named by its address; without any test the campaign is refused."""
    del server.objects["releases/B1/push.csv"]
    (project / "model" / "push.csv").unlink()
    there = score_campaign(load_campaign(remote), workers=1)
    here = score_campaign(load_campaign(project), workers=1)
    assert {one.reason for one in there.unrated} == {
        "s3://bucket/releases/B1/push.csv: there is no such file; check the path"
    }
    assert len(here.unrated) == len(there.unrated)
    assert load_campaign(remote).without_result(load_campaign(remote).releases[0]) == ("push",)
    for key in [key for key in server.objects if key.startswith("tests")]:
        del server.objects[key]
    with pytest.raises(FormatError, match=r"no test matches 's3://bucket/tests/push/\*\.csv'"):
        score_campaign(load_campaign(remote), workers=1)


def test_storage_that_cannot_be_reached_is_never_good_news(
    remote: Path, server: ObjectServer, monkeypatch: pytest.MonkeyPatch, correlate: Callable[..., Outcome]
) -> None:
    """With good ratings in the store, score and gate end with one sentence and another exit code than 0."""
    assert correlate("score", remote, "--workers", 1).code == 0
    monkeypatch.setattr("correlate.object_storage._RETRY", {"max_retries": 0})
    from correlate.object_storage import _client  # noqa: PLC0415 - the client above has patience

    _client.cache_clear()
    server.stop()
    with open_store(remote / "ratings.sqlite") as store:
        board = stored_board(store, load_campaign(remote))
    assert board.board.evidence is not None
    (gap,) = board.board.evidence.of("stale")
    assert "object storage cannot be reached" in gap.reason
    assert not board.decision.is_proven
    for command in (
        ("score", remote),
        ("gate", remote, "--release", "B1", "--min", 0.1),
        ("explain", remote),
    ):
        done = correlate(*command)
        assert done.code != 0, done.out + done.err
        assert "object storage cannot be reached" in done.err
        assert "Traceback" not in done.err


def test_commands_that_explain_and_export_read_the_same_copies(
    remote: Path, server: ObjectServer, tmp_path: Path, correlate: Callable[..., Outcome]
) -> None:
    """After scoring, other commands fetch nothing; what they print and write names no copy."""
    assert correlate("score", remote, "--workers", 1).code == 0
    server.forget()
    table = tmp_path / "curves.csv"
    for command in (
        ("explain", remote),
        ("explain", remote, "--json"),
        ("export", remote, "--curves", table),
    ):
        done = correlate(*command)
        assert done.code == 0, done.err
        assert "/objects/" not in done.out + done.err
    assert "/objects/" not in table.read_text(encoding="utf-8")
    assert server.fetched == []


def test_pages_read_copies_and_notice_a_change(
    remote: Path, server: ObjectServer, correlate: Callable[..., Outcome]
) -> None:
    """Saved ratings are found fresh without fetching, addresses are named, and new bytes are stale."""
    assert correlate("score", remote, "--workers", 1).code == 0
    server.forget()
    project = Project(remote)
    board = project.board(project.campaign()).board
    assert board.evidence is not None
    assert not board.evidence.of("stale")
    (test, *_) = project.tests(project.campaign(), project.campaign().load_cases[0])
    assert project.shown_path(str(test.path)) == "s3://bucket/tests/push/R1.csv"
    assert server.fetched == []
    server.objects["releases/B1/push.csv"] += b"60.1,0,0\n"
    board = project.board(project.campaign()).board
    assert board.evidence is not None
    assert len(board.evidence.of("stale")) == 1


def test_a_result_is_read_by_its_layout_without_fetching_others(remote: Path, server: ObjectServer) -> None:
    """Whether a file is the result of a release is told from its address."""
    campaign = load_campaign(remote)
    (test, *_) = campaign.tests(campaign.load_cases[0]).values()
    server.forget()
    assert campaign.read_path(test, campaign.load_cases[0]).channel_names == ("force", "deflection")
    assert (server.listed, server.fetched) == ([], [])


def test_workers_of_a_scheduler_fetch_for_themselves(
    remote: Path,
    server: ObjectServer,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """A worker with an empty cache of its own needs no folder but that of the campaign file."""
    from distributed import LocalCluster  # noqa: PLC0415 - slow, and only this test needs it

    cache = tmp_path_factory.mktemp("cache of the worker")
    with monkeypatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(cache))
        cluster = LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=1, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
        )
    with cluster:
        scores = score_campaign(load_campaign(remote), engine=dask_engine(cluster.scheduler_address))
        assert scores.records == score_campaign(load_campaign(remote), workers=1).records
        assert len([*cache.glob("correlate/objects/*")]) == 3
        # The worker still holds the campaign, and has listed its folders before this change.
        server.objects["releases/B1/push.csv"] = server.objects["releases/B1/push.csv"].replace(b"e-", b"e-0")
        server.objects["releases/B1/push.csv"] += b"60.1,0,0\n"
        again = score_campaign(load_campaign(remote), engine=dask_engine(cluster.scheduler_address))
        once_more = load_campaign(remote)
        once_more.tests(once_more.load_cases[0])
        server.forbidden = ("tests/",)
        with pytest.raises(CorrelateError, match=r"s3://bucket/tests/push: object storage refuses access"):
            score_campaign(once_more, engine=dask_engine(cluster.scheduler_address))
    server.forbidden = ()
    assert again.evidence[0].state == inputs_state(*_block(remote)) != scores.evidence[0].state
