"""From the numbers of the evidence to probabilities of causes, by a classifier that is shipped as data.

It was trained on random invented rigs (``python -m tests.diagnosis.training``, which writes `causes.npz`).
What is shipped are numbers, no code: scales, two layers of weights and mean effects.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Final, Literal, get_args
from zipfile import BadZipFile

import numpy as np

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Group = Literal["stiffness", "damping", "mass", "hysteresis", "densification", "gap", "friction", "speed"]
GROUPS: Final[tuple[Group, ...]] = get_args(Group)
"""Behaviours of a model that can be wrong."""
Side = Literal["too much", "too little"]
SIDES: Final[tuple[Side, ...]] = get_args(Side)
Cause = tuple[Group, Side]
CAUSES: Final[tuple[Cause, ...]] = tuple((group, side) for group in GROUPS for side in SIDES)
TAKEN_AWAY: Final = 3
"""Causes that are taken away in turn."""
SECOND_SHARE: Final = 0.2
"""How much what is left counts beside the first explanation (chosen on the families for learning)."""
STANDS_OUT: Final = 0.7
"""Probability from which a second cause is named (chosen on random rigs, as the limits of the hints)."""
LEAST_SHARE: Final = 0.3
"""What is left is enlarged to the size of the whole by 1 over this factor at most."""
BEND: Final = 1.5
"""Numbers are bent by a hyperbolic tangent at about this size, so that no single one decides."""


def as_row(numbers: Mapping[str, float], names: Sequence[str], scale: Floats) -> Floats:
    """Return numbers by name, bent and scaled, shape ``(n,)``; one that is missing counts as 0."""
    values = np.array([numbers.get(name, np.nan) for name in names])
    return np.where(np.isnan(values), 0.0, np.tanh(values / BEND) / scale)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Classifier:
    """Two layers of weights.

    Attributes
    ----------
    names
        Of the ``n`` numbers that are used; one that is missing counts as 0, no difference.
    scale
        Standard deviations of the bent numbers, shape ``(n,)``.
    inner, inner_bias
        First layer, ``(n, h)`` and ``(h,)``, followed by a rectifier.
    outer, outer_bias
        Second layer, ``(h, 16)`` and ``(16,)``: one column for each of :data:`CAUSES`.
    direct
        Weights past the first layer, ``(n, 16)``.
    sharpness
        Factor on the sums before they become probabilities, set on physics that the weights do not know.
    effects
        Mean row of each cause, shape ``(16, n)``.
    """

    names: tuple[str, ...]
    scale: Floats
    inner: Floats
    inner_bias: Floats
    outer: Floats
    outer_bias: Floats
    direct: Floats
    sharpness: float
    effects: Floats

    def row(self, numbers: Mapping[str, float]) -> Floats:
        """Return the numbers of one piece of evidence, shape ``(n,)``, as the first layer reads them."""
        return as_row(numbers, self.names, self.scale)

    def probabilities(self, rows: Floats) -> Floats:
        """Return a probability for each cause, shape ``(m, 16)``, from rows ``(m, n)``."""
        hidden = np.maximum(rows @ self.inner + self.inner_bias, 0.0)
        sums = self.sharpness * (hidden @ self.outer + self.outer_bias + rows @ self.direct)
        odds = np.exp(sums - sums.max(axis=1, keepdims=True))
        return np.asarray(odds / odds.sum(axis=1, keepdims=True), dtype=np.float64)

    def remaining(self, row: Floats, cause: int) -> tuple[Floats, float]:
        """Return a row without the effect of a cause, as large as before, and the share that was left."""
        effect = np.where(row == 0.0, 0.0, self.effects[cause])
        amount = max(0.0, float(row @ effect) / max(float(effect @ effect), 1e-12))
        left = row - amount * effect
        share = float(np.linalg.norm(left) / max(float(np.linalg.norm(row)), 1e-12))
        return left / max(share, LEAST_SHARE), share


@cache
def classifier() -> Classifier:
    """Return the classifier that is shipped."""
    try:
        file = files("correlate.diagnosis.hints") / "causes.npz"
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as content:
            values = {name: content[name].astype(np.float64) for name in content.files if name != "names"}
            names = tuple(str(name) for name in content["names"])
        return Classifier(names=names, **{**values, "sharpness": float(values["sharpness"])})
    except (OSError, EOFError, ValueError, KeyError, TypeError, BadZipFile, zlib.error) as error:
        raise SettingsError(
            f"the classifier of the hints cannot be read: {error}", remedy="install the package again"
        ) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """How the causes share the blame.

    Attributes
    ----------
    weights
        Of each behaviour with its likelier side; they add up to 1.
    second
        What is found once the effect of the most probable cause is taken away, with its probability then;
        None where nothing stands out.
    left
        Share of the evidence that is left without the most probable cause.
    """

    weights: dict[Cause, float]
    second: tuple[Cause, float] | None
    left: float


def weigh(numbers: Mapping[str, float], own: Classifier | None = None) -> Weighed:
    """Explain the evidence, take the most probable causes away in turn, and explain what is left.

    Parameters
    ----------
    numbers
        As from :func:`correlate.diagnosis.hints.evidence.numbers_of`.
    own
        The classifier; the one that is shipped when left out.

    Returns
    -------
    Weighed
    """
    judge = own or classifier()
    row = judge.row(numbers)
    first = judge.probabilities(row[np.newaxis])[0]
    order = np.argsort(-first)[:TAKEN_AWAY]
    weights = first.copy()
    rests = [_rest(judge, row, int(cause)) for cause in order]
    for cause, (rest, _) in zip(order, rests, strict=True):
        weights += SECOND_SHARE * first[cause] * rest
    weights /= weights.sum()
    groups = _by_group(weights)
    leading = _cause(weights, int(np.argmax(groups)))
    rest, left = _rest(judge, row, CAUSES.index(leading))
    best = int(np.argmax(_by_group(rest)))
    chance = float(_by_group(rest)[best])
    second = (_cause(rest, best), chance) if chance >= STANDS_OUT else None
    return Weighed(
        weights={_cause(weights, group): float(groups[group]) for group in range(len(GROUPS))},
        second=second,
        left=left,
    )


def _rest(judge: Classifier, row: Floats, cause: int) -> tuple[Floats, float]:
    """Return the probabilities of the other behaviours once a cause is taken away, and what is left."""
    left, share = judge.remaining(row, cause)
    chances = judge.probabilities(left[np.newaxis])[0]
    group = cause // len(SIDES)
    chances[group * len(SIDES) : (group + 1) * len(SIDES)] = 0.0
    return chances / max(float(chances.sum()), 1e-12), share


def _by_group(chances: Floats) -> Floats:
    return np.asarray(chances.reshape(len(GROUPS), len(SIDES)).sum(axis=1))


def _cause(chances: Floats, group: int) -> Cause:
    """Return a behaviour with its likelier side."""
    sides = chances[group * len(SIDES) : (group + 1) * len(SIDES)]
    return CAUSES[group * len(SIDES) + int(np.argmax(sides))]
