"""The search for all suspects of a pair, and for those in the sensor."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.suspects.case import (
    MODERATE,
    Suspect,
    error_left,
    likeness,
    open_case,
    paired,
    poor_error,
    rated,
    scaled,
)
from correlate.diagnosis.suspects.channels import (
    FrameRotation,
    best_exchange,
    frame_rotation,
    other_axis,
    suspected_exchange,
)
from correlate.diagnosis.suspects.filtering import wrong_filter
from correlate.diagnosis.suspects.scaling import turned_sign, wrong_unit
from correlate.diagnosis.suspects.timing import disturbed_offset_window, widened, wrong_time_zero
from correlate.errors import SettingsError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.diagnosis.suspects.case import Case
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.signal import Signal


EXAMINATIONS: Final[tuple[Callable[[Case], Iterator[Suspect]], ...]] = (
    turned_sign,
    wrong_unit,
    other_axis,
    wrong_time_zero,
    wrong_filter,
    disturbed_offset_window,
)
"""Each looks for one kind of mistake; they do not know each other."""
FILTERS: Final = ("filtered twice", "other filter class", "not filtered")
NO_AXES: Final[Mapping[str, Signal]] = MappingProxyType({})


def suspects(
    reference: Signal,
    candidate: Signal,
    recipe: Recipe,
    settings: RatingSettings | None = None,
    *,
    other_axes: Mapping[str, Signal] = NO_AXES,
) -> tuple[Suspect, ...]:
    """Look for a mistake in the book-keeping that would explain a poor rating.

    One mistake at a time is tried; of two that meet in one pair the search may miss both. A suspect is a
    reason to look, not a verdict: nothing is changed, and a model that happens to err like a mistake looks
    the same.

    Parameters
    ----------
    reference, candidate
        As read, before the recipe.
    recipe
        How they are compared.
    settings
        Of the rating; the published ones when left out.
    other_axes
        The other axes of the candidate's sensor, as read, by name.

    Returns
    -------
    tuple of Suspect
        The most convincing first; empty when the model seems honestly good or honestly poor.

    Raises
    ------
    UnitError, SignalError
        The signals measure different things, or one of them does not allow a step of the recipe.

    References
    ----------
    .. [1] Criteria derived here; measured on planted mistakes, see the page on suspects.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import Recipe, Signal
    >>> curve = np.sin(np.pi * np.clip(np.arange(-200, 800) / 300, 0, 1)) ** 2
    >>> grid = {"start_s": -0.02, "step_s": 1e-4, "channel": "head ax"}
    >>> test = Signal(samples=40 * curve, unit="g", **grid)
    >>> model = Signal(samples=390 * curve, unit="g", **grid)
    >>> found = suspects(test, model, Recipe(cfc=180, start_s=0.0, end_s=0.05))
    >>> [suspect.kind for suspect in found], dict(found[0].change)["candidate_unit"]
    (['unit wrong'], 'm/s^2')
    """
    case, cut = widened(open_case(reference, candidate, recipe, settings, other_axes))
    found = [suspect for examine in EXAMINATIONS for suspect in examine(case)]
    return best_first([*found, cut] if cut is not None else found)


def best_first(found: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """Order suspects."""
    filtered = any(suspect.kind in FILTERS for suspect in found)

    def key(suspect: Suspect) -> float:
        behind = filtered and suspect.kind == "interval cuts the main pulse"
        return 0.0 if behind else -suspect.weight

    return tuple(sorted(found, key=key))


LEAST_ANGLE_RAD: Final = np.deg2rad(10.0)
"""Mounting and modelling turn a sensor by less."""
MOST_LEFT: Final = 0.12
"""The turn must leave no more than this share of the squares of the reference …"""
BETTER: Final = 0.8
"""… and no more than this share of what a poor model's freedoms would leave without it …"""
BETTER_THAN_SIMPLE: Final = 0.8
"""… and no more than this share of what the best turned sign or exchange of two axes would leave."""
LEAST_GAIN: Final = 0.03
"""Rating that the turn must win, all axes together."""
DELAY_S: Final = 0.003
"""Common delay of the three axes that is forgiven while the turn is sought, s."""
OF_ANOTHER_KIND: Final = ("interval cuts the main pulse", *FILTERS)
"""What a turned frame does not explain."""
FRAME_WEIGHT: Final = 1.2
"""Weight: it explains three channels at once, so it comes before what explains one."""


def sensor_suspects(
    reference: Sequence[Signal],
    candidate: Sequence[Signal],
    recipe: Recipe | Sequence[Recipe],
    settings: RatingSettings | None = None,
) -> tuple[Suspect, ...]:
    """Look for mistakes in the three axes of a sensor and in its local frame.

    Parameters
    ----------
    reference, candidate
        Axes x, y, z as read, before the recipe.
    recipe
        How they are compared; one for each axis where they differ.
    settings
        Of the rating; the published ones when left out.

    Returns
    -------
    tuple of Suspect
        The most convincing first. Where the frame is turned, what the single axes seem to have is left out.

    Raises
    ------
    SettingsError
        Not three axes on each side.
    UnitError, SignalError
        As :func:`suspects`.

    References
    ----------
    .. [1] Criteria derived here.
    """
    recipes = tuple(recipe) if isinstance(recipe, (list, tuple)) else (recipe,) * 3
    if not len(reference) == len(candidate) == len(recipes) == 3:
        raise SettingsError(
            f"{len(reference)} reference axes, {len(candidate)} candidate axes and {len(recipes)} recipes",
            remedy="give three of each",
        )
    found: list[Suspect] = []
    cases: list[Case] = []
    for index, (one, other, how) in enumerate(zip(reference, candidate, recipes, strict=True)):
        others = {item.channel: item for place, item in enumerate(candidate) if place != index}
        found += suspects(one, other, how, settings, other_axes=others)
        cases.append(widened(open_case(one, other, how, settings, others))[0])
    pairs = _on_one_grid(cases)
    if pairs is not None:
        # What one axis seems to be on its own counts only when the other one fits in its place too.
        found = [suspect for suspect in found if suspect.kind != "other axis"]
        turned = _seen_together(pairs, cases, found)
        if turned is not None:
            found = [turned, *(suspect for suspect in found if suspect.kind in OF_ANOTHER_KIND)]
    return best_first(found)


def _seen_together(pairs: list[AlignedPair], cases: Sequence[Case], found: list[Suspect]) -> Suspect | None:
    """Add an exchange of two axes to what was found; return a turned frame."""
    energies = [float(pair.reference @ pair.reference) for pair in pairs]
    poor = [
        energy * poor_error(pair, case.candidate.unit)
        for pair, energy, case in zip(pairs, energies, cases, strict=True)
    ]
    exchange = best_exchange(pairs, energies, poor)
    suspect = suspected_exchange(exchange, cases, energies, poor)
    if suspect is not None:
        found.append(suspect)
    signs = _usable_for_mounting([scaled(pair, -1.0) for pair in pairs], energies)
    simple = min(
        sum(poor) + min(sign - left for sign, left in zip(signs, poor, strict=True)),
        sum(poor) - sum(poor[index] for index in exchange.axes) + exchange.left,
    )
    moved = _without_delay(pairs)
    turn = frame_rotation([pair.reference for pair in moved], [pair.candidate for pair in moved])
    turned = _turned(pairs, turn)
    left = sum(_usable_for_mounting(turned, energies))
    allowed = min(MOST_LEFT * sum(energies), BETTER * sum(poor), BETTER_THAN_SIMPLE * simple)
    if turn.angle_rad < LEAST_ANGLE_RAD or left > allowed:
        return None
    before, after = _rating(pairs, cases), _rating(turned, cases)
    return _mounting_suspect(cases, turn, before, after) if after - before > LEAST_GAIN else None


def _usable_for_mounting(pairs: Sequence[AlignedPair], energies: Sequence[float]) -> list[float]:
    return [energy * error_left(pair, MODERATE) for pair, energy in zip(pairs, energies, strict=True)]


def _on_one_grid(cases: Sequence[Case]) -> list[AlignedPair] | None:
    """Return the pairs of the axes over the time they share."""
    if len({case.recipe.unit or case.reference.unit for case in cases}) > 1:
        return None
    pairs = [case.pair for case in cases if case.pair is not None]
    if len(pairs) < 3 or len({round(pair.step_s, 12) for pair in pairs}) > 1:
        return None
    start_s, end_s = max(pair.time[0] for pair in pairs), min(pair.time[-1] for pair in pairs)
    recipe = replace(cases[0].recipe, start_s=float(start_s), end_s=float(end_s))
    cut = [paired(case.treated_reference, case.treated_candidate, recipe) for case in cases]
    shared = [pair for pair in cut if pair is not None]
    return shared if len(shared) == 3 else None


def _without_delay(pairs: list[AlignedPair]) -> list[AlignedPair]:
    """Take a small common delay out, found from the resultants, which no turn of a frame changes."""
    resultants = [
        np.sqrt(np.sum([getattr(pair, side) ** 2 for pair in pairs], axis=0))
        for side in ("reference", "candidate")
    ]
    delay = likeness(resultants[0], resultants[1], max(1, round(DELAY_S / pairs[0].step_s))).delay
    size = len(pairs[0]) - abs(delay)
    start_r, start_c = max(0, -delay), max(0, delay)
    return [
        AlignedPair(
            time=pair.time[start_r : start_r + size],
            reference=pair.reference[start_r : start_r + size],
            candidate=pair.candidate[start_c : start_c + size],
        )
        for pair in pairs
    ]


def _turned(pairs: Sequence[AlignedPair], turn: FrameRotation) -> list[AlignedPair]:
    rows = turn.matrix @ np.stack([pair.candidate for pair in pairs])
    return [
        AlignedPair(time=pair.time, reference=pair.reference, candidate=row)
        for pair, row in zip(pairs, rows, strict=True)
    ]


def _rating(pairs: Sequence[AlignedPair], cases: Sequence[Case]) -> float:
    """Return the rating of the sensor, its axes weighted by the squares of the reference."""
    weights = np.array([float(pair.reference @ pair.reference) for pair in pairs])
    ratings = [rated(pair, case.settings) or 0.0 for pair, case in zip(pairs, cases, strict=True)]
    return float(weights @ ratings / weights.sum())


def _mounting_suspect(cases: Sequence[Case], turn: FrameRotation, before: float, after: float) -> Suspect:
    axis = ", ".join(f"{value:.2f}" for value in turn.axis)
    open_turn = "" if turn.determined else ", the turn about the main direction left open"
    return Suspect(
        kind="local frame turned",
        channel=cases[0].reference.channel,
        evidence=f"turned by {np.degrees(turn.angle_rad):.1f} degrees about ({axis}) the three axes of the "
        f"model leave {turn.error_after:.2f} of the squares of the test as error, instead of "
        f"{turn.error_before:.2f}{open_turn}",
        fix="check the local frame of the model's sensor; export it in the frame of the test's sensor",
        rating_before=before,
        rating_after=after,
        change={"rotation_vector_rad": tuple(float(value) for value in turn.angle_rad * turn.axis)},
        weight=FRAME_WEIGHT,
    )
