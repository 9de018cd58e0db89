"""The list of components of a wheel follows the schema, and has every library with its hashes."""

from __future__ import annotations

import json
from hashlib import sha256
from typing import TYPE_CHECKING, Any
from uuid import NAMESPACE_URL, uuid5

import pytest
from click.testing import CliRunner

from docs.release.components import VENDORED, main
from docs.release.installed import ROOT, pins
from docs.release.lock import LOCK

if TYPE_CHECKING:
    from pathlib import Path

_WHEEL = b"the bytes of a wheel"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Write the list of a wheel, and read it."""
    folder = tmp_path_factory.mktemp("dist")
    wheel = folder / "correlate-7.8.9-py3-none-any.whl"
    wheel.write_bytes(_WHEEL)
    outcome = CliRunner().invoke(main, [str(wheel)])
    assert outcome.exit_code == 0, outcome.output
    content: dict[str, Any] = json.loads((folder / "correlate-7.8.9.cdx.json").read_text(encoding="utf-8"))
    return content


def test_the_wheel_is_named_with_its_hash(written: dict[str, Any]) -> None:
    """Whoever has the wheel can see that the list belongs to it."""
    root = written["metadata"]["component"]
    assert (written["bomFormat"], written["specVersion"]) == ("CycloneDX", "1.6")
    assert (root["name"], root["version"]) == ("correlate", "7.8.9")
    assert root["hashes"] == [{"alg": "SHA-256", "content": sha256(_WHEEL).hexdigest()}]


def test_every_library_of_the_lock_is_listed_with_the_hashes_of_its_files(written: dict[str, Any]) -> None:
    """Nothing is missing, and nothing else is installed."""
    libraries = {one["name"]: one for one in written["components"] if one["type"] == "library"}
    expected = {pin.name: (pin.version, sorted(pin.hashes)) for pin in pins(LOCK)}
    found = {
        name: (one["version"], sorted(hash_["content"] for hash_ in one["externalReferences"][0]["hashes"]))
        for name, one in libraries.items()
    }
    assert found == expected


def test_files_of_others_in_the_wheel_are_listed(written: dict[str, Any]) -> None:
    """With licence and hash; the version where the file states it."""
    listed = {one["name"]: one for one in written["components"] if one["type"] == "file"}
    for name, licence, place, states in VENDORED:
        digest = sha256((ROOT / place).read_bytes()).hexdigest()
        assert listed[name]["hashes"] == [{"alg": "SHA-256", "content": digest}]
        assert listed[name]["licenses"] == [{"expression": licence}]
        assert ("version" in listed[name]) is (states is not None)


def test_who_needs_what_is_stated_and_every_name_in_it_exists(written: dict[str, Any]) -> None:
    """The graph leads from the wheel to every library that is needed here."""
    graph = {one["ref"]: one.get("dependsOn", []) for one in written["dependencies"]}
    known = {one["bom-ref"] for one in written["components"]} | {"correlate"}
    assert graph.keys() == known
    assert {ref for needed in graph.values() for ref in needed} <= known
    numpy = next(ref for ref in known if ref.startswith("numpy@"))
    assert numpy in graph["correlate"]
    assert numpy in graph[next(ref for ref in known if ref.startswith("scipy@"))]


def test_the_same_wheel_gives_the_same_number(written: dict[str, Any]) -> None:
    """The serial number is derived from the bytes of the wheel."""
    assert written["serialNumber"] == f"urn:uuid:{uuid5(NAMESPACE_URL, sha256(_WHEEL).hexdigest())}"


def test_a_file_that_is_no_wheel_is_refused(tmp_path: Path) -> None:
    """One sentence with the remedy, and nothing is written."""
    other = tmp_path / "correlate.zip"
    other.write_bytes(b"")
    outcome = CliRunner().invoke(main, [str(other)])
    assert outcome.exit_code == 2
    assert "build one with python -m build" in outcome.output
    assert list(tmp_path.iterdir()) == [other]
