"""The search over all three axes of one sensor, its local frame included."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.suspects.case import open_case, paired, poor_error, rated, scaled
from correlate.diagnosis.suspects.cut import widened
from correlate.diagnosis.suspects.exchange import best_exchange, suspected_exchange
from correlate.diagnosis.suspects.frame import FrameRotation, frame_rotation
from correlate.diagnosis.suspects.freedom import MODERATE, error_left
from correlate.diagnosis.suspects.likeness import likeness
from correlate.diagnosis.suspects.searching import FILTERS, best_first, suspects
from correlate.diagnosis.suspects.suspect import Suspect
from correlate.errors import SettingsError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.conditioning import Recipe
    from correlate.diagnosis.suspects.case import Case
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.signal import Signal

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
    signs = _usable([scaled(pair, -1.0) for pair in pairs], energies)
    simple = min(
        sum(poor) + min(sign - left for sign, left in zip(signs, poor, strict=True)),
        sum(poor) - sum(poor[index] for index in exchange.axes) + exchange.left,
    )
    moved = _without_delay(pairs)
    turn = frame_rotation([pair.reference for pair in moved], [pair.candidate for pair in moved])
    turned = _turned(pairs, turn)
    left = sum(_usable(turned, energies))
    allowed = min(MOST_LEFT * sum(energies), BETTER * sum(poor), BETTER_THAN_SIMPLE * simple)
    if turn.angle_rad < LEAST_ANGLE_RAD or left > allowed:
        return None
    before, after = _rating(pairs, cases), _rating(turned, cases)
    return _suspect(cases, turn, before, after) if after - before > LEAST_GAIN else None


def _usable(pairs: Sequence[AlignedPair], energies: Sequence[float]) -> list[float]:
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


def _suspect(cases: Sequence[Case], turn: FrameRotation, before: float, after: float) -> Suspect:
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
