"""From numbers to probabilities: they add up to 1, a cause can be taken away, the file is plain numbers."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.hints import causes
from correlate.diagnosis.hints.causes import CAUSES, GROUPS, LEAST_SHARE, SIDES, Classifier, classifier, weigh
from correlate.diagnosis.hints.evidence import numbers_of
from correlate.errors import SettingsError
from tests.diagnosis.struck_mass import Struck, evidence
from tests.diagnosis.worlds.cases import cases
from tests.diagnosis.worlds.evidence import channels_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SHIPPED = files("correlate.diagnosis.hints") / "causes.npz"


def of_two_numbers() -> Classifier:
    """Return a classifier that knows a stiffness by number a and a gap by number b, by their signs."""
    direct = np.zeros((2, len(CAUSES)))
    effects = np.zeros((len(CAUSES), 2))
    for column, group in enumerate(("stiffness", "gap")):
        for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
            direct[column, CAUSES.index((group, side))] = 4.0 * sign
            effects[CAUSES.index((group, side)), column] = sign
    return Classifier(
        names=("a", "b"),
        scale=np.ones(2),
        inner=np.zeros((2, 3)),
        inner_bias=np.zeros(3),
        outer=np.zeros((3, len(CAUSES))),
        outer_bias=np.zeros(len(CAUSES)),
        direct=direct,
        sharpness=2.0,
        effects=effects,
    )


def likeliest(numbers: dict[str, float], own: Classifier | None = None) -> tuple[str, str]:
    """Return the most probable cause."""
    weights = weigh(numbers, own).weights
    return max(weights, key=lambda cause: weights[cause])


def test_the_causes_are_the_behaviours_with_their_sides() -> None:
    """Two of each, side by side: the probabilities of a behaviour lie in neighbouring columns."""
    assert tuple((group, side) for group in GROUPS for side in SIDES) == CAUSES
    assert len(CAUSES) == 16


@settings(max_examples=40, deadline=None)
@given(st.dictionaries(st.sampled_from(classifier().names), st.floats(-1e3, 1e3), max_size=30))
def test_the_weights_add_up_to_one(numbers: dict[str, float]) -> None:
    """Whatever the numbers are, one of each behaviour."""
    found = weigh(numbers)
    assert sum(found.weights.values()) == pytest.approx(1.0)
    assert [group for group, _ in found.weights] == list(GROUPS)
    assert all(0.0 <= weight <= 1.0 for weight in found.weights.values())
    assert np.isfinite(found.left)
    assert found.left >= 0.0


def test_probabilities_of_rows_add_up_to_one() -> None:
    """Also where the sums are far beyond what an exponential can hold."""
    rows = 1e3 * np.random.default_rng(2).standard_normal((5, len(classifier().names)))
    found = classifier().probabilities(rows)
    assert found.shape == (5, len(CAUSES))
    assert found.sum(axis=1) == pytest.approx(np.ones(5))


def test_numbers_are_bent_and_scaled() -> None:
    """A missing number and an unknown one count as no difference; a huge one does not decide alone."""
    row = of_two_numbers().row({"a": 1e9, "unknown": 3.0})
    assert row.tolist() == pytest.approx([1.0, 0.0])


def test_the_sign_of_a_number_tells_the_side() -> None:
    """As the weights of the little classifier say."""
    own = of_two_numbers()
    assert likeliest({"a": 1.0}, own) == ("stiffness", "too much")
    assert likeliest({"a": -1.0}, own) == ("stiffness", "too little")
    assert likeliest({"b": -1.0}, own) == ("gap", "too little")


def test_the_effect_of_a_cause_is_taken_away() -> None:
    """Nothing of number a is left, and number b stands out: as large as before, but for the limit."""
    own = of_two_numbers()
    left, share = own.remaining(np.array([0.8, 0.6]), CAUSES.index(("stiffness", "too much")))
    assert left.tolist() == pytest.approx([0.0, 1.0])
    assert share == pytest.approx(0.6)
    left, share = own.remaining(np.array([1.0, 0.01]), CAUSES.index(("stiffness", "too much")))
    assert left.tolist() == pytest.approx([0.0, 0.01 / LEAST_SHARE])


def test_an_effect_that_points_the_other_way_takes_nothing_away() -> None:
    """Nor does one of numbers that are not there."""
    own = of_two_numbers()
    for row, cause in ((np.array([-0.8, 0.6]), "stiffness"), (np.array([0.0, 0.6]), "stiffness")):
        left, share = own.remaining(row, CAUSES.index((cause, "too much")))
        assert left.tolist() == pytest.approx(row.tolist())
        assert share == pytest.approx(1.0)


def test_a_second_cause_is_found_behind_the_first() -> None:
    """A large a and a smaller b: stiffness, and once it is taken away a gap; with a alone, none."""
    own = of_two_numbers()
    found = weigh({"a": 2.0, "b": 0.6}, own)
    assert found.second is not None
    assert found.second[0] == ("gap", "too much")
    assert 0.0 < found.left < 1.0
    alone = weigh({"a": 2.0}, own)
    assert alone.second is None
    assert alone.left == pytest.approx(0.0)


def test_the_second_cause_is_never_the_first() -> None:
    """What is taken away is the cause that is named first, whatever the numbers are."""
    rng = np.random.default_rng(6)
    for _ in range(200):
        found = weigh(dict(zip(classifier().names, 2.0 * rng.standard_normal(999), strict=False)))
        if found.second is not None:
            assert found.second[0][0] != max(found.weights, key=lambda cause: found.weights[cause])[0]


def test_the_shipped_effects_take_a_cause_away() -> None:
    """Without the effect of the softer spring less is left, and stiffness is no longer what it looks like."""
    judge = classifier()
    row = judge.row(numbers_of(evidence(Struck(), Struck(stiffness=42.0))))
    cause = CAUSES.index(("stiffness", "too little"))
    left, share = judge.remaining(row, cause)
    assert share < 0.95
    before, after = judge.probabilities(np.stack([row, left]))[:, cause]
    assert after < 0.5 * before


def test_the_shipped_file_is_plain_numbers() -> None:
    """No objects that would run code when read; finite; of the shapes that are documented."""
    with as_file(SHIPPED) as path, np.load(path, allow_pickle=False) as content:
        kinds = {name: content[name].dtype.kind for name in content.files}
    assert {name for name, kind in kinds.items() if kind != "f"} == {"names"}
    assert kinds["names"] == "U"
    judge = classifier()
    count, hidden = judge.inner.shape
    assert len(judge.names) == len(set(judge.names)) == count == judge.scale.size
    assert judge.inner_bias.shape == (hidden,)
    assert judge.outer.shape == (hidden, len(CAUSES))
    assert judge.outer_bias.shape == (len(CAUSES),)
    assert judge.direct.shape == (count, len(CAUSES))
    assert judge.effects.shape == (len(CAUSES), count)
    assert judge.sharpness > 0.0
    assert (judge.scale > 0.0).all()
    for values in (judge.inner, judge.inner_bias, judge.outer, judge.outer_bias, judge.direct, judge.effects):
        assert np.isfinite(values).all()


def test_the_classifier_knows_the_numbers_of_the_evidence() -> None:
    """Every number but the size is used: a renamed one would silently be left out."""
    for family in ("chest", "neck"):
        (case,) = cases(family, 1, seed=3, kinds=["stiffness"])
        assert set(numbers_of(channels_of(case))) - {"size"} <= set(classifier().names)


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Let the classifier be read from an empty folder."""
    monkeypatch.setattr(causes, "files", lambda package: tmp_path)  # noqa: ARG005 - as the function it replaces
    classifier.cache_clear()
    yield tmp_path / "causes.npz"
    classifier.cache_clear()


@pytest.mark.parametrize("damage", ["missing", "empty", "cut off", "no archive", "a key is missing"])
def test_a_damaged_file_is_told_in_one_sentence(elsewhere: Path, damage: str) -> None:
    """What cannot be read, and what to do."""
    whole = SHIPPED.read_bytes()
    if damage == "empty":
        elsewhere.write_bytes(b"")
    elif damage == "cut off":
        elsewhere.write_bytes(whole[: len(whole) // 2])
    elif damage == "no archive":
        elsewhere.write_bytes(b"numbers")
    elif damage == "a key is missing":
        np.savez(elsewhere, names=np.array(["a"]))
    with pytest.raises(
        SettingsError,
        match=r"(?s)^the classifier of the hints cannot be read: .*install the package again$",
    ):
        classifier()


def test_pickled_objects_are_not_read(elsewhere: Path) -> None:
    """A file that holds objects could run code: it is refused."""
    np.savez(elsewhere, names=np.array([{"a": 1}], dtype=object))
    with pytest.raises(SettingsError, match="the classifier of the hints cannot be read"):
        classifier()
