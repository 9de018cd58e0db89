"""A project from somebody else, with code wherever a file could be read: none of it runs."""

from __future__ import annotations

import os
import pickle
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from correlate import CorrelateError, emulator_of_project
from correlate.private_folder import project_state_folder
from dashboard.access import Account, Role
from dashboard.app import create_app
from dashboard.jobs import Jobs
from dashboard.jobs.worker_process import worker
from tests.dashboard.jobs.at_work import until
from tests.dashboard.project import write_project
from tests.dashboard.served import body_of
from tests.dashboard.tuned_project import write_tuning

if TYPE_CHECKING:
    from pathlib import Path

ADMIN = Account(name="admin", role=Role.ADMIN)


class Bomb:
    """Leaves a trace when it is unpickled."""

    def __init__(self, trace: Path) -> None:
        self._trace = trace

    def __reduce__(self) -> tuple[Any, ...]:
        """Say what is called when this is read."""
        return os.mkdir, (str(self._trace),)


def plant(project: Path, trace: Path) -> None:
    """Put code into every file that some version reads, or that a library would."""
    content = pickle.dumps(Bomb(trace))
    array = np.array([Bomb(trace)], dtype=object)
    arrays: dict[str, Any] = dict.fromkeys(("head", "key", "names", "rows", "cube", "curve0"), array)
    np.savez(project / "fit.npz", **arrays)
    for run in (project / "runs").iterdir():
        np.savez(run / "traces.npz", **arrays)
    for folder in (".jobs", ".cache", "uploads/one", "received/kelp", "quarantine/kelp", "reports"):
        (project / folder).mkdir(parents=True, exist_ok=True)
        for name in ("queue.pkl", "cache.db", "data.joblib", "00.val", "record.json"):
            (project / folder / name).write_bytes(content)
    for note in ("received/kelp.json", "quarantine/gull.json", "fit.json"):
        (project / note).write_bytes(content)
    with closing(sqlite3.connect(project / ".jobs/jobs.sqlite")) as table:
        table.execute("CREATE TABLE jobs (number, kind, arguments, stage)")
        table.execute("INSERT INTO jobs VALUES ('one', 'score', ?, 'waiting')", (content,))
        table.commit()
    code = f"import os\nos.mkdir({str(trace)!r})\n"
    for module in ("sitecustomize", "numpy", "correlate", "dashboard", "conftest", "solver", "pickle"):
        (project / f"{module}.py").write_text(code)


def test_code_in_a_received_project_is_not_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every callback of every page is called, and the jobs are done by a worker started in the project."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    project, trace = write_project(tmp_path / "project"), tmp_path / "planted-code-ran"
    write_tuning(project, finished=6)
    plant(project, trace)
    pickle.loads((project / "uploads/one/queue.pkl").read_bytes())  # noqa: S301 - to see that the bomb is one
    trace.rmdir()
    monkeypatch.chdir(project)
    app = create_app(project)
    asks = app.server.test_client()
    answers = [
        asks.post("/_dash-update-component", json=body_of(app, key), base_url="http://127.0.0.1:8050")
        for key in app.callback_map
    ]
    assert 200 in {one.status_code for one in answers}
    with pytest.raises(CorrelateError):
        emulator_of_project(project)
    folder = project_state_folder(project, "jobs")
    jobs = Jobs(folder)
    numbers = [jobs.start(kind, {}, ADMIN) for kind in ("score", "check", "fit")]
    with worker(["--project", str(project), "--folder", str(folder)]):
        until(lambda: all(jobs.state(number).over for number in numbers))
    assert [jobs.state(number).stage for number in numbers] == ["done", "done", "done"]
    assert not trace.exists()
