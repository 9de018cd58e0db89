"""What the program needs of the system: nothing that only POSIX systems have, to be imported and to rate."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

BLOCKED = """
import sys, warnings
warnings.filterwarnings("ignore", message="only soft file lock is available")

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"fcntl", "termios", "tty", "pwd", "grp", "resource"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

for name in ("fcntl", "termios", "tty", "pwd", "grp", "resource"):
    sys.modules.pop(name, None)
sys.meta_path.insert(0, Blocked())
"""

EVERY_MODULE = """
import importlib, pkgutil
for root in ("correlate", "dashboard", "demo_pairs"):
    package = importlib.import_module(root)
    for module in pkgutil.walk_packages(package.__path__, root + "."):
        if not module.name.endswith("__main__") and "migrations.versions" not in module.name:
            importlib.import_module(module.name)
print("imported")
"""

COMMAND = """
import sys
from correlate.cli import main
sys.argv = ["correlate", *sys.argv[1:]]
main()
"""


def run(program: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a program in which modules of POSIX systems cannot be imported."""
    return subprocess.run(
        [sys.executable, "-c", BLOCKED + program, *words],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_module_is_imported_without_posix() -> None:
    """No module of the three packages needs file locks, users or terminals of POSIX when it is imported."""
    done = run(EVERY_MODULE)
    assert (done.returncode, done.stdout) == (0, "imported\n"), done.stderr


@pytest.mark.parametrize("words", [("--help",), ("tune", "--help"), ("formats",)])
def test_the_command_line_works_without_posix(words: tuple[str, ...]) -> None:
    """Help and the list of formats."""
    done = run(COMMAND, *words)
    assert done.returncode == 0, done.stderr


def test_a_pair_is_rated_without_posix(tmp_path: Path) -> None:
    """Reading, rating and writing a page need no POSIX."""
    lines = ["time [ms],force [kN]", *(f"{t},{max(0.0, 5.0 - abs(t - 20) / 2):.3f}" for t in range(60))]
    for name in ("test.csv", "model.csv"):
        (tmp_path / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    page = tmp_path / "page.html"
    done = run(COMMAND, "pair", str(tmp_path / "test.csv"), str(tmp_path / "model.csv"), "--html", str(page))
    assert done.returncode == 0, done.stderr
    assert page.exists()
