"""Whether a machine is idle enough to measure on."""

from __future__ import annotations

import sys

import pytest

from tests.benchmarks import __main__ as program
from tests.benchmarks.machine import Calibration, this_machine, why_busy

STEADY = Calibration(share=0.999, spread=1.02)


def test_an_idle_machine_may_measure() -> None:
    """A low load, a whole core and a steady clock are no reason to refuse."""
    assert why_busy(0.1, 2, STEADY) is None


@pytest.mark.parametrize(
    ("load", "found", "reason"),
    [
        (0.7, STEADY, "0.7 processes wanted its 2 cores during the last minute"),
        (0.1, Calibration(share=0.5, spread=1.02), "a loop got 50% of a core"),
        (0.1, Calibration(share=0.999, spread=1.4), "the same loop took up to 1.40 times as long as at best"),
    ],
)
def test_a_busy_machine_is_told_why(load: float, found: Calibration, reason: str) -> None:
    """Load, a shared core and a varying clock each have their sentence."""
    assert why_busy(load, 2, found) == reason


def test_the_machine_has_a_size_and_a_processor() -> None:
    """Cores and memory are above zero, and the processor has a name."""
    machine = this_machine()
    assert machine.cores > 0
    assert machine.memory_gb > 0
    assert machine.processor


def test_benchmarks_refuse_a_busy_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """One sentence with the remedy; as the text of an exit it gives exit code 1."""
    monkeypatch.setattr(sys, "argv", ["benchmarks", "rating"])
    monkeypatch.setattr(program, "why_busy", lambda *_: "two other programs run")
    with pytest.raises(SystemExit, match=r"is busy: two other programs run\. Wait .* or give --busy"):
        program.main()


def test_an_unknown_group_is_refused_before_anything_is_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    """The groups that exist are listed."""
    monkeypatch.setattr(sys, "argv", ["benchmarks", "raiting"])
    monkeypatch.delattr(program, "calibrate")
    with pytest.raises(SystemExit, match="no group is called raiting: choose among rating, many"):
        program.main()
