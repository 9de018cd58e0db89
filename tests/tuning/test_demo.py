"""The tuning file of the demo: it starts at release A1 and spans the later releases."""

from __future__ import annotations

from pathlib import Path

import pytest

from correlate.campaign import load_campaign
from correlate.tuning.decks import DeckWriter
from correlate.tuning.definition import load_tuning
from correlate.tuning.rating import checked_cases
from demo_pairs.solver.deck import UNITS, read_deck
from demo_pairs.solver.run import LOAD_CASES

DEMO = Path(__file__).parents[2] / "demo_pairs"


def test_the_start_point_is_release_a1(tmp_path: Path) -> None:
    """The deck written from the template at the start values holds the materials and load cases of A1."""
    tuning = load_tuning(DEMO)
    deck = DeckWriter(tuning).write(tuning.space.as_values(tuning.space.start_point), name="p000")
    (tmp_path / "model.deck").write_text(deck.text, encoding="utf-8")
    written = read_deck(tmp_path / "model.deck", tuple(LOAD_CASES))
    first = read_deck(DEMO / "decks" / "A1.deck", tuple(LOAD_CASES))
    assert written.materials == first.materials
    assert written.load_cases == first.load_cases
    assert written.name == "p000"
    assert {one.name: one.unit for one in tuning.space.parameters} == {
        name: unit for name, (unit, _) in UNITS.items()
    }


@pytest.mark.parametrize("release", ["A1", "A2", "A3"])
def test_every_release_lies_inside_the_bounds(release: str) -> None:
    """What the analyst found by hand can be found by tuning."""
    tuning = load_tuning(DEMO)
    materials = read_deck(DEMO / "decks" / f"{release}.deck", tuple(LOAD_CASES)).materials
    values = {name: getattr(materials, name) / factor for name, (_, factor) in UNITS.items()}
    assert tuning.space.contains(tuning.space.as_point(values))


def test_it_trains_on_what_the_campaign_does_not_hold_out() -> None:
    """Both files say the same of every load case."""
    campaign = load_campaign(DEMO)
    tuning = load_tuning(DEMO)
    assert {case.name for case in checked_cases(tuning, campaign)} == {
        one.name for one in campaign.load_cases
    }
    assert {one.name for one in campaign.load_cases if one.held_out} == set(tuning.goal.held_out)
