"""The report of a release: made by a job, handed out afterwards, forgotten when newer ones were made."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import pytest

from correlate import CorrelateError
from correlate.report.release_files import appendix_name
from dashboard.access import Account, Role
from dashboard.components.data import job_parts
from dashboard.jobs.reports import MOST_KEPT, report_file
from tests.dashboard.jobs.at_work import desk
from tests.dashboard.project import write_project
from tests.dashboard.reading import text

if TYPE_CHECKING:
    from tests.dashboard.jobs.at_work import Desk

ATTACHED = "dashboard.jobs.reports.attached"
MANAGER = Account(name="office", role=Role.MANAGER)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project; no command reads it."""
    return write_project(tmp_path_factory.mktemp("reported") / "small")


@pytest.fixture
def work(written: Path, tmp_path: Path) -> Desk:
    """Return jobs over it."""
    return desk(written, tmp_path / "jobs")


def done(work: Desk, **told: str) -> str:
    """Start a report and do it; return the number of the job."""
    number = work.jobs.start("report", told, MANAGER)
    work.do_next()
    return number


class Program:
    """Stands for the command: writes what it is told to write, and ends as it should."""

    def __init__(
        self, command: list[str], code: int = 0, said: str = "", kinds: tuple[str, ...] = ("html", "pdf")
    ) -> None:
        self.command = command
        self._kinds = kinds
        self.returncode = code
        self._said = said
        self.killed = False

    def __enter__(self) -> Self:
        """Begin."""
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """End; before the program has, when something went wrong."""
        self.killed = kind is not None

    def communicate(self, timeout: float) -> tuple[None, str]:
        """Write the files."""
        assert timeout < 5
        for word in self.command:
            option, _, file = word.partition("=")
            if option.removeprefix("--") in self._kinds:
                # The folder is there: the job made it.
                Path(file).write_text(word, encoding="utf-8")
        return None, self._said


@pytest.fixture
def programs(monkeypatch: pytest.MonkeyPatch) -> list[Program]:
    """Run no command; return those that would have been run."""
    started: list[Program] = []

    def start(command: list[str], **_: Any) -> Program:
        started.append(Program(command))
        return started[-1]

    monkeypatch.setattr(ATTACHED, start)
    return started


def test_the_command_is_told_both_releases_and_the_store(
    work: Desk, programs: list[Program], written: Path
) -> None:
    """No name can be taken for an option; without a baseline there is none."""
    number = done(work, release="A2", against="A1")
    words = programs[0].command
    assert words[-6:-2] == [str(written), "--release=A2", "--baseline", "A1"]
    assert work.jobs.state(number).result["files"] == ["html", "pdf"]
    done(work, release="A1", against="")
    assert "--baseline" not in programs[1].command


def test_without_a_browser_the_page_is_offered(work: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is missing for the PDF is one sentence beside the page."""
    problem = "PDF: Chromium is not installed on this machine; install Chromium, or print the HTML page"
    said = f"a warning\ncorrelate: {problem}\n"
    monkeypatch.setattr(ATTACHED, lambda command, **_: Program(command, 2, said, ("html",)))
    number = done(work, release="A2", against="A1")
    state = work.jobs.state(number)
    assert (state.stage, state.failure) == ("done", "")
    assert state.result == {"release": "A2", "files": ["html"], "problem": problem}
    file, name = work.jobs.report_file(number, "html")
    assert (file.name, name) == ("report-A2.html", "report-A2.html")
    assert text(job_parts(state)) == (
        f"Creating the report The report of release A2 is ready.  Save as HTML {problem}"
    )
    with pytest.raises(CorrelateError, match="this report is no longer there; create it again"):
        work.jobs.report_file(number, "pdf")


@pytest.mark.parametrize(("release", "against"), [("A9", ""), ("A2", "A9"), ("--help", ""), ("../A2", "")])
def test_a_release_that_is_not_there_fails(
    work: Desk, programs: list[Program], release: str, against: str
) -> None:
    """Nothing is run, and nothing stays."""
    number = done(work, release=release, against=against)
    assert "there is no release" in work.jobs.state(number).failure
    assert programs == []
    with pytest.raises(CorrelateError, match="this job has made no report; make one on the decision sheet"):
        work.jobs.report_file(number, "pdf")


def test_a_command_that_fails_gives_its_sentence(work: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The last line of what it said; its folder goes."""
    said = "correlate: campaign.toml: 16 pairs are not rated; run: correlate score\n"
    monkeypatch.setattr(ATTACHED, lambda command, **_: Program(command, 2, said, ()))
    number = done(work, release="A2", against="")
    state = work.jobs.state(number)
    assert (state.stage, state.failure) == (
        "failed",
        "campaign.toml: 16 pairs are not rated; run: correlate score",
    )
    assert list((work.table.folder / "reports").iterdir()) == []


def test_a_cancelled_report_ends_its_command(work: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The process is stopped, and nothing of the report stays."""
    found: list[Program] = []

    class Slow(Program):
        def communicate(self, timeout: float) -> tuple[None, str]:
            work.jobs.cancel(number, MANAGER)
            raise subprocess.TimeoutExpired(self.command, timeout)

    def start(command: list[str], **_: Any) -> Program:
        found.append(Slow(command))
        return found[0]

    monkeypatch.setattr(ATTACHED, start)
    number = work.jobs.start("report", {"release": "A2"}, MANAGER)
    work.do_next()
    assert work.jobs.state(number).stage == "cancelled"
    assert found[0].killed
    assert list((work.table.folder / "reports").iterdir()) == []


def test_only_the_newest_reports_are_kept(work: Desk, programs: list[Program]) -> None:
    """They can be made again."""
    numbers = []
    for place in range(MOST_KEPT + 2):
        numbers.append(done(work, release="A2", against=""))
        folder = work.table.folder / "reports" / numbers[-1]
        os.utime(folder, (place, place))
    assert len(programs) == len(numbers)
    kept = {one.name for one in (work.table.folder / "reports").iterdir()}
    assert kept == set(numbers[-MOST_KEPT:])


def test_the_appendix_is_handed_out_under_the_name_that_the_report_gives_it(tmp_path: Path) -> None:
    """Report and appendix are saved side by side, as the command writes them."""
    folder = tmp_path / "reports/number"
    folder.mkdir(parents=True)
    (folder / appendix_name("report-A2.pdf")).touch()
    assert report_file(tmp_path, "number", "appendix-pdf", "A2")[1] == "report-A2-appendix.pdf"


def test_a_kind_of_file_that_is_no_report_is_not_handed_out(tmp_path: Path) -> None:
    """Whatever the address says; a name is made fit for any file system."""
    folder = tmp_path / "reports/number"
    folder.mkdir(parents=True)
    (folder / "report-A_2__b_.html").touch()
    assert report_file(tmp_path, "number", "html", "A/2 <b>")[1] == "report-A_2__b_.html"
    shutil.copy(folder / "report-A_2__b_.html", folder / "report-A2.toml")
    with pytest.raises(CorrelateError, match="this report is no longer there"):
        report_file(tmp_path, "number", "toml", "A2")
