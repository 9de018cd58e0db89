"""A small package, made once, and copies of it to spoil."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Signal
from correlate.formats.iso13499 import write_test
from correlate.reference.package.making import PackagePlan, make_package
from correlate.reference.package.signature import load_private_key, make_key

if TYPE_CHECKING:
    from pathlib import Path

CODE = "D0HEAD0000KMACXP"


def write_pulse(folder: Path, name: str, seed: int, *, size: float = 900.0) -> Path:
    """Write a test folder with one pulse and a document beside it."""
    random = np.random.default_rng(seed)
    time = np.arange(-300, 700) * 1e-4
    pulse = size * np.exp(-(((time - 0.02) / 0.006) ** 2)) + random.normal(0, 0.3, time.size)
    made = write_test(
        folder / name,
        name=name,
        description={"Title": f"drop {name}", "Type of the test": "drop", "Reference temperature": "21.3"},
        signals=[Signal(samples=pulse, start_s=-0.03, step_s=1e-4, unit="m/s^2", channel=CODE)],
        channel_headers={CODE: {"Channel amplitude class": "2000"}},
        significant_digits=6,
    )
    (made / "Document").mkdir()
    (made / "Document" / "set-up.txt").write_text("a drawing\n", encoding="utf-8")
    return made


@pytest.fixture(scope="session")
def tests_made(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Write three repeats."""
    folder = tmp_path_factory.mktemp("laboratory")
    return [write_pulse(folder, f"T{number}", number) for number in (1, 2, 3)]


@pytest.fixture(scope="session")
def key_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a key."""
    path = tmp_path_factory.mktemp("keys") / "lab.key"
    make_key(path)
    return path


@pytest.fixture(scope="session")
def sound_bag(tests_made: list[Path], key_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a signed bag in a folder."""
    bag = tmp_path_factory.mktemp("bags") / "bag"
    make_package(PackagePlan(tests=tests_made, checked_by="lab", signing_key=load_private_key(key_file)), bag)
    return bag


@pytest.fixture
def bag(sound_bag: Path, tmp_path: Path) -> Path:
    """Return a copy of the bag to spoil."""
    return shutil.copytree(sound_bag, tmp_path / "bag")
