"""How likely a test channel and a model channel measure the same: names, units and curves weighed together.

Each pair gets the logarithm of the odds, a sum of weighted clues. The weights are a logistic regression on
invented projects.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.channel_words import Meaning, meaning
from correlate.units import Unit, parse_unit

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from numpy.typing import NDArray

    from correlate.formats import Recording
    from correlate.signal import Signal

    Array = NDArray[np.float64]


STEPS: Final = 500
"""Samples on which curves are compared; each is a mean, so that noise and filters hardly matter."""
LARGEST_SHIFT: Final = 0.05
"""Shifts tried, as a share of the interval: a long one leaves the event out and compares what is left."""
QUIET_BEFORE_S: Final = -0.005
"""A test that begins before this has an offset that is measured until then."""
PLAIN: Final = "a plain number"
"""Dimension of a channel whose unit nobody knows."""

USUAL_UNITS: Final[dict[str, tuple[str, ...]]] = {
    "acceleration": ("mm/ms^2", "m/s^2", "mm/s^2", "g"),
    "velocity": ("mm/ms", "mm/s"),
    "length": ("mm", "m"),
    "angle": ("rad", "deg"),
    "angular velocity": ("rad/ms", "rad/s", "deg/s"),
    "angular acceleration": ("rad/ms^2", "rad/s^2"),
    "force": ("kN", "N"),
    "moment or energy": ("kN*mm", "N*mm"),
    "pressure": ("MPa", "Pa"),
}
"""Units that solvers report in (common practice, no source), for channels without one."""

_KIND_OF: Final = {"length": "displacement", "moment or energy": "moment"}
"""Kind in names of a dimension, where the two words differ."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One load case in one release: what is laid side by side.

    Attributes
    ----------
    tests
        Its repeats, one at least.
    model
        The results.
    interval_s
        Where curves are compared; None: from zero, or where all have begun, to where the first ends.
    """

    tests: tuple[Recording, ...]
    model: Recording
    interval_s: tuple[float, float] | None = None


CLUES: Final = (
    "place same",
    "place differs",
    "level same",
    "level differs",
    "side same",
    "side differs",
    "axis same",
    "axis differs",
    "kind same",
    "unit unknown",
    "words shared",
    "shape",
    "shape and level",
    "size differs",
    "late",
)
"""What is weighed, in the order of the weights."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """How two curves agree, the model's shifted as it fits best.

    Attributes
    ----------
    correlation
        Of what is left when the means are taken away, in [-1, 1].
    cosine
        With the means, in [-1, 1]; its sign says whether the signs agree.
    size
        Natural logarithm of the rms of the model over that of the test, both in SI.
    shift
        As a share of the interval.
    agree
        False where the signs of two load cases or releases contradict each other.
    """

    correlation: float
    cosine: float
    size: float
    shift: float
    agree: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Channel:
    """What is known of one channel over all its recordings."""

    name: str
    said: Meaning
    unit: Unit

    @property
    def kind(self) -> str:
        """What it measures, by its unit where it has one."""
        if self.unit.dimension == PLAIN:
            return self.said.kind
        return _KIND_OF.get(self.unit.dimension, self.unit.dimension)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedPair:
    """The clues about one pair, the odds, and what follows from them."""

    clues: Array
    odds: float
    sign: int
    sign_agrees: bool
    unit: str
    size: float
    reasons: tuple[str, ...]


def _channels(recordings: Iterable[Recording]) -> dict[str, _Channel]:
    found: dict[str, _Channel] = {}
    for recording in recordings:
        for signal in recording.signals:
            if signal.channel not in found:
                found[signal.channel] = _Channel(
                    name=signal.channel,
                    said=channel_meaning(recording, signal.channel),
                    unit=parse_unit(signal.unit),
                )
    return found


def channel_meaning(recording: Recording, name: str) -> Meaning:
    """Return what header lines, name and unit of a channel say of it."""
    header = recording.channel_headers.get(name, {})
    texts = [header[key] for key in _TELLING if header.get(key)]
    said = _completed(meaning(*texts), name)
    dimension = parse_unit(recording.channel(name).unit).dimension
    return said if said.kind or dimension == PLAIN else replace(said, kind=_KIND_OF.get(dimension, dimension))


_TELLING: Final = ("Name of the channel", "Title", "Comment", "Comments", "description", "title", "comment")
"""Header lines that describe a channel in words."""


def _completed(said: Meaning, name: str) -> Meaning:
    """Return what a description says, with what only the name says."""
    named = meaning(name)
    return Meaning(
        places=said.places or named.places,
        level=said.level or named.level,
        side=said.side or named.side,
        kind=said.kind or named.kind,
        axis=said.axis or named.axis,
        rest=said.rest | named.rest,
    )


_OF_LABORATORIES: Final = frozenset({"temperature", "electric voltage"})
"""What a test records beside the dummy and a model of one does not compute (common practice, no source)."""


def _excluded(test: _Channel, model: _Channel) -> bool:
    """Say whether the two measure different things."""
    if model.unit.dimension == PLAIN and test.unit.dimension in _OF_LABORATORIES:
        return True
    if PLAIN not in {model.unit.dimension, test.unit.dimension}:
        if test.unit.exponents != model.unit.exponents:
            return True
        # One dimension, two things: a moment and an energy.
        return bool({test.said.kind, model.said.kind} == {"moment", "energy"})
    return bool(test.kind and model.kind and test.kind != model.kind)


def _word_clues(test: Meaning, model: Meaning) -> list[float]:
    clues = []
    place = bool(test.places and model.places)
    clues += [
        float(place and bool(test.places & model.places)),
        float(place and not test.places & model.places),
    ]
    for one, other in ((test.level, model.level), (test.side, model.side), (test.axis, model.axis)):
        clues += [float(bool(one) and one == other), float(bool(one and other) and one != other)]
    return clues


def _likely_unit(test: _Channel, model: _Channel, size: float) -> tuple[str, float]:
    """Return the usual unit in which a channel without unit comes closest in size, and the size in it."""
    if model.unit.dimension != PLAIN or test.unit.dimension == PLAIN:
        return "", size
    usual = USUAL_UNITS.get(test.unit.dimension, (test.unit.text,))
    sizes = {unit: size + math.log(parse_unit(unit).factor) for unit in usual}
    best = min(sizes, key=lambda unit: abs(sizes[unit]))
    return best, sizes[best]


def _compared(view: View, wanted: Collection[str]) -> dict[tuple[str, str], Curves]:
    """Compare the wanted test channels, mean of the repeats, with every channel of the model."""
    interval = view.interval_s or common_interval([*view.tests, view.model])
    if interval is None:
        return {}
    tests = {name: curve for name, curve in _mean_curves(view.tests, interval).items() if name in wanted}
    if not tests:
        return {}
    model = _mean_curves((view.model,), interval)
    if not model:
        return {}
    one, other = np.array(list(tests.values())), np.array(list(model.values()))
    reach = round(LARGEST_SHIFT * STEPS)
    shifts = sorted(range(-reach, reach + 1), key=abs)
    cosines = np.array([_cosines(one, other, shift) for shift in shifts])
    best = np.argmax(np.abs(cosines), axis=0)
    levels = np.log(_rms(other))[None, :] - np.log(_rms(one))[:, None]
    found = {}
    for row, test in enumerate(tests):
        for column, name in enumerate(model):
            shift = shifts[best[row, column]]
            found[test, name] = Curves(
                correlation=_correlation(one[row], other[column], shift),
                cosine=float(cosines[best[row, column], row, column]),
                size=float(levels[row, column]),
                shift=shift / STEPS,
            )
    return found


def common_interval(recordings: Sequence[Recording]) -> tuple[float, float] | None:
    """Return the time from zero on, or from where all have begun, that all channels cover, in s."""
    signals = [signal for recording in recordings for signal in recording.signals]
    if not signals:
        return None
    start_s = max(signal.start_s for signal in signals)
    end_s = min(signal.end_s for signal in signals)
    start_s = max(start_s, 0.0) if end_s > 0 else start_s
    return (start_s, end_s) if end_s > start_s else None


def _mean_curves(recordings: Sequence[Recording], interval: tuple[float, float]) -> dict[str, Array]:
    """Return the mean over the recordings of each channel, in SI, on the steps of the interval."""
    found: dict[str, list[Array]] = {}
    for recording in recordings:
        for signal in recording.signals:
            if signal.start_s < interval[1] and signal.end_s > interval[0]:
                found.setdefault(signal.channel, []).append(_stepped(signal, interval))
    return {name: np.mean(curves, axis=0) for name, curves in found.items()}


def _stepped(signal: Signal, interval: tuple[float, float]) -> Array:
    """Return the means of the steps of the interval; beyond the data the curve keeps its last value."""
    times = signal.start_s + signal.step_s * np.arange(len(signal))
    samples = signal.samples * parse_unit(signal.unit).factor
    if signal.start_s < 2 * QUIET_BEFORE_S:
        samples = samples - samples[times <= QUIET_BEFORE_S].mean()
    area = np.concatenate([[0.0], np.cumsum(0.5 * (samples[1:] + samples[:-1]))]) * signal.step_s
    edges = np.linspace(*interval, STEPS + 1)
    return np.asarray(np.diff(np.interp(edges, times, area)) / np.diff(edges))


def _rms(curves: Array) -> Array:
    return np.asarray(np.sqrt(np.mean(curves**2, axis=1)) + 1e-300)


def _cosines(one: Array, other: Array, shift: int) -> Array:
    """Return the cosine of the angle between every two curves, the second moved to earlier times."""
    a, b = _overlap(one, other, shift)
    sizes = np.linalg.norm(a, axis=1)[:, None] * np.linalg.norm(b, axis=1)[None, :]
    return np.asarray(a @ b.T / np.maximum(sizes, 1e-300))


def _overlap(one: Array, other: Array, shift: int) -> tuple[Array, Array]:
    size = one.shape[-1]
    return one[..., max(0, -shift) : size - max(0, shift)], other[..., max(0, shift) : size - max(0, -shift)]


def _correlation(one: Array, other: Array, shift: int) -> float:
    a, b = _overlap(one, other, shift)
    a, b = a - a.mean(), b - b.mean()
    size = float(np.linalg.norm(a) * np.linalg.norm(b))
    return float(a @ b) / size if size > 0 else 0.0


CLEAR: Final = 0.7
"""Cosine from which on curves say what sign they have. Chosen here."""


def _pooled(views: Sequence[View], wanted: Collection[str]) -> dict[tuple[str, str], Curves]:
    """Return the mean over load cases and releases of how two channels agree, for some test channels."""
    found: dict[tuple[str, str], list[Curves]] = {}
    for view in views:
        for pair, curves in _compared(view, wanted).items():
            found.setdefault(pair, []).append(curves)
    return {
        pair: Curves(
            correlation=float(np.mean([one.correlation for one in several])),
            cosine=float(np.mean([one.cosine for one in several])),
            size=float(np.mean([one.size for one in several])),
            shift=float(np.mean([one.shift for one in several])),
            agree=len({one.cosine > 0 for one in several if abs(one.cosine) > CLEAR}) < 2,
        )
        for pair, several in found.items()
    }


# Logistic regression on 60 invented projects of tests/projects, seeds 1000 to 1059. Side and shared words do
# not occur there; they get the weights of level and a modest one, chosen here.
WEIGHTS: Final = np.array([2.9, -4.0, 1.3, -6.3, 1.3, -6.3, 0.7, -2.4, 0.0, 0.0, 1.0, 0.4, 2.1, -1.4, 0.0])
BIAS: Final = -5.0


def _weighed(test: _Channel, model: _Channel, curves: Curves | None) -> WeighedPair | None:
    """Weigh one pair; None where the two measure different things."""
    if _excluded(test, model):
        return None
    unit, size = _likely_unit(test, model, curves.size if curves else 0.0)
    unknown = bool(unit)
    shared = test.said.rest & model.said.rest
    either = test.said.rest | model.said.rest
    clues = _word_clues(test.said, model.said)
    clues.append(float(unknown and test.kind == model.kind))
    clues.append(float(unknown))
    clues.append(len(shared) / len(either) if either else 0.0)
    if curves is None:
        clues += [0.0, 0.0, 0.0, 0.0]
    else:
        agreed = curves.correlation if curves.cosine >= 0 else -curves.correlation
        clues += [_stretched(agreed), _stretched(abs(curves.cosine)), min(abs(size), 3.0), abs(curves.shift)]
    array = np.array(clues)
    return WeighedPair(
        clues=array,
        odds=float(array @ WEIGHTS + BIAS),
        sign=-1 if curves is not None and curves.cosine < 0 else 1,
        sign_agrees=curves is None or curves.agree,
        unit=unit,
        size=size,
        reasons=tuple(_reasons(test, model, curves, unit, size)),
    )


def _stretched(correlation: float) -> float:
    """Return Fisher's transform, so that 0.98 and 0.90 differ as much as they should."""
    return math.atanh(min(max(correlation, -0.995), 0.995))


def _reasons(test: _Channel, model: _Channel, curves: Curves | None, unit: str, size: float) -> list[str]:
    reasons = []
    if unit:
        reasons.append(f"the model gives no unit, {unit} would fit best")
    else:
        reasons.append(f"both measure {test.unit.dimension}")
    shared = sorted(test.said.places & model.said.places)
    shared += [
        one
        for one, other in (
            (test.said.level, model.said.level),
            (test.said.side, model.said.side),
            (test.said.axis, model.said.axis),
        )
        if one and one == other
    ]
    if test.said.kind and test.said.kind == model.said.kind:
        shared.append(test.said.kind)
    shared += sorted(test.said.rest & model.said.rest)
    if shared:
        reasons.append("names share " + ", ".join(shared))
    if curves is None:
        return [*reasons, "curves could not be compared"]
    if abs(size) > math.log(2.0):
        reasons.append(f"the model is {math.exp(size):.2g} times as large")
    turned = ", with the sign inverted" if curves.cosine < 0 else ""
    return [*reasons, f"curves correlate {abs(curves.correlation):.2f} when shifted{turned}"]


def weigh(views: Sequence[View], wanted: Collection[str]) -> dict[tuple[str, str], WeighedPair]:
    """Weigh every pair of a wanted test channel and a model channel that occur in one view."""
    if not wanted:
        return {}
    tests = _channels(recording for view in views for recording in view.tests)
    models = _channels(view.model for view in views)
    curves = _pooled(views, wanted)
    together = {
        (test, model): None
        for view in views
        for test in dict.fromkeys(name for recording in view.tests for name in recording.channel_names)
        if test in wanted
        for model in view.model.channel_names
    }
    found = {pair: _weighed(tests[pair[0]], models[pair[1]], curves.get(pair)) for pair in together}
    return {pair: weighed for pair, weighed in found.items() if weighed is not None}
