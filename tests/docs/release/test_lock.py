"""The lock of a server installation is complete, pinned, hashed, and what the tests run with."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from docs.release.installed import PROJECT, ROOT, SERVER, declared, direct, libraries, pins
from docs.release.lock import LOCK

if TYPE_CHECKING:
    from pathlib import Path


def _constraints() -> dict[str, str]:
    lines = (ROOT / "tests" / "constraints.txt").read_text(encoding="utf-8").split()
    pairs = (line.partition("==") for line in lines)
    return {canonicalize_name(name): version for name, _, version in pairs}


def test_every_library_of_the_lock_has_the_hashes_of_its_files() -> None:
    """Installing with hashes refuses a library without one."""
    found = pins(LOCK)
    assert len(found) > 50
    assert [pin.name for pin in found if not pin.hashes] == []
    text = LOCK.read_text(encoding="utf-8")
    assert len(re.findall(r"--hash=sha256:[0-9a-f]{64}", text)) == sum(len(pin.hashes) for pin in found)


def test_the_lock_has_every_library_that_a_server_needs_here() -> None:
    """Otherwise installing with hashes stops; the remedy is ``python -m docs.release.lock``."""
    here = {pin.name for pin in pins(LOCK) if not pin.marker or Marker(pin.marker).evaluate()}
    assert {one.name for one in libraries(SERVER)} - here == set()


def test_the_lock_satisfies_the_settings_file_of_the_project() -> None:
    """A requirement that was raised later is noticed."""
    versions = {pin.name: pin.version for pin in pins(LOCK)}
    wanted = direct(SERVER)
    wrong = [
        str(requirement)
        for requirement in map(Requirement, declared(PROJECT))
        if (name := canonicalize_name(requirement.name)) in wanted
        and not requirement.specifier.contains(versions[name])
    ]
    assert wanted
    assert wrong == []


def test_a_server_gets_the_versions_that_the_tests_run_with() -> None:
    """What is locked is what was tested."""
    tested = _constraints()
    other = {pin.name: pin.version for pin in pins(LOCK) if tested.get(pin.name, pin.version) != pin.version}
    assert other == {}


def test_pins_are_read_with_marker_and_hashes(tmp_path: Path) -> None:
    """Each part of an entry is found, extras and comments are no part of the name."""
    lock = tmp_path / "lock"
    first, second = "a" * 64, "b" * 64
    lock.write_text(
        f"# words\nFirst.One[extra]==1.0 ; os_name == 'nt' \\\n    --hash=sha256:{first} \\\n"
        f"    --hash=sha256:{second}\nsecond==2.0.post1 \\\n    --hash=sha256:{first}\n",
        encoding="utf-8",
    )
    one, two = pins(lock)
    assert (one.name, one.version, one.marker, one.hashes) == (
        "first-one",
        "1.0",
        "os_name == 'nt'",
        (first, second),
    )
    assert (two.name, two.version, two.marker, two.hashes) == ("second", "2.0.post1", "", (first,))
