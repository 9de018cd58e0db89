"""The releases of the demo's model, run once for the component tests."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from demo_pairs.build import DECKS
from demo_pairs.solver.run import run_deck
from tests.criteria.recordings import COMPONENT_TESTS

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="session")
def releases(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run the first and the last deck on the component tests; one folder per release."""
    folder = tmp_path_factory.mktemp("releases")
    for name in ("A1", "A3"):
        run_deck(DECKS / f"{name}.deck", folder / name, tuple(COMPONENT_TESTS))
    return folder
