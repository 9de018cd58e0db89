"""What the name of a channel says."""

from __future__ import annotations

import pytest

from correlate.campaign.channel_words import Meaning, meaning


@pytest.mark.parametrize(
    ("name", "place", "level", "kind", "axis"),
    [
        ("D0NECKUP00KMFOXP", "neck", "upper", "force", "x"),
        ("ACC_X_CHEST", "chest", "", "acceleration", "x"),
        ("HeadAccX", "head", "", "acceleration", "x"),
        ("headaccx", "head", "", "acceleration", "x"),
        ("spine T12 acc x", "spine", "lower", "acceleration", "x"),
        ("occipital_joint_torque_y", "neck", "upper", "moment", "y"),
        ("neck up my", "neck", "upper", "moment", "y"),
        ("rot velocity y head", "head", "", "angular velocity", "y"),
        ("head rotation", "head", "", "angle", ""),
        ("skull res acc", "head", "", "acceleration", "resultant"),
        ("Kopf Beschleunigung z", "head", "", "acceleration", "z"),
    ],
)
def test_names_are_taken_apart(name: str, place: str, level: str, kind: str, axis: str) -> None:
    """Codes, glued words, capitals in the middle, abbreviations and vertebrae."""
    said = meaning(name)
    assert said.places == {place}
    assert (said.level, said.kind, said.axis) == (level, kind, axis)


def test_a_name_without_known_words_says_nothing() -> None:
    """Numbers and words that are in no table are kept apart; a code of an unknown place is silent."""
    assert meaning("00CHNL0007000000").rest
    assert meaning("gauge 1207") == Meaning(rest=frozenset({"gauge", "1207"}))


def test_a_name_that_says_two_things_says_neither() -> None:
    """Force and moment in one name leave the kind open."""
    assert meaning("neck force moment x").kind == ""
