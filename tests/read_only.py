"""Programs that run without the privilege of root to write where the permissions forbid it.

The tests often run as root, to whom no folder is read-only. Linux lets a process lay this privilege down for
itself and for the programs it runs, while files stay readable to it as to their owner.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]

# Number 24 drops a capability for good; 1 is CAP_DAC_OVERRIDE, the right to pass over permissions.
BOUND_BY_PERMISSIONS = """
import ctypes, os, sys
if os.geteuid() == 0:
    assert ctypes.CDLL(None, use_errno=True).prctl(24, 1, 0, 0, 0) == 0, "the privilege cannot be laid down"
os.execv(sys.argv[1], sys.argv[1:])
"""


def bound(*arguments: object) -> list[str]:
    """Return the command that runs Python with arguments, bound by the permissions of files."""
    return [sys.executable, "-c", BOUND_BY_PERMISSIONS, sys.executable, *map(str, arguments)]


def run_bound(*arguments: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run Python with arguments, bound by the permissions of files."""
    return subprocess.run(
        bound(*arguments),
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Take the permission to write from a folder and everything in it, as in an archive, for a while."""
    inside = [folder, *folder.rglob("*")]
    modes = {path: path.stat().st_mode for path in inside}
    for path in inside:
        path.chmod(modes[path] & ~0o222)
    try:
        yield
    finally:
        for path in inside:
            path.chmod(modes[path])


def contents(folder: Path) -> dict[str, str]:
    """Return the name of everything in a folder and the hash of every file."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        if path.is_file()
        else ""
        for path in sorted(folder.rglob("*"))
    }
