"""The built and rated demo project, made once for all test processes of a run."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from typing import TYPE_CHECKING, Final

from correlate.files import turn

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

NAME: Final = "correlate-demo"
_COPIED: Final = ("campaign.toml", "tuning.toml", "tuning.deck", "laboratory.toml")
_LINKED: Final = ("laboratory", "releases", "planted_faults")


def shared_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build and rate the demo with ``correlate demo``, or wait until another process has done so.

    Parameters
    ----------
    tmp_path_factory
        Of pytest.

    Returns
    -------
    Path
        The project; read only. What the command printed lies beside it as ``printed.txt``.
    """
    base = tmp_path_factory.getbasetemp()
    # With several processes each has a folder of its own inside that of the run.
    run = base.parent if base.name.startswith("popen-") else base
    project = run / "shared-demo" / NAME
    project.parent.mkdir(exist_ok=True)
    printed = project.parent / "printed.txt"
    with turn(project.parent):
        if not printed.exists():
            command = [sys.executable, "-m", "correlate", "demo", "--no-serve", "--into", str(project)]
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            assert done.returncode == 0, done.stderr
            printed.write_text(done.stdout, encoding="utf-8")
    return project


def copy_of(demo: Path, folder: Path) -> Path:
    """Return a project of one's own: data are linked, files that change are copied.

    Parameters
    ----------
    demo
        The shared one.
    folder
        Where; made.

    Returns
    -------
    Path
        The folder.
    """
    folder.mkdir(parents=True)
    for name in _COPIED:
        shutil.copyfile(demo / name, folder / name)
    shutil.copytree(demo / "qualifications", folder / "qualifications")
    # Another test may be writing to the store: the database copies itself, whole.
    with (
        closing(sqlite3.connect(demo / "ratings.sqlite")) as old,
        closing(sqlite3.connect(folder / "ratings.sqlite")) as new,
    ):
        old.backup(new)
    for name in _LINKED:
        (folder / name).symlink_to(demo / name)
    return folder
