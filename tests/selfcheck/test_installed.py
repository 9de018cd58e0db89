"""What is installed: hashes of the code, machine and libraries."""

from __future__ import annotations

import hashlib
import platform
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from correlate.selfcheck import installation
from correlate.selfcheck.installed import PACKAGE, code_hashes
from correlate.version import VERSION

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_every_file_of_the_package_is_hashed(tmp_path: Path) -> None:
    """Code, data and pages are in; machine code and byte code that is cached beside them is not."""
    for name in ("a.py", "b/c.toml", "b/d.csv", "__pycache__/a.pyc", "b/a.nbi", "b/__pycache__/a.py"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(name)
    found = code_hashes(tmp_path)
    assert found == {
        name: hashlib.sha256(name.encode()).hexdigest() for name in ("a.py", "b/c.toml", "b/d.csv")
    }


def test_the_hash_of_the_whole_is_that_of_the_list() -> None:
    """Anybody can compute it from the lines of the record."""
    found = installation()
    lines = "".join(f"{digest}  {name}\n" for name, digest in found.files.items())
    assert found.sha256 == hashlib.sha256(lines.encode()).hexdigest()
    for name in ("version.py", "selfcheck/kit/kit.toml", "metrics/iso18571/rating.py"):
        assert found.files[name] == hashlib.sha256((PACKAGE / name).read_bytes()).hexdigest()


def test_machine_and_libraries_are_named() -> None:
    """Version, Python, system, processor; libraries that compute are in, those of the tests are not."""
    found = installation()
    assert found.version == VERSION
    assert found.python == f"{platform.python_implementation()} {platform.python_version()}"
    assert platform.system() in found.system
    assert found.processor
    assert found.libraries["numpy"] == version("numpy")
    assert found.libraries["jinja2"] == version("jinja2")
    assert not {"pytest", "sphinx", "correlate"} & set(found.libraries)


def test_code_that_was_not_installed_has_no_list_of_libraries(monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of code on the path works, and names no library."""

    def nothing(_: str) -> list[str]:
        raise PackageNotFoundError

    monkeypatch.setattr("correlate.selfcheck.installed.requires", nothing)
    assert installation().libraries == {}
