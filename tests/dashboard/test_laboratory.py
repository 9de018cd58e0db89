"""What the dashboard remembers of the tests of a project."""

from __future__ import annotations

from dashboard.laboratory import MOST_KEPT, _keep


def test_only_the_newest_results_are_remembered() -> None:
    """Memory does not grow with the number of files that were looked at; what is asked for now is there."""
    kept: dict[int, str] = {}
    for number in range(MOST_KEPT + 3):
        _keep(kept, number, str(number))
    assert len(kept) == MOST_KEPT
    assert min(kept) == 3
    assert kept[MOST_KEPT + 2] == str(MOST_KEPT + 2)
