"""What changed between two releases, and the gate that stands on it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import Change, ReleaseScore, aggregate, compare, gate
from correlate.errors import SettingsError
from tests.campaign.test_aggregation import ALL, campaign, record

if TYPE_CHECKING:
    from pathlib import Path

SCATTER = [
    *[entry for entry in ALL if entry.channel != "chest"],
    record("drop", "chest", 0.80, repeat="R1"),
    record("drop", "chest", 0.60, repeat="R2"),
]


def scores(folder: Path, changes: dict[tuple[str, str], float]) -> ReleaseScore:
    """Return the numbers of a release whose channels differ from the first one by so much."""
    records = [
        replace(entry, overall=entry.overall + changes.get((entry.load_case, entry.channel), 0.0))
        for entry in SCATTER
    ]
    return aggregate(campaign(folder), records, "B1")


def find(changes: list[Change], kind: str, name: str) -> Change:
    """Return the change of one thing."""
    return next(one for one in changes if one.kind == kind and one.place and one.place[-1] == name)


def test_differences_are_those_of_the_numbers_biggest_first(tmp_path: Path) -> None:
    """Two channels change; both are listed before the unchanged ones, the larger first."""
    before = scores(tmp_path, {})
    after = scores(tmp_path, {("drop", "spine"): 0.3, ("push", "force"): -0.1})
    changes = compare(before, after)
    channels = [one for one in changes if one.kind == "channel"]
    assert [one.place[-1] for one in channels[:2]] == ["spine", "force"]
    assert channels[0].difference == pytest.approx(0.3)
    assert channels[1].difference == pytest.approx(-0.1)
    assert [one.verdict for one in channels[:2]] == ["not distinguishable: one repeat"] * 2
    assert changes[0].kind == "release"
    assert changes[0].difference == pytest.approx(
        (after.training.overall or 0) - (before.training.overall or 0)
    )


def repeated(folder: Path, before: list[float], after: list[float]) -> tuple[ReleaseScore, ReleaseScore]:
    """Return two releases that differ in the chest alone, rated against as many repeats as given."""
    others = [entry for entry in ALL if entry.channel != "chest"]
    made = [
        [*others, *(record("drop", "chest", one, repeat=f"R{n}") for n, one in enumerate(values))]
        for values in (before, after)
    ]
    one, two = (aggregate(campaign(folder), entries, "B1") for entries in made)
    return one, two


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        # A steady loss is one although the repeats scatter by far more.
        ([0.80, 0.60, 0.70], [0.77, 0.572, 0.668], "worse"),
        ([0.80, 0.60, 0.70], [0.83, 0.628, 0.732], "better"),
        # As large in the mean, but up and down: t = 0.03 / (0.1323 / sqrt(3)) = 0.39, below 4.30.
        ([0.80, 0.60, 0.70], [0.95, 0.48, 0.76], "not distinguishable"),
        ([0.80, 0.60, 0.70], [0.80, 0.60, 0.70], "not distinguishable"),
    ],
)
def test_releases_are_compared_repeat_by_repeat(
    tmp_path: Path, before: list[float], after: list[float], verdict: str
) -> None:
    """What counts is the scatter of the differences, not that of the ratings."""
    change = find(compare(*repeated(tmp_path, before, after)), "channel", "chest")
    assert change.verdict == verdict
    assert change.estimate is not None
    assert change.estimate.value == pytest.approx(change.difference)


def test_a_repeat_that_one_release_lacks_is_no_pair(tmp_path: Path) -> None:
    """Two shared repeats remain of three."""
    change = find(compare(*repeated(tmp_path, [0.8, 0.6, 0.7], [0.7, 0.5])), "channel", "chest")
    assert change.estimate is not None
    assert change.estimate.count == 2


def test_held_out_load_cases_are_marked(tmp_path: Path) -> None:
    """The change of the held-out force is there, and says that it is held out."""
    changes = compare(scores(tmp_path, {}), scores(tmp_path, {("secret", "force"): 0.2}))
    held = [one for one in changes if one.held_out and one.kind == "channel"]
    assert [one.place[0] for one in held] == ["secret"]
    assert held[0].difference == pytest.approx(0.2)


def test_a_channel_rated_in_one_release_only_has_no_difference(tmp_path: Path) -> None:
    """What is gone is said to be gone, not compared."""
    before = scores(tmp_path, {})
    gone = aggregate(campaign(tmp_path), [one for one in SCATTER if one.channel != "spine"], "B1")
    assert find(compare(before, gone), "channel", "spine").verdict == "rated in one release only"


def reasons(release: ReleaseScore, **limits: object) -> list[str]:
    """Return the reasons against a release."""
    return [f"{one.name}: {one.reason}" for one in gate(release, **limits) if not one.is_passed]  # type: ignore[arg-type]


def test_the_bar_holds_for_the_release_and_for_held_out_load_cases(tmp_path: Path) -> None:
    """With a bar between the two, only the held-out number is under it."""
    release = scores(tmp_path, {})
    assert reasons(release, least=0.25) == []
    found = reasons(release, least=0.5)
    assert len(found) == 1
    assert "held-out load cases: rating at least 0.5: 0.300 is below 0.500" in found[0]


def test_a_loss_above_the_limit_fails_by_name(tmp_path: Path) -> None:
    """A loss of 0.2 in one channel fails that channel and what it pulls down far enough."""
    before = scores(tmp_path, {})
    after = scores(tmp_path, {("push", "force"): -0.2})
    found = reasons(after, baseline=before, largest_loss=0.03)
    assert any(entry.startswith("push / thorax / force: ") and "loss of 0.200" in entry for entry in found)
    assert any(entry.startswith("release: ") for entry in found)
    assert reasons(after, baseline=before, largest_loss=0.21) == []


def test_a_steady_loss_is_not_hidden_by_the_scatter_of_the_repeats(tmp_path: Path) -> None:
    """Five repeats scatter by 0.08 and each loses 0.025 to 0.038: a limit of 0.02 is broken."""
    before = [0.70, 0.80, 0.75, 0.90, 0.72]
    losses = [0.025, 0.038, 0.03, 0.026, 0.033]
    one, two = repeated(tmp_path, before, [value - loss for value, loss in zip(before, losses, strict=True)])
    found = [entry for entry in reasons(two, baseline=one, largest_loss=0.02) if "chest" in entry]
    # Mean 0.0304, standard deviation 0.0053, t(4) = 2.776, widened by a twentieth: half width 0.0069.
    assert ["a loss of 0.030 (95 % interval 0.023 to 0.037)" in entry for entry in found] == [True]


def test_a_loss_that_may_be_larger_than_the_limit_does_not_pass(tmp_path: Path) -> None:
    """The mean lost 0.01, but three repeats that differ by 0.05 do not rule out more than 0.02."""
    one, two = repeated(tmp_path, [0.80, 0.60, 0.70], [0.84, 0.54, 0.69])
    found = [entry for entry in reasons(two, baseline=one, largest_loss=0.02) if "chest" in entry]
    # Differences +0.04, -0.06, -0.01: t(2) = 2.920, standard error 0.02887, bound -0.01 - 0.0843.
    assert len(found) == 1
    assert "a loss of up to 0.094 is not ruled out with 3 repeats" in found[0]


def test_losing_a_channel_fails(tmp_path: Path) -> None:
    """Leaving out the worst channel raises the mean; the gate says what is gone."""
    before = scores(tmp_path, {})
    gone = aggregate(campaign(tmp_path), [one for one in SCATTER if one.channel != "spine"], "B1")
    found = reasons(gone, baseline=before, largest_loss=1.0)
    assert any("only 5 of 6 channels rated" in entry for entry in found)
    assert any("no longer rated, 0.400 before" in entry for entry in found)


def test_an_empty_release_never_passes(tmp_path: Path) -> None:
    """Nothing rated is a reason of its own, in the held-out load cases too."""
    found = reasons(aggregate(campaign(tmp_path), [], "B1"))
    assert any("only 0 of 6 channels and 0 of 1 channel rated" in entry for entry in found)


def test_limits_that_make_no_sense_are_refused(tmp_path: Path) -> None:
    """A bar of 80 and a loss without a baseline are mistakes."""
    release = scores(tmp_path, {})
    with pytest.raises(SettingsError, match="the least rating is 80"):
        gate(release, least=80)
    with pytest.raises(SettingsError, match="needs a release to compare with"):
        gate(release, largest_loss=0.1)


def test_numbers_of_different_channels_are_not_subtracted(tmp_path: Path) -> None:
    """A release that lost a channel has changed neither way in what that channel is a part of."""
    whole = scores(tmp_path, {})
    fewer = aggregate(campaign(tmp_path), [one for one in SCATTER if one.channel != "spine"], "B1")
    changes = {(one.held_out, one.place): one for one in compare(whole, fewer)}
    total = changes[False, ()]
    assert (total.before, total.after) == (whole.training.overall, fewer.training.overall)
    assert total.difference is None
    assert total.verdict == "not comparable: different channels are rated"
    assert find(compare(whole, fewer), "channel", "chest").difference == 0.0
