"""The kit: where its numbers come from, that it is handed out whole, and refusals of a damaged one."""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tomllib
from fnmatch import fnmatch
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError
from correlate.selfcheck import KIT, read_kit
from correlate.selfcheck.functions import FUNCTIONS

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]

WITHOUT_THE_PACKAGE = """
import runpy, sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"correlate", "dashboard", "demo_pairs"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Blocked())
sys.argv = ["make_kit", sys.argv[1]]
runpy.run_module("tests.selfcheck.make_kit", run_name="__main__")
assert not [name for name in sys.modules if name.partition(".")[0] == "correlate"]
"""


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder by its name."""
    return {one.name: one.read_bytes() for one in folder.iterdir()}


def test_the_kit_is_what_the_script_writes_without_the_package(tmp_path: Path) -> None:
    """The script runs where the package cannot be imported, and writes the committed files byte by byte."""
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_THE_PACKAGE, tmp_path / "kit"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert contents(tmp_path / "kit") == contents(KIT)


def test_the_kit_is_small_and_covers_every_function() -> None:
    """Less than 1 MB; each function of the table has a check, and each check has something to compare."""
    kit = read_kit()
    assert sum(one.stat().st_size for one in KIT.iterdir()) < 1_000_000
    assert {check.function for check in kit.checks} == set(FUNCTIONS)
    assert all(check.values or check.curves for check in kit.checks)
    assert all(check.source for check in kit.checks)
    assert kit.sha256 == hashlib.sha256((KIT / "SHA256SUMS").read_bytes()).hexdigest()


def test_every_file_is_handed_out_with_the_package() -> None:
    """Each name fits a pattern of the package data, and the files are found as resources of the package."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = project["tool"]["setuptools"]["package-data"]["*"]
    found = files("correlate.selfcheck").joinpath("kit")
    for one in KIT.iterdir():
        assert any(fnmatch(one.name, pattern) for pattern in patterns), one.name
        assert found.joinpath(one.name).is_file()


def test_the_page_in_the_kit_explains_every_function_and_key() -> None:
    """The README names each function of the table and each key of a check."""
    words = (KIT / "README.md").read_text(encoding="utf-8")
    for name in (*FUNCTIONS, "function", "name", "file", "source", "settings", "values", "curves"):
        assert f"`{name}`" in words, name


def _remove(kit: Path) -> None:
    (kit / "rating-2.csv").unlink()


def _change(kit: Path) -> None:
    file = kit / "rating-2.csv"
    file.write_bytes(file.read_bytes().replace(b"1", b"2", 1))


def _add(kit: Path) -> None:
    (kit / "more.csv").write_text("time [ms],a [g]\n")


def _forget(kit: Path) -> None:
    (kit / "SHA256SUMS").unlink()


def _damage(kit: Path) -> None:
    (kit / "SHA256SUMS").write_text("no hash at all\n")


def _reach_outside(kit: Path) -> None:
    with (kit / "SHA256SUMS").open("a") as stream:
        stream.write(f"{'0' * 64}  ../secret\n")


def _empty(kit: Path) -> None:
    for one in kit.iterdir():
        one.unlink()
    (kit / "SHA256SUMS").write_text("")


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (
            _remove,
            r"kit/rating-2\.csv: the file is listed in SHA256SUMS and missing; install correlate again",
        ),
        (
            _change,
            r"kit/rating-2\.csv: the file is not the one listed in SHA256SUMS; install correlate again",
        ),
        (_add, r"kit/more\.csv: the file is not listed in SHA256SUMS; install"),
        (_forget, r"kit/SHA256SUMS: there is no such file; check the path"),
        (_damage, r"kit/SHA256SUMS: line 1 is not a SHA-256, two spaces and the name of a file; install"),
        (_reach_outside, r"kit/SHA256SUMS: line \d+ is not a SHA-256, two spaces and the name of a file"),
        (_empty, r"kit/kit\.toml: the kit has no such file"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_a_damaged_kit_is_refused_in_one_sentence(
    kit: Path, damage: Callable[[Path], None], words: str
) -> None:
    """The sentence names the file, what is wrong and the remedy."""
    damage(kit)
    with pytest.raises(FormatError, match=words) as refused:
        read_kit(kit)
    assert "\n" not in str(refused.value)


def test_mistakes_in_the_checks_are_named(small_kit: Callable[[str, str], Path]) -> None:
    """An unknown key and a tolerance below zero are refused together, with their lines."""
    checks = (
        '[[check]]\nfunction = "filter"\nname = "a"\nfile = "curves.csv"\nsource = "here"\nsauce = 1\n'
        'values = [{ quantity = "a", expected = 1, tolerance = -1, unit = "1" }]\n'
    )
    with pytest.raises(FormatError, match=r"kit\.toml: (?s:.*)sauce(?s:.*)tolerance"):
        read_kit(small_kit(checks, "time [ms],a [g]\n0,0\n1,0\n"))
