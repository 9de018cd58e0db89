"""Commands on a campaign that is rated already: what they load, what they print, and `--verify`."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from correlate import file_hashes as module
from correlate.file_hashes import RECORDS_FILE, file_hashes
from correlate.private_folder import project_cache_folder
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

project = project_on_disk

LOADED = """
import sys
from correlate.cli.entry import run
try:
    run()
except SystemExit:
    pass
unwanted = {"numba", "llvmlite", "plotly", "scipy.optimize", "pandas", "sqlalchemy.dialects.postgresql"}
unwanted |= {"correlate.criteria", "correlate.reference.check"}
print("loaded", sorted((unwanted | {"numpy"}) & set(sys.modules)))
"""


@pytest.mark.parametrize(
    ("command", "loaded"),
    [
        (("--help",), []),
        (("score", "."), ["numpy"]),
        (("compare", ".", "B1", "B2"), ["numpy"]),
        (("gate", ".", "--release", "B1"), ["numpy"]),
    ],
    ids=["help", "score", "compare", "gate"],
)
def test_nothing_is_loaded_that_only_computes(
    project: Path, correlate: Run, command: tuple[str, ...], loaded: list[str]
) -> None:
    """If all ratings are known, no libraries for plots, compiling, checks or other databases are loaded."""
    file = project / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8") + '[[release]]\nname = "B2"\nfolder = "model"\n')
    correlate("score", project)
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *command],
        cwd=project,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == f"loaded {loaded}"


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let hashes be determined long after the files were written, so that they are recorded."""
    clock = SimpleNamespace(time_ns=lambda: time.time_ns() + 10**10)
    monkeypatch.setattr(module, "time", clock)


@pytest.mark.usefixtures("later")
def test_verify_names_what_changed_unnoticed_and_shows_its_numbers(project: Path, correlate: Run) -> None:
    """Without it, a file whose record looks right counts as unchanged; with it, the present bytes count."""
    file = project / "model/push.csv"
    correlate("score", project)
    before = correlate("score", project).out
    change_unnoticed(project, file)
    file_hashes.cache_clear()
    assert correlate("score", project).out == before
    file_hashes.cache_clear()
    verified = correlate("score", project, "--verify")
    assert "1 file changed with the same size, time and inode: model/push.csv." in verified.err
    assert "4 pairs rated, 0 known already." in verified.out
    assert correlate("score", project, "--verify").err == ""


@pytest.mark.usefixtures("later")
def test_explain_verifies_too_and_refuses_it_for_a_pair_of_files(project: Path, correlate: Run) -> None:
    """Hashes are recorded for campaigns only."""
    file = project / "model/push.csv"
    correlate("explain", project)
    change_unnoticed(project, file)
    file_hashes.cache_clear()
    assert "file changed" not in correlate("explain", project).err
    file_hashes.cache_clear()
    assert "1 file changed with the same size" in correlate("explain", project, "--verify").err
    refused = correlate("explain", file, file, "--verify")
    assert (refused.code, "--verify" in refused.err) == (2, True)


def change_unnoticed(project: Path, file: Path) -> None:
    """Change a digit of a file, and its record as if the system had not seen it."""
    seen = file.stat()
    file.write_bytes(file.read_bytes().replace(b"0.05", b"0.04"))
    os.utime(file, ns=(seen.st_atime_ns, seen.st_mtime_ns))
    folder = project_cache_folder(project)
    assert folder is not None
    content = json.loads((folder / RECORDS_FILE).read_text(encoding="utf-8"))
    content["files"][str(file)][2] = file.stat().st_ctime_ns
    (folder / RECORDS_FILE).write_text(json.dumps(content), encoding="utf-8")
