"""A pair's rating as one JSON object, from which it can be reproduced."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from correlate.evaluation.record import input_words, plain, settings_words
from correlate.version import VERSION

if TYPE_CHECKING:
    from correlate.campaign import PairScore


def pair_object(score: PairScore) -> dict[str, Any]:
    """Return the rating with its inputs, settings and version as plain values.

    Parameters
    ----------
    score
        A rated pair.

    Returns
    -------
    dict
        Keys ``overall, grade, corridor, phase, magnitude, slope, shift_s, samples, settings, inputs, flags,
        ingredients, version``. ``settings`` holds ``conditioning`` and ``rating``, ``inputs`` holds
        ``reference`` and ``candidate``. A positive ``shift_s`` means that the candidate is late.
    """
    rating = score.rating
    return {
        "overall": rating.overall,
        "grade": rating.grade,
        "corridor": rating.corridor,
        "phase": rating.phase,
        "magnitude": rating.magnitude,
        "slope": rating.slope,
        "shift_s": rating.shift_s,
        "samples": rating.samples,
        "settings": settings_words(score.recipe, rating.settings),
        "inputs": {"reference": input_words(score.reference), "candidate": input_words(score.candidate)},
        "flags": [flag.as_plain() for flag in score.flags],
        "ingredients": plain(rating.ingredients.as_dict()),
        "version": VERSION,
    }


def pair_json(score: PairScore) -> str:
    """Return the rating as JSON text.

    Parameters
    ----------
    score
        A rated pair.

    Returns
    -------
    str
    """
    return json.dumps(pair_object(score), indent=2, ensure_ascii=False, allow_nan=False)
