"""Running the kit: everything agrees here, a broken function is named, and what gives nothing says why."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from correlate.selfcheck import read_kit, run_selfcheck
from correlate.selfcheck import running as module

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

CURVES = "time [ms],as recorded [g],CFC 60 [g]\n" + "".join(f"{i / 10:.1f},1,1\n" for i in range(40))
CHECK = '[[check]]\nfunction = "{function}"\nname = "flat"\nfile = "curves.csv"\nsource = "closed form"\n'


def test_everything_agrees_on_this_machine() -> None:
    """Every number of every function is within its tolerance, and each was compared."""
    result = run_selfcheck()
    assert result.agrees, result.disagreeing
    assert result.disagreeing == ()
    kit = read_kit()
    assert result.count == sum(len(check.values) + len(check.curves) for check in kit.checks)
    assert result.count > 200
    assert list(result.functions) == list(dict.fromkeys(check.function for check in kit.checks))


def _scaled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function whose array of curves comes out a millionth too large."""

    def wrong(first: Any, *others: Any, **settings: Any) -> Any:
        return function(first * (1 + 1e-6), *others, **settings)

    return wrong


@pytest.mark.parametrize(
    ("place", "name", "function"),
    [
        ("correlate.selfcheck.functions", "hic", "head injury criterion"),
        ("correlate.selfcheck.functions", "severity_index", "severity index"),
        ("correlate.selfcheck.functions", "cumulative_clip", "3 ms clip"),
        ("correlate.selfcheck.functions", "viscous_criterion", "chest"),
        ("correlate.selfcheck.functions", "nij", "Nij"),
        ("correlate.selfcheck.functions", "femur_force", "femur force"),
        ("correlate.selfcheck.functions", "tibia_index", "tibia index"),
        ("correlate.selfcheck.functions", "bric", "brain injury criterion"),
        ("correlate.selfcheck.functions", "nic", "NIC"),
        ("correlate.selfcheck.functions", "damage", "DAMAGE"),
    ],
)
def test_a_criterion_that_is_a_millionth_wrong_is_found(
    monkeypatch: pytest.MonkeyPatch, place: str, name: str, function: str
) -> None:
    """Each criterion is broken in turn; its function, and no other, does not agree."""
    broken = import_module(place)
    monkeypatch.setattr(broken, name, _scaled(getattr(broken, name)))
    assert {one.function for one, _ in run_selfcheck().disagreeing} == {function}


def test_a_filter_of_another_design_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A design frequency that is a hundred-thousandth off shows in the filter and in what is filtered."""
    monkeypatch.setattr("correlate.conditioning.filters.DESIGN_RATIO", 2.0775 * (1 + 1e-5))
    names = {one.function for one, _ in run_selfcheck().disagreeing}
    assert {"filter", "qualification windows"} <= names
    assert not names & {"rating", "corridor", "Nij"}


@pytest.mark.parametrize(
    ("target", "value", "function"),
    [
        ("correlate.metrics.iso18571.rating.grade_of", None, "rating"),
        ("correlate.selfcheck.functions.rate_many", lambda _: [], "rating of many pairs"),
        ("correlate.selfcheck.functions.spread_corridor", None, "corridor"),
    ],
)
def test_a_function_that_fails_is_named_with_the_reason(
    monkeypatch: pytest.MonkeyPatch, target: str, value: Any, function: str
) -> None:
    """Whatever it raises is the reason; the other functions are still compared."""
    monkeypatch.setattr(target, value)
    result = run_selfcheck()
    rows = [row for one, row in result.disagreeing if one.function == function]
    assert rows
    assert all(row.found is None and row.difference is None for row in rows)
    assert all(row.reason.startswith("it ended with ") for row in rows)
    assert len(result.disagreeing) < result.count


def test_a_curve_is_compared_at_every_sample(
    monkeypatch: pytest.MonkeyPatch, small_kit: Callable[[str, str], Path]
) -> None:
    """One wrong sample of forty is found, with its place; a shorter curve, or a NaN, is nothing."""
    curves = 'curves = [{ quantity = "CFC 60", column = "CFC 60", tolerance = 1e-9, unit = "g" }]\n'
    folder = small_kit(CHECK.format(function="filter") + curves, CURVES)
    flat = np.ones(40)
    outcomes = {
        "wrong": np.where(np.arange(40) == 7, 1.25, flat),
        "short": flat[:-1],
        "not a number": np.where(np.arange(40) == 7, np.nan, flat),
        "right": flat,
    }
    found = {}
    for name, curve in outcomes.items():
        monkeypatch.setattr(module, "FUNCTIONS", {"filter": lambda *_, curve=curve: {"CFC 60": curve}})
        ((one,),) = (checked.comparisons for checked in run_selfcheck(folder).checked)
        found[name] = (one.difference, one.place, one.reason)
    assert found == {
        "wrong": (0.25, "at 0.7 ms", ""),
        "short": (None, "", "the curve has 39 samples, or some are no numbers; expected are 40"),
        "not a number": (None, "", "the curve has 40 samples, or some are no numbers; expected are 40"),
        "right": (0.0, "at 0 ms", ""),
    }


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        ({"a": 1.0}, ""),
        ({"a": None}, "the function gives no such quantity"),
        ({"b": 1.0}, "the function gives no such quantity"),
        ({"a": float("nan")}, "the result is nan"),
    ],
)
def test_a_number_that_is_missing_does_not_agree(
    monkeypatch: pytest.MonkeyPatch,
    small_kit: Callable[[str, str], Path],
    given: dict[str, float | None],
    reason: str,
) -> None:
    """Only a finite number is compared; the rest says why there is none."""
    values = 'values = [{ quantity = "a", expected = 1.5, tolerance = 0.5, unit = "1" }]\n'
    folder = small_kit(CHECK.format(function="filter") + values, CURVES)
    monkeypatch.setattr(module, "FUNCTIONS", {"filter": lambda *_: given})
    ((row,),) = (one.comparisons for one in run_selfcheck(folder).checked)
    assert (row.agrees, row.reason) == (not reason, reason)


def test_a_function_that_nobody_knows_does_not_agree(small_kit: Callable[[str, str], Path]) -> None:
    """A kit of a later version, or a misspelt name, is no agreement."""
    values = 'values = [{ quantity = "a", expected = 1, tolerance = 1, unit = "1" }]\n'
    folder = small_kit(CHECK.format(function="sorcery") + values, CURVES)
    ((row,),) = (one.comparisons for one in run_selfcheck(folder).checked)
    assert (row.agrees, row.reason) == (False, "there is no function 'sorcery'")


def test_a_difference_as_large_as_its_tolerance_agrees(
    monkeypatch: pytest.MonkeyPatch, small_kit: Callable[[str, str], Path]
) -> None:
    """The tolerance itself is permitted, on both sides; a little more is not."""
    values = 'values = [{ quantity = "a", expected = 4, tolerance = 0.5, unit = "1" }]\n'
    folder = small_kit(CHECK.format(function="filter") + values, CURVES)
    agrees = {}
    for value in (3.49, 3.5, 4.5, 4.51):
        monkeypatch.setattr(module, "FUNCTIONS", {"filter": lambda *_, value=value: {"a": value}})
        agrees[value] = run_selfcheck(folder).agrees
    assert agrees == {3.49: False, 3.5: True, 4.5: True, 4.51: False}
