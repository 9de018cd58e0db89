"""A light installation: the core works without the libraries of the extras, and a missing one is named."""

from __future__ import annotations

import pickle
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from correlate.extras import EXTRAS, extra_of, missing_extra, need_extra
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk

ROOT = Path(__file__).parent.parent
MODULES = sorted({module for modules in EXTRAS.values() for module in modules} | {"flask", "pandas", "bs4"})
BLOCKED = f"""
import sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {MODULES!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)

sys.meta_path.insert(0, Blocked())
"""
COMMAND = f"{BLOCKED}\nfrom correlate.cli import main\nsys.argv[0] = 'correlate'\nmain()\n"

project = project_on_disk


@pytest.fixture
def two_releases(project: Path) -> Path:
    """Add a second release, as good as the first."""
    write_columns(
        project / "again" / "push.csv",
        {"probe force [N]": -half_sine(6.0, 3950.0), "compression [m]": half_sine(7.5, 0.056)},
    )
    file = project / "campaign.toml"
    file.write_text(file.read_text() + '\n[[release]]\nname = "B2"\nfolder = "again"\n', encoding="utf-8")
    return project


def light(*arguments: object) -> subprocess.CompletedProcess[str]:
    """Run a command as if no extra were installed."""
    command = [sys.executable, "-c", COMMAND, *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def test_pair_score_compare_and_gate_need_no_extra(two_releases: Path) -> None:
    """The four commands run without any library of an extra."""
    files = two_releases / "tests" / "R1.csv", two_releases / "model" / "push.csv"
    channels = "--channel", "force", "--candidate-channel", "probe force", "--turn-sign"
    rated = light("pair", *files, *channels, "--from", 0, "--to", 50)
    assert rated.returncode == 0, rated.stderr
    assert "A rating informs" in rated.stdout
    for command in (
        ("score", two_releases, "--workers", 1),
        ("compare", two_releases, "B1", "B2"),
        ("gate", two_releases, "--release", "B2", "--baseline", "B1", "--min", 0.1, "--max-loss", 0.9),
    ):
        done = light(*command)
        assert done.returncode == 0, done.stdout + done.stderr


def test_the_self_check_needs_no_extra_and_its_record_names_one(tmp_path: Path) -> None:
    """The numbers are compared without any library of an extra; the page is refused in one sentence."""
    done = light("selfcheck")
    assert done.returncode == 0, done.stdout + done.stderr
    refused = light("selfcheck", "--record", tmp_path / "record.html")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "pip install 'correlate[report]'" in refused.stderr


def test_every_public_name_but_a_figure_needs_no_extra(project: Path) -> None:
    """Each public name is importable, and a campaign is scored and explained, without the extras."""
    program = f"""{BLOCKED}
import correlate
for name in (*correlate._STABLE, *correlate._OTHERS):
    getattr(correlate, name)
campaign = correlate.load_campaign({str(project)!r})
scores = correlate.score_campaign(campaign, workers=1)
explained = correlate.explain(campaign, scores.records, "B1")
print(len(scores.records), explained.release)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stdout == "4 B1\n", done.stderr


@pytest.mark.parametrize(
    ("command", "extra"),
    [
        ("serve", "dashboard"),
        ("account list", "dashboard"),
        ("demo --into nowhere", "dashboard"),
        ("demo --into nowhere --no-serve", "report"),
        ("report nowhere --html page.html", "report"),
        ("tune show nowhere", "tuning"),
        ("pack nowhere --out bag --checked-by me", "share"),
        ("key nowhere --name a --organisation b", "share"),
    ],
)
def test_a_command_says_in_one_sentence_which_extra_it_needs(command: str, extra: str) -> None:
    """The command ends with an exit code and one line that holds the command to install the extra."""
    done = light(*command.split())
    assert done.returncode == 2
    assert done.stderr == (
        f"correlate: this command needs the extra '{extra}': pip install 'correlate[{extra}]'\n"
    )


def test_a_page_without_its_extra_is_refused_in_one_sentence(project: Path) -> None:
    """``pair --html`` names the extra when the drawing library is missing."""
    files = project / "tests" / "R1.csv", project / "model" / "push.csv"
    channels = "--channel", "force", "--candidate-channel", "probe force"
    done = light("pair", *files, *channels, "--from", 0, "--to", 50, "--html", project / "page.html")
    assert done.returncode == 2
    assert (
        done.stderr == "correlate: this command needs the extra 'report': pip install 'correlate[report]'\n"
    )


def test_the_dashboard_alone_names_its_extra() -> None:
    """``python -m dashboard`` ends with the same sentence."""
    program = f"{BLOCKED}\nfrom dashboard.__main__ import main\nmain(['.'])\n"
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "needs the extra 'dashboard': pip install 'correlate[dashboard]'" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_figure_names_its_extra() -> None:
    """A figure that is imported without the drawing library says which extra brings it."""
    program = f"{BLOCKED}\nfrom correlate.plots import pair_figure\n"
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (
        "correlate.plots.pair_figure needs the extra 'report': pip install 'correlate[report]'" in done.stderr
    )


def test_a_signal_draws_itself_without_an_extra_and_names_the_one_of_its_figure() -> None:
    """The small drawing needs nothing; the figure and the data frame say in one sentence what to install."""
    program = f"""{BLOCKED}
from correlate import CorrelateError, Signal
signal = Signal(samples=[0.0, 1.0, 0.0], start_s=0.0, step_s=1e-4, unit="g", channel="head ax")
print("<svg" in signal._repr_html_(), len(signal[0.0:0.0001]))
for step in (signal.plot, signal.to_frame):
    try:
        step()
    except CorrelateError as error:
        print(error)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stdout.splitlines() == [
        "True 2",
        "correlate.plots.signal_figure needs the extra 'report': pip install 'correlate[report]'",
        "a data frame needs the library pandas: pip install pandas",
    ], done.stderr


def test_an_extra_brings_the_modules_that_are_looked_for() -> None:
    """Each module of the table belongs to a package of that extra in ``pyproject.toml``."""
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = declared["optional-dependencies"]

    def packages(extra: str) -> set[str]:
        found: set[str] = set()
        for line in extras[extra]:
            inner = re.match(r"correlate\[([\w,-]+)\]", line)
            name = re.match(r"[\w-]+", line)
            assert name is not None
            found |= set[str]().union(*map(packages, inner[1].split(","))) if inner else {plain(name[0])}
        return found

    owners = packages_distributions()
    for extra, modules in EXTRAS.items():
        for module in modules:
            assert {plain(owner) for owner in owners[module]} & packages(extra), (extra, module)
    core = {plain(re.split(r"[>=\[]", line)[0]) for line in declared["dependencies"]}
    assert not core & set[str]().union(*map(packages, EXTRAS))
    assert packages("all") == set[str]().union(
        *map(packages, ("dashboard", "report", "share", "sign-in", "tuning"))
    )


def plain(name: str) -> str:
    """Return the name of a package in its normal form."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_the_error_says_which_extra_and_can_be_pickled() -> None:
    """A worker's error arrives with its sentence; a module of no extra is none of this."""
    error = pickle.loads(pickle.dumps(missing_extra("share", what="a key")))  # noqa: S301 - its own
    assert str(error) == "a key needs the extra 'share': pip install 'correlate[share]'"
    assert extra_of(ModuleNotFoundError("no", name="dash.html")) == "dashboard"
    assert extra_of(ModuleNotFoundError("no", name="numpy")) is None
    need_extra("report")
