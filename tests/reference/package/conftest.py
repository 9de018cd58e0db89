"""A small package, made once, and copies of it to spoil."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from correlate.reference.package.create import PackagePlan, make_package
from correlate.reference.package.keys import load_signer
from tests.reference.folders import write_pulse
from tests.reference.package.key_files import PASSPHRASE, key_pair

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="session")
def tests_made(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Write three repeats."""
    folder = tmp_path_factory.mktemp("laboratory")
    return [write_pulse(folder, f"T{number}", number) for number in (1, 2, 3)]


@pytest.fixture(scope="session")
def key_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a key."""
    path = tmp_path_factory.mktemp("keys") / "lab.key"
    key_pair(path)
    return path


@pytest.fixture(scope="session")
def sound_bag(tests_made: list[Path], key_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a signed bag in a folder."""
    bag = tmp_path_factory.mktemp("bags") / "bag"
    plan = PackagePlan(tests=tests_made, checked_by="lab", signer=load_signer(key_file, PASSPHRASE))
    make_package(plan, bag)
    return bag


@pytest.fixture
def bag(sound_bag: Path, tmp_path: Path) -> Path:
    """Return a copy of the bag to spoil."""
    return shutil.copytree(sound_bag, tmp_path / "bag")
