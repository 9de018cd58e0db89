"""Common shifts in invented worlds: found, of the right size, and not suspected elsewhere (small version)."""

from __future__ import annotations

from functools import cache

from tests.benchmarks.time_zero import Measured, measure, silenced

SHIFTS = ("3 to 5 ms", "5 to 9 ms", "9 to 15 ms", "15 to 25 ms")
FAMILY = "sled"
"""Its records hold the event wherever it is moved to."""


@cache
def _measured() -> Measured:
    return measure(FAMILY, count=16, seed=1618)


def test_common_shifts_are_found() -> None:
    """Of 32 load cases with a shift of 3 to 25 ms at most one is missed, and the sizes are right."""
    found, planted = _measured().share(SHIFTS)
    assert planted == 32
    assert found >= 31
    assert max(abs(off_ms) for off_ms in _measured().off_ms) < 1.5


def test_other_models_are_not_suspected() -> None:
    """Single and double faults, honest models, repeats with jitter: none of them is a shift."""
    others = [name for name in _measured().planted if not name.endswith(SHIFTS)]
    assert {"honest", "two faults", "jitter 1 ms"} <= set(others)
    assert _measured().share(others)[0] == 0


def test_hints_are_withheld_from_shifted_and_honest_models() -> None:
    """All honest and all shifted load cases are silent, most of those with another fault are not."""
    found = silenced(FAMILY, count=18, seed=1618)
    for kind in ("honest", "timing"):
        assert found.silent[kind] == found.load_cases[kind] > 0
    others = [kind for kind in found.load_cases if kind not in {"honest", "timing"}]
    spoken = sum(found.load_cases[kind] - found.silent[kind] for kind in others)
    assert spoken > 0.6 * sum(found.load_cases[kind] for kind in others)
