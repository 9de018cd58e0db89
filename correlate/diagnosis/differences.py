"""Features of test and model side by side, sorted by the rating that each difference costs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.features import Features, corrections, features
from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.metrics.iso18571 import rate
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.diagnosis.features.corrections import Model
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.metrics.iso18571.phase import Floats

    Correct = Callable[[Model], Floats]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureDifference:
    """One feature of both curves.

    Attributes
    ----------
    name
        Plain words, for instance ``time of peak``.
    unit
        SI; ``1`` for a pure number.
    test, model
        None where the feature cannot be told.
    difference
        Model minus test.
    relative
        Model over test, less 1: -0.2 is 20 % smaller. None for points in time, whose zero is arbitrary, and
        for a test value of 0.
    explained
        Rating won when this feature alone is corrected in the model; below zero when the correction spoils
        more than it mends. None where there is no correction. These do not add up: features overlap.
    reason
        Why something is None; empty otherwise.
    """

    name: str
    unit: str
    test: float | None
    model: float | None
    difference: float | None
    relative: float | None
    explained: float | None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    name: str
    unit: str
    read: Callable[[Features], float | None]
    correct: Correct | None
    reasons: str = ""
    point_in_time: bool = False


_POWERS: Final = {"": 1, "^2": 2, "²": 2, "^3": 3, "³": 3}
_MORE_SECONDS: Final = {"{unit}/s": 1, "{unit}*s": -1}
"""Powers of the second below the line: those of a unit, and how many a feature adds to them."""
_ROWS: Final[tuple[_Row, ...]] = (
    _Row(name="onset time", unit="s", read=lambda it: it.onset_time, correct=corrections.move_onset,
         reasons="onset_time", point_in_time=True),
    _Row(name="peak", unit="{unit}", read=lambda it: it.peak, correct=corrections.scale_peak),
    _Row(name="time of peak", unit="s", read=lambda it: it.peak_time, correct=corrections.move_peak,
         point_in_time=True),
    _Row(name="rise rate", unit="{unit}/s", read=lambda it: it.rise_rate, correct=corrections.stretch_rise,
         reasons="rise_rate"),
    _Row(name="fall rate", unit="{unit}/s", read=lambda it: it.fall_rate, correct=corrections.stretch_fall,
         reasons="fall_rate"),
    _Row(name="duration at half peak", unit="s", read=lambda it: it.half_duration,
         correct=corrections.stretch_pulse, reasons="half_duration"),
    _Row(name="share before peak", unit="1", read=lambda it: it.share_before_peak,
         correct=corrections.lean_pulse, reasons="share_before_peak"),
    _Row(name="number of peaks", unit="1", read=lambda it: float(it.peak_count), correct=None),
    _Row(name="rebound", unit="1", read=lambda it: it.rebound, correct=corrections.scale_rebound),
    _Row(name="impulse", unit="{unit}*s", read=lambda it: it.impulse, correct=corrections.scale_impulse,
         reasons="impulse"),
    _Row(name="tail frequency", unit="Hz", read=lambda it: it.tail_frequency,
         correct=corrections.stretch_tail, reasons="tail_frequency"),
    _Row(name="tail damping ratio", unit="1", read=lambda it: it.tail_damping, correct=corrections.damp_tail,
         reasons="tail_damping"),
    _Row(name="hysteresis", unit="1", read=lambda it: it.hysteresis, correct=corrections.open_loop,
         reasons="hysteresis"),
)  # fmt: skip
"""Every feature, how it is read, and what puts it right."""


def feature_differences(
    pair: AlignedPair,
    settings: RatingSettings | None = None,
    *,
    unit: str = "1",
    deflection: AlignedPair | None = None,
) -> tuple[FeatureDifference, ...]:
    """Compare the features of both curves and say how much rating each difference costs.

    Each feature has a correction of its own, a change of the candidate that gives it the feature of the
    reference and leaves the rest alone as far as that goes (``correlate/diagnosis/features/corrections.py``).
    The candidate so changed is rated again; the rating won is ``explained``.

    Parameters
    ----------
    pair
        Test and model, filtered, without offset.
    settings
        Of the rating.
    unit
        Of the curves, for the units of the features.
    deflection
        On the same time grid, for the hysteresis of a force.

    Returns
    -------
    tuple of FeatureDifference
        Largest ``explained`` first; those without one last.

    Raises
    ------
    SignalError
        A curve that is zero throughout, a pair too short to be rated, or a deflection on another time grid.

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(1500) * 1e-4
    >>> test = np.sin(np.pi * np.clip((time - 0.02) / 0.05, 0, 1)) ** 2
    >>> found = feature_differences(AlignedPair(time=time, reference=test, candidate=0.8 * test), unit="kN")
    >>> found[0].name, found[0].unit, round(found[0].relative, 6)
    ('peak', 'kN', -0.2)
    """
    _check_grid(pair, deflection)
    paths = (None, None) if deflection is None else (deflection.reference, deflection.candidate)
    test = features(pair.time, pair.reference, against=paths[0])
    model = features(pair.time, pair.candidate, against=paths[1])
    it = corrections.model_of(pair.time, pair.candidate, test, model, paths[1])
    before = rate(pair, settings).overall

    def won(corrected: Floats) -> float:
        changed = AlignedPair(time=pair.time, reference=pair.reference, candidate=corrected)
        return rate(changed, settings).overall - before

    found = [_difference(row, it, unit, won) for row in (*_ROWS, *_peak_rows(test, model))]
    return tuple(sorted(found, key=lambda one: (one.explained is None, -(one.explained or 0.0))))


def _difference(row: _Row, it: Model, unit: str, won: Callable[[Floats], float]) -> FeatureDifference:
    test, model = row.read(it.test), row.read(it.model)
    difference = None if test is None or model is None else model - test
    relative = None
    if difference is not None and test and not row.point_in_time:
        relative = difference / test
    explained, reason = _explained(row, it, difference, won)
    return FeatureDifference(
        name=row.name,
        unit=_unit(row.unit, unit),
        test=test,
        model=model,
        difference=difference,
        relative=relative,
        explained=explained,
        reason=reason,
    )


def _explained(
    row: _Row, it: Model, difference: float | None, won: Callable[[Floats], float]
) -> tuple[float | None, str]:
    """Return the rating won, or None and why."""
    if difference is None:
        of_test, of_model = it.test.reasons.get(row.reasons, ""), it.model.reasons.get(row.reasons, "")
        if of_test == of_model:
            return None, f"test and model: {of_test}"
        return None, "; ".join(
            f"{side}: {why}" for side, why in (("test", of_test), ("model", of_model)) if why
        )
    if row.correct is None:
        return None, "a count has no correction of its own"
    if difference == 0.0:
        return 0.0, ""
    try:
        return won(row.correct(it)), ""
    except SignalError as error:
        return None, error.what


def _peak_rows(test: Features, model: Features) -> tuple[_Row, ...]:
    """Return time and value of every peak but the main one, when both curves have the same number."""
    count = test.peak_count
    if count != model.peak_count:
        return ()
    rows: list[_Row] = []
    for index in range(count):
        if test.peaks[index].time == test.peak_time or model.peaks[index].time == model.peak_time:
            continue
        place = f"peak {index + 1} of {count}"
        rows += [
            _Row(
                name=f"{place}, time",
                unit="s",
                read=partial(_time_of, index),
                correct=partial(corrections.move_one_peak, which=index),
                point_in_time=True,
            ),
            _Row(
                name=f"{place}, value",
                unit="{unit}",
                read=partial(_value_of, index),
                correct=partial(corrections.scale_one_peak, which=index),
            ),
        ]
    return tuple(rows)


def _time_of(index: int, found: Features) -> float:
    return found.peaks[index].time


def _value_of(index: int, found: Features) -> float:
    return found.peaks[index].value


def _unit(pattern: str, unit: str) -> str:
    if unit == "1":
        return {"{unit}": "1", "{unit}/s": "1/s", "{unit}*s": "s"}.get(pattern, pattern)
    base, marked, power = unit.partition("/s")
    if not marked or power not in _POWERS or pattern not in _MORE_SECONDS:
        return pattern.format(unit=unit)
    seconds = _POWERS[power] + _MORE_SECONDS[pattern]
    return base if not seconds else f"{base}/s" if seconds == 1 else f"{base}/s^{seconds}"


def _check_grid(pair: AlignedPair, deflection: AlignedPair | None) -> None:
    if deflection is None:
        return
    same = len(pair) == len(deflection) and abs(pair.time - deflection.time).max() < 0.01 * pair.step_s
    if not same:
        raise SignalError(
            "force and deflection do not stand on one time grid",
            remedy="condition both channels with one interval and one step",
        )
