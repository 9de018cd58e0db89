"""The table of measures: what it claims about each measure is true."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings

from correlate import AlignedPair, rate
from correlate.errors import SettingsError
from correlate.metrics import METRICS, evaluate_measures, measure
from correlate.metrics.repeats import AlignedRepeats
from tests.metrics.curves import grid, noisy_pairs, pair_of, pulse

NAMES = list(METRICS)


def value_of(name: str, pair: AlignedPair) -> float:
    """Return what a measure says; one that needs repeats is given three with a known scatter."""
    found = METRICS[name].evaluate(pair, repeats=with_repeats(pair))
    assert found.value is not None
    return found.value


def with_repeats(pair: AlignedPair) -> AlignedRepeats:
    """Return three repeats whose mean is the reference, and the candidate."""
    references = [factor * pair.reference for factor in (0.98, 1.0, 1.02)]
    return AlignedRepeats(time=pair.time, references=references, candidates=[pair.candidate])


def quiet_start(pair: AlignedPair) -> AlignedPair:
    """Return the pair with a few zeros before it, so that both curves arrive."""
    return pair_of(*(np.concatenate([np.zeros(5), curve]) for curve in (pair.reference, pair.candidate)))


def better(name: str, first: float, second: float) -> bool:
    """Say whether the first number is at least as good as the second, to rounding."""
    return first >= second - 1e-9 if METRICS[name].higher_is_better else first <= second + 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_every_entry_is_whole(name: str) -> None:
    """Name, source, range and blindness are given, and the best value lies at an end of the range."""
    entry = METRICS[name]
    assert entry.name == name
    assert all((entry.title, entry.source, entry.blind_to))
    assert entry.lowest < entry.highest
    assert entry.best == (entry.highest if entry.higher_is_better else entry.lowest)


@settings(max_examples=25)
@given(pair=noisy_pairs(least=30))
@pytest.mark.parametrize("name", NAMES)
def test_a_perfect_model_earns_the_best_number_and_none_beats_it(name: str, pair: AlignedPair) -> None:
    """The reference against itself is best, every other curve is no better, all stay in the range."""
    quiet = quiet_start(pair)
    perfect = value_of(name, pair_of(quiet.reference, quiet.reference))
    entry = METRICS[name]
    # The repeats of the area scatter, so that even a perfect model is a little away from them.
    assert perfect == pytest.approx(entry.best, abs=0.02 if name == "area" else 1e-9)
    found = value_of(name, quiet)
    assert entry.lowest - 1e-12 <= found <= entry.highest + 1e-12
    assert better(name, perfect, found)


@settings(max_examples=25)
@given(pair=noisy_pairs(least=30))
@pytest.mark.parametrize("name", NAMES)
def test_changing_the_unit_of_both_changes_nothing(name: str, pair: AlignedPair) -> None:
    """In g or m/s² the number is the same."""
    quiet = quiet_start(pair)
    scaled = pair_of(9.80665 * quiet.reference, 9.80665 * quiet.candidate)
    assert value_of(name, scaled) == pytest.approx(value_of(name, quiet), rel=1e-7, abs=1e-9)


@settings(max_examples=25)
@given(pair=noisy_pairs(least=30))
@pytest.mark.parametrize("name", [name for name in NAMES if METRICS[name].symmetric])
def test_symmetric_measures_do_not_mind_the_order(name: str, pair: AlignedPair) -> None:
    """Exchanging test and model leaves the number of a measure that claims it."""
    exchanged = pair_of(pair.candidate, pair.reference)
    assert abs(value_of(name, exchanged)) == pytest.approx(abs(value_of(name, pair)), rel=1e-7, abs=1e-9)


@pytest.mark.parametrize("name", [name for name in NAMES if not METRICS[name].symmetric])
def test_other_measures_mind_the_order(name: str) -> None:
    """For a measure that claims no symmetry, a larger and later pulse shows it."""
    small, large = pulse(300, start=60, length=100), 1.5 * pulse(300, start=75, length=140)
    there, back = value_of(name, pair_of(small, large)), value_of(name, pair_of(large, small))
    assert there != pytest.approx(back, abs=1e-3)


BLIND = {
    "pearson": lambda curve: 3.0 * curve + 0.4,
    "cross-correlation": lambda curve: 2.0 * np.roll(curve, 20),
    "residual": lambda curve: curve + 0.3,
}


@pytest.mark.parametrize("name", list(BLIND))
def test_what_a_measure_is_said_not_to_see_it_does_not_see(name: str) -> None:
    """A change that the table calls invisible leaves the best number."""
    curve = pulse(300, start=60, length=100)
    assert value_of(name, pair_of(curve, BLIND[name](curve))) == pytest.approx(METRICS[name].best, abs=1e-9)


@settings(max_examples=20)
@given(pair=noisy_pairs(least=30))
def test_the_main_rating_is_the_rating(pair: AlignedPair) -> None:
    """The entry of the ISO/TS 18571 rating gives its overall number and its four scores."""
    found, expected = METRICS["iso18571"].evaluate(pair), rate(pair)
    assert found.value == expected.overall
    assert found.parts["slope"] == expected.slope


def test_names_are_found_without_capitals_and_misspelt_ones_get_a_suggestion() -> None:
    """``Theil`` is found, ``theill`` is refused with ``theil``."""
    assert measure(" Theil ").name == "theil"
    with pytest.raises(
        SettingsError, match="no metric 'theill'; perhaps you mean 'theil'; there are iso18571"
    ):
        measure("theill")


def test_several_measures_speak_and_one_that_refuses_stops_none() -> None:
    """All are listed in order, none twice; a refusal carries its reason."""
    flat = pair_of(np.full(40, 1.0), pulse(40, start=5, length=30))
    found = evaluate_measures(["theil", "pearson", "theil", "all"], flat)
    assert [one.measure for one in found] == [
        "theil",
        "pearson",
        *(n for n in NAMES if n not in {"theil", "pearson"}),
    ]
    by_name = {one.measure: one for one in found}
    assert by_name["pearson"].value is None
    assert "constant" in by_name["pearson"].reason
    assert by_name["theil"].value is not None
    assert by_name["theil"].reason == ""


def test_the_table_costs_no_import() -> None:
    """Loading the table loads neither numpy nor numba."""
    code = (
        "import sys, correlate.metrics; "
        "sys.exit(any(name in sys.modules for name in ('numpy', 'numba', 'scipy')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_repeats_reach_the_measures_that_look_at_them() -> None:
    """The confidence interval of a pair with repeats counts them."""
    pair = AlignedPair(time=grid(100), reference=pulse(100, start=10, length=60), candidate=np.ones(100))
    (found,) = evaluate_measures(["confidence-interval"], pair, repeats=with_repeats(pair))
    assert found.parts["repeats"] == 3
