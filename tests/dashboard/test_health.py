"""What monitoring is told: of the worker, the databases and the disk, without secrets, and soon."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING, Any

import pytest

from correlate import CorrelateError
from dashboard import health
from dashboard.health import Health, disk_part, part
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import JobSettings, Worker
from dashboard.serving import wsgi
from tests.dashboard.jobs.at_work import until
from tests.dashboard.project import write_project
from tests.dashboard.test_serving import settings_file

if TYPE_CHECKING:
    from collections.abc import Callable

ORIGIN = "https://ratings.example"
PAGE = Path(__file__).parents[2] / "docs/server.md"
DOCUMENTED = re.compile(r"^```json\n(.*?)^```", re.MULTILINE | re.DOTALL)


@pytest.fixture
def server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], tuple[int, dict[str, Any]]]:
    """Return a function that asks a server, as under another web server; each time anew."""
    monkeypatch.setattr(health, "KEPT_S", -1.0)
    project = write_project(tmp_path / "kelp")
    (tmp_path / "served").mkdir(exist_ok=True)
    client = wsgi(str(settings_file(project, tmp_path / "served"))).test_client()

    def ask() -> tuple[int, dict[str, Any]]:
        answer = client.get("/health", base_url=ORIGIN)
        assert answer.mimetype == "application/json"
        assert answer.headers["Cache-Control"] == "no-store"
        # What the documentation has a monitor look for comes first.
        assert answer.text.startswith('{"status": "')
        found: dict[str, Any] = answer.get_json()
        return answer.status_code, found

    return ask


@pytest.fixture
def table(tmp_path: Path) -> JobTable:
    """Return the jobs of the server, with one job that waits and the heartbeat of a worker."""
    table = JobTable(tmp_path / "served/jobs")
    table.add("secret-number", "check", {}, "somebody")
    table.beat("host:1:x")
    return table


@pytest.mark.usefixtures("table")
def test_the_documented_answer_has_the_parts_of_a_real_one(server: Callable[[], Any]) -> None:
    """What the page server.md shows is what a monitor gets; ages and counts differ."""
    shown = json.loads(DOCUMENTED.findall(PAGE.read_text(encoding="utf-8"))[0])
    assert _without_counts(shown) == _without_counts(server()[1])


def _without_counts(answer: dict[str, Any]) -> dict[str, Any]:
    """Return an answer without what changes from moment to moment."""
    counts = dict.fromkeys(("heartbeat_age_s", "running", "waiting"))
    return answer | {"worker": answer["worker"] | counts}


def test_everybody_learns_that_everything_works(server: Callable[[], Any], table: JobTable) -> None:
    """Without an account."""
    assert table.open_jobs()
    code, found = server()
    age = found["worker"].pop("heartbeat_age_s")
    assert 0 <= age < 20
    assert (code, found) == (
        200,
        {
            "status": "ok",
            "words": "everything works",
            "worker": {"status": "ok", "words": "the worker is running", "running": 0, "waiting": 1},
            "results": {"status": "ok", "words": "can be read"},
            "accounts": {"status": "ok", "words": "can be read"},
            "disk": {
                "status": "ok",
                "words": "can be written and has space",
                "free": "enough",
                "writable": True,
            },
        },
    )


def test_a_worker_that_never_was_or_is_silent_is_seen(server: Callable[[], Any], tmp_path: Path) -> None:
    """Pages are shown all the same."""
    code, found = server()
    assert (code, found["status"], found["worker"]["words"]) == (200, "degraded", "no worker is running")
    table = JobTable(tmp_path / "served/jobs")
    table.beat("host:1:x")
    assert server()[1]["status"] == "ok"
    long_ago = (datetime.now(UTC) - timedelta(minutes=1)).isoformat()
    with closing(sqlite3.connect(tmp_path / "served/jobs/jobs.sqlite")) as file, file:
        file.execute("UPDATE workers SET heartbeat = ?", (long_ago,))
    code, found = server()
    assert (code, found["status"]) == (200, "degraded")
    assert found["worker"]["words"] == "the worker has stopped or does not respond"
    assert 60 <= found["worker"]["heartbeat_age_s"] < 120


def test_a_worker_without_a_job_gives_signs_of_life(tmp_path: Path) -> None:
    """And takes its name away when it ends; one that was killed leaves it, which grows old."""
    table = JobTable(tmp_path)
    worker = Worker(table=table, place=JobSettings(project=tmp_path))
    thread = Thread(target=worker.work, args=[1])
    thread.start()
    until(lambda: table.activity().silent_s is not None)
    worker.stopping.set()
    thread.join()
    assert table.activity().silent_s is None


@pytest.mark.usefixtures("table")
@pytest.mark.parametrize(
    ("file", "name"), [("kelp/ratings.sqlite", "results"), ("served/accounts.sqlite", "accounts")]
)
def test_a_database_that_cannot_be_read_is_seen(
    server: Callable[[], Any], tmp_path: Path, file: str, name: str, caplog: pytest.LogCaptureFixture
) -> None:
    """The server is of no use then; the answer gives nothing away, and the log says once what it is."""
    assert server()[0] == 200
    (tmp_path / file).touch()
    for place in tmp_path.glob(f"{file}*"):
        place.write_bytes(b"damaged, and long enough to be looked at " * 100)
    for _ in range(2):
        code, found = server()
        assert (code, found["status"]) == (503, "down")
        assert found[name] == {"status": "down", "words": "cannot be used"}
        assert str(tmp_path) not in str(found)
    assert [str(tmp_path / file) in one.getMessage() for one in caplog.records] == [True]


@pytest.mark.usefixtures("table")
def test_a_damaged_jobs_table_leaves_the_pages(server: Callable[[], Any], tmp_path: Path) -> None:
    """Nothing can be started, but everything can be looked at."""
    (tmp_path / "served/jobs/jobs.sqlite").write_bytes(b"damaged, and long enough to be looked at " * 100)
    code, found = server()
    assert (code, found["status"], found["worker"]["words"]) == (200, "degraded", "cannot be used")


def test_a_part_that_hangs_keeps_nobody_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is asked once, however often monitoring asks, and found well when it answers again."""
    monkeypatch.setattr(health, "KEPT_S", -1.0)
    monkeypatch.setattr(health, "PATIENCE_S", 0.01)
    answers, asked = Event(), []

    def hang() -> dict[str, Any]:
        asked.append("")
        answers.wait()
        return part("ok", "can be read")

    state = Health({"results": (hang, "down"), "disk": (lambda: part("ok", "has space"), "degraded")})
    for _ in range(3):
        found = state.state()
        assert found["status"] == "down"
        assert found["results"] == {"status": "down", "words": "does not answer"}
        assert found["disk"]["status"] == "ok"
    assert len(asked) == 1
    answers.set()
    until(lambda: state.state()["status"] == "ok")


def test_many_who_ask_cost_no_more_than_one() -> None:
    """An answer is given again for a while."""
    asked: list[str] = []

    def read() -> dict[str, Any]:
        asked.append("")
        return part("ok", "can be read")

    state = Health({"results": (read, "down")})
    assert [state.state() for _ in range(10)] == [state.state()] * 10
    assert len(asked) == 1


def test_what_is_refused_is_no_secret(caplog: pytest.LogCaptureFixture) -> None:
    """The sentence with its path goes into the log alone."""

    def fail() -> dict[str, Any]:
        raise CorrelateError("the disk is full", where="/srv/kelp/ratings.sqlite")

    found = Health({"results": (fail, "down")}).state()
    assert "/srv" not in str(found)
    assert caplog.messages == ["results: /srv/kelp/ratings.sqlite: the disk is full"]


@pytest.mark.parametrize(
    ("free", "writable", "expected"),
    [
        (10**12, True, ("ok", "enough")),
        (10**8, True, ("degraded", "little")),
        (10**5, True, ("degraded", "none")),
        (10**12, False, ("degraded", "enough")),
    ],
)
def test_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free: int, expected: tuple[str, str], *, writable: bool
) -> None:
    """Said in words, not in bytes, which are nobody's business."""
    usage = shutil.disk_usage(tmp_path)._replace(free=free)
    monkeypatch.setattr("dashboard.health.shutil.disk_usage", lambda _: usage)
    monkeypatch.setattr(health, "may_write", lambda _: writable)
    found = disk_part([tmp_path])
    assert (found["status"], found["free"]) == expected
    assert found["writable"] is writable
