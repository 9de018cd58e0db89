"""Runs as jobs of a batch system, whose commands are small scripts here; all else is real."""

from __future__ import annotations

import os
import re
import select
import signal
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError
from correlate.tuning.missing_runs import cluster_engine, run_missing
from correlate.tuning.runs import read_state, run_table
from tests.tuning.project import TUNING, GainRater, calls, tuning_project
from tests.tuning.test_killed import is_held

if TYPE_CHECKING:
    from correlate.parallel import BatchSystem

COMMANDS = {
    "slurm": ("sbatch", 'cp "$1" "$job"', "Submitted batch job $id", "scancel"),
    "pbs": ("qsub", 'cp "$1" "$job"', "$id.head", "qdel"),
    "lsf": ("bsub", 'cat > "$job"', "Job <$id> is submitted to queue <normal>.", "bkill"),
}
SUBMIT = """#!/bin/sh
job="{folder}/job.$$"
{take}
setsid sh "$job" > "$job.log" 2>&1 &
id=$!
echo "begin $id" >> "{folder}/jobs.txt"
echo "{said}"
"""
CANCEL = """#!/bin/sh
echo "end ${{1%.head}}" >> "{folder}/jobs.txt"
kill -KILL -- "-${{1%.head}}"
"""
CLUSTER = """
[cluster]
kind = "{kind}"
queue = "crash"
account = "dummies"
cores = 4
memory_gib = 1.5
wall_time_h = 2.5
at_once = 2
directives = ["-x one"]
network_interface = "lo"
"""
HEADERS = {
    "slurm": ["-p crash", "-A dummies", "--cpus-per-task=4", "--mem=2G", "-t 02:30:00", "-x one"],
    "pbs": ["-q crash", "-A dummies", "-l select=1:ncpus=4:mem=1536mb", "-l walltime=02:30:00", "-x one"],
    "lsf": ["-q crash", '-P "dummies"', "-n 4", "-W 02:30", "-x one"],
}


class Batch:
    """A batch system of this machine: a job is a process group, its number the group."""

    def __init__(self, folder: Path, kind: BatchSystem) -> None:
        self.folder, self.kind = folder, kind
        folder.mkdir()
        submit, take, said, cancel = COMMANDS[kind]
        self.put(submit, SUBMIT.format(folder=folder, take=take, said=said))
        self.put(cancel, CANCEL.format(folder=folder))

    def put(self, name: str, text: str) -> None:
        """Write a command."""
        (self.folder / name).write_text(text, encoding="utf-8")
        (self.folder / name).chmod(0o755)

    @property
    def at_work(self) -> list[list[str]]:
        """Jobs that were there after each begin and end."""
        now: list[str] = []
        seen = []
        for line in (self.folder / "jobs.txt").read_text(encoding="utf-8").splitlines():
            word, job = line.split()
            if word == "begin":
                now.append(job)
            elif job in now:
                now.remove(job)
            seen.append(list(now))
        return seen


def batch(folder: Path, kind: BatchSystem, monkeypatch: pytest.MonkeyPatch) -> Batch:
    """Put the commands of a batch system in front of all others."""
    system = Batch(folder / "batch", kind)
    monkeypatch.setenv("PATH", f"{system.folder}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))
    return system


@pytest.mark.parametrize("kind", ["slurm", "pbs", "lsf"])
def test_every_run_is_a_job(tmp_path: Path, kind: BatchSystem, monkeypatch: pytest.MonkeyPatch) -> None:
    """Good, failed and unstable runs come back; never more jobs than allowed; none is left at the end."""
    system = batch(tmp_path, kind, monkeypatch)
    tuning = tuning_project(tmp_path, [2.0, 9.0, 7.5], text=TUNING + CLUSTER.format(kind=kind))
    run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))
    assert run_table(tuning, read_state(tuning)).status == ("done", "failed", "unstable")
    assert sorted(calls(tuning)) == ["p000", "p001", "p002"]
    assert max(map(len, system.at_work)) == 2
    assert system.at_work[-1] == []
    scripts = [one.read_text(encoding="utf-8") for one in system.folder.glob("job.*") if one.suffix != ".log"]
    assert len(scripts) == 3, "one run, one job"
    mark = {"slurm": "#SBATCH", "pbs": "#PBS", "lsf": "#BSUB"}[kind]
    assert [one for one in HEADERS[kind] if f"{mark} {one}\n" not in scripts[0]] == []
    run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))
    assert len(calls(tuning)) == 3, "a second start submits nothing"
    assert not list((tmp_path / "cluster").iterdir()), "no key is left"


def heard(pipe: int) -> str:
    """Read the name of a solver that has begun, after at most 120 s."""
    assert select.select([pipe], [], [], 120.0)[0], "the solver never started"
    return os.read(pipe, 1000).decode().split()[0]


def test_ctrl_c_ends_jobs_and_their_solvers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The run counts as never begun; no process holds its lock, and the job has been ended."""
    system = batch(tmp_path, "slurm", monkeypatch)
    tuning = tuning_project(tmp_path, [2.0], delay=60.0, text=TUNING + CLUSTER.format(kind="slurm"))
    os.mkfifo(tmp_path / "ready")
    pipe = os.open(tmp_path / "ready", os.O_RDWR)

    def press() -> None:
        heard(pipe)
        os.kill(os.getpid(), signal.SIGINT)

    thread = threading.Thread(target=press)
    thread.start()
    with pytest.raises(KeyboardInterrupt):
        run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))
    thread.join()
    os.close(pipe)
    assert read_state(tuning).records == {}
    assert not is_held(tuning.run_folder("p000") / "lock")
    assert system.at_work[-1] == []


def test_a_lost_job_does_not_stop_the_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A job that is ended from outside leaves its run to be run; the log is named."""
    system = batch(tmp_path, "slurm", monkeypatch)
    text = TUNING + CLUSTER.format(kind="slurm").replace("at_once = 2", "at_once = 1")
    tuning = tuning_project(tmp_path, [2.0, 3.0], text=text)
    slow = tuning.design_file.read_text(encoding="utf-8").replace("2.0,0.0", "2.0,60.0")
    tuning.design_file.write_text(slow, encoding="utf-8")
    os.mkfifo(tmp_path / "ready")
    pipe = os.open(tmp_path / "ready", os.O_RDWR)

    def lose() -> None:
        assert heard(pipe) == "p000"
        job = system.at_work[0][0]
        os.killpg(int(job), signal.SIGKILL)

    thread = threading.Thread(target=lose)
    thread.start()
    ended = run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))
    thread.join()
    os.close(pipe)
    assert [(one.identity, one.status) for one in ended] == [("p000", "waiting"), ("p001", "done")]
    assert re.search(r"its job was lost; see its log in .*/cluster", ended[0].message)
    # A batch system ends all processes of a job; here the solver is left to the next start.
    (tmp_path / "ready").unlink()
    tuning.design_file.write_text(slow.replace("60.0", "0.0"), encoding="utf-8")
    run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))
    assert run_table(tuning, read_state(tuning)).status == ("done", "done")


def test_a_job_that_is_refused_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the batch system said is passed on."""
    system = batch(tmp_path, "slurm", monkeypatch)
    system.put("sbatch", "#!/bin/sh\necho 'error: invalid partition: crash' >&2\nexit 1\n")
    tuning = tuning_project(tmp_path, [2.0], text=TUNING + CLUSTER.format(kind="slurm"))
    with pytest.raises(
        SettingsError, match="a job could not be submitted: error: invalid partition: crash; cor"
    ):
        run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))


@pytest.mark.parametrize("kind", ["slurm", "pbs", "lsf"])
def test_a_machine_without_the_commands_is_refused(
    tmp_path: Path, kind: BatchSystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command is named."""
    monkeypatch.setenv("PATH", str(tmp_path))
    tuning = tuning_project(tmp_path, [2.0], text=TUNING + CLUSTER.format(kind=kind))
    with pytest.raises(
        SettingsError,
        match=f"there is no program '{COMMANDS[kind][0]}', which is needed to submit and end jobs",
    ):
        run_missing(tuning, GainRater(), engine=cluster_engine(tuning.batch_job()))


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "wall_time_h = 2.5",
            "wall_time_h = 0.005",
            r"a run may take 20 s .* its job ends after 18 s; shorten",
        ),
        ('kind = "slurm"', 'kind = "cron"', "kind"),
        ('queue = "crash"', 'queue = "crash; reboot"', "queue"),
        ('["-x one"]', '["-x\\nreboot"]', "directives"),
        ("cores = 4", "cores = 0", "cores"),
    ],
)
def test_jobs_that_cannot_be_are_refused(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    """When the file is read."""
    with pytest.raises(FormatError, match=sentence):
        tuning_project(tmp_path, [2.0], text=TUNING + CLUSTER.format(kind="slurm").replace(old, new))


def test_retries_count(tmp_path: Path) -> None:
    """All attempts must fit into the job."""
    text = TUNING.replace("at_once = 2", "retries = 1") + CLUSTER.format(kind="slurm")
    with pytest.raises(FormatError, match="a run may take 40 s"):
        tuning_project(tmp_path, [2.0], text=text.replace("2.5", "0.01"))


def test_a_file_without_the_table_has_no_jobs(tmp_path: Path) -> None:
    """The sentence says what to write."""
    with pytest.raises(SettingsError, match=r"tuning\.toml: the engine 'cluster' needs a table \[cluster\]"):
        tuning_project(tmp_path, [2.0]).batch_job()
