"""``correlate report`` on a small project: what it writes, and what it refuses in one sentence."""

from __future__ import annotations

import hashlib
import shutil
from datetime import date
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from correlate import open_store
from tests.dashboard.project import write_project
from tests.report.conftest import keep_ratings

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project and rate it."""
    return keep_ratings(write_project(tmp_path_factory.mktemp("report") / "small")).folder


@pytest.fixture
def project(rated: Path, tmp_path: Path) -> Path:
    """Return a copy that a test may change."""
    return shutil.copytree(rated, tmp_path / "small")


def test_the_page_is_signed_by_role_and_date(correlate: Run, project: Path) -> None:
    """A sign-off in the store is on the summary page, and the date of the document is that of the ratings."""
    with open_store(project / "ratings.sqlite") as store:
        store.sign_off(
            campaign="Small <campaign>", release="A2", role="manager", date=date(2026, 3, 10), who="desk-7"
        )
    page = project / "a2.html"
    done = correlate("report", project, "--release", "A2", "--html", page)
    beside = project / "a2-appendix.html"
    assert (done.code, done.out.splitlines()) == (0, [f"written: {page}", f"written: {beside}"])
    assert hashlib.sha256(beside.read_bytes()).hexdigest() in page.read_text(encoding="utf-8")
    text = page.read_text(encoding="utf-8")
    assert "Signed off by manager, 10 March 2026." in text
    assert "9 March 2026" in text
    assert "desk-7" not in text


def test_the_place_of_a_project_does_not_matter(correlate: Run, project: Path, tmp_path: Path) -> None:
    """Same inputs, same bytes, in whatever folder they lie; the date can be given."""
    moved = shutil.copytree(project, tmp_path / "elsewhere")
    pages = []
    for place in (project, moved):
        correlate("report", place, "--html", place / "r.html", "--date", "2027-01-31")
        pages.append((place / "r.html").read_bytes())
    assert pages[0] == pages[1]
    assert "31 January 2027" in pages[0].decode()


@pytest.mark.browser
def test_the_pdf_has_numbered_contents(correlate: Run, project: Path) -> None:
    """Every section is listed with the page it begins on, and the pages carry their numbers."""
    target = project / "a2.pdf"
    done = correlate("report", project, "--release", "A2", "--baseline", "A1", "--pdf", target)
    assert (done.code, done.err) == (0, "")
    texts = [one.extract_text() for one in PdfReader(BytesIO(target.read_bytes())).pages]
    lines = (line.rsplit(" ", 1) for text in texts[:3] for line in text.splitlines())
    listed = dict(line for line in lines if line[-1].isdigit() and len(line) == 2)
    for heading in ("What changed", "Diagnosis", "Method and settings"):
        assert heading in texts[int(listed[heading]) - 1]
    assert f"1 of {len(texts)}" in texts[0]
    beside = (project / "a2-appendix.pdf").read_bytes()
    assert hashlib.sha256(beside).hexdigest() in "".join(texts[-1].split())
    assert "Every recorded step" in PdfReader(BytesIO(beside)).pages[0].extract_text()


def test_without_a_browser_the_page_is_written(
    correlate: Run, project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One sentence, exit code 2, no PDF, and the page in its place."""
    monkeypatch.setenv("PATH", str(project))
    done = correlate("report", project, "--pdf", project / "a2.pdf")
    assert done.code == 2
    assert done.err.startswith("correlate: PDF: Chromium is not installed on this machine")
    assert len(done.err.strip().splitlines()) == 1
    assert not (project / "a2.pdf").exists()
    for name in ("a2.html", "a2-appendix.html"):
        assert (project / name).read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--release", "A9", "--html", "x.html"), "there is no release 'A9'"),
        (("--release", "A2", "--baseline", "A9", "--html", "x.html"), "there is no release 'A9'"),
        (("--release", "A2", "--baseline", "A2", "--html", "x.html"), "cannot be compared with itself"),
        (("--html", "x.html", "--windows", "drop=head"), "--windows needs a device size"),
        (("--html", "x.html", "--device", "adult male", "--windows", "drop"), "is not CASE=TEST"),
        (
            ("--html", "x.html", "--device", "adult male", "--windows", "no=head"),
            "there is no load case 'no'",
        ),
        (("--html", "x.html", "--device", "giant"), "giant"),
        (("--html", "absent/x.html"), "absent/x-appendix.html: this cannot be written"),
        ((), "give --html FILE, --pdf FILE or both"),
    ],
)
def test_wrong_words_end_with_one_sentence(
    correlate: Run, rated: Path, options: tuple[str, ...], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit code 2, the sentence last, no traceback, nothing written."""
    monkeypatch.chdir(rated)
    done = correlate("report", rated, *options)
    assert done.code == 2
    assert words in done.err.strip().splitlines()[-1]
    assert not (rated / "x.html").exists()


def test_an_unrated_project_is_told_how_to_rate_it(correlate: Run, project: Path) -> None:
    """Neither rated here nor written: the sentence names the command."""
    (project / "ratings.sqlite").unlink()
    done = correlate("report", project, "--html", project / "x.html")
    assert done.code == 2
    assert "no release of 'Small <campaign>' is rated yet; run: correlate score" in done.err
