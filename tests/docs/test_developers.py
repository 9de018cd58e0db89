"""The page for developers: every file and folder that it names is there."""

from __future__ import annotations

import re

import pytest

from tests.docs.blocks import ROOT

TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
NAMED = sorted(set(re.findall(r"`((?:correlate|dashboard|demo_pairs|docs|tests)/[\w/.-]+)`", TEXT)))


@pytest.mark.parametrize("name", NAMED)
def test_what_is_named_is_there(name: str) -> None:
    """A file that moved takes its line with it."""
    assert (ROOT / name).exists()


def test_every_package_has_its_line() -> None:
    """Each folder of the core, and each of the dashboard that holds code, is on the map."""
    for package in ("correlate", "dashboard"):
        rooms = {path.parent.name for path in (ROOT / package).glob("*/__init__.py")}
        assert [room for room in sorted(rooms) if not re.search(rf"`(?:\w+/)?{room}/`", TEXT)] == []


def test_every_contract_is_where_the_page_says() -> None:
    """The contracts that a newcomer must extend carry the names on the page."""
    contracts = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for name in ("Metrics are independent of each other", "Formats are independent of each other"):
        assert f'name = "{name}"' in contracts
        assert f'"{name}"' in TEXT
