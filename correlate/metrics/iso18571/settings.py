"""Settings of the rating after ISO/TS 18571:2014; the defaults are the published values.

Where the published text leaves a numerical detail open, the choice made here is a setting too; those
are the last eight.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Final, Literal, get_args

from correlate.display import short_repr
from correlate.errors import SettingsError

LEAST_SAMPLES: Final = 20
"""Fewest samples that can be rated."""

FlatOverlap = Literal["reject", "zero"]
PhaseTie = Literal["earlier", "later"]
PathTie = Literal["candidate", "reference"]
ZeroReference = Literal["compare", "zero"]
SlopeEnds = Literal["one-sided", "second-order"]
AverageEnds = Literal["shrink", "repeat"]
DeadCandidate = Literal["zero", "search"]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """Share of each component in the overall rating; they add up to 1.

    Attributes
    ----------
    corridor, phase, magnitude, slope
        Each 0 or more.

    Raises
    ------
    SettingsError
        A negative weight, or a sum that is not 1.
    """

    corridor: float = 0.4
    phase: float = 0.2
    magnitude: float = 0.2
    slope: float = 0.2

    def __post_init__(self) -> None:
        """Check the sum."""
        values = (self.corridor, self.phase, self.magnitude, self.slope)
        if min(values) < 0 or abs(sum(values) - 1.0) > 1e-9:
            raise SettingsError(
                f"the weights {values} are negative or do not add up to 1",
                where="rating settings, weights",
                remedy="give four weights of 0 or more with the sum 1",
            )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RatingSettings:
    """Every number and every choice of the rating.

    Attributes
    ----------
    inner_half_width, outer_half_width
        Half widths of the corridors as a share of the reference's largest absolute value.
    corridor_exponent
        Power of the falling score between the corridors.
    largest_shift
        Largest shift tried, as a share of the number of samples.
    phase_exponent
        Power of the phase score.
    warping_band
        Half width of the warping band, as a share of the number of samples compared.
    magnitude_limit, slope_limit
        Relative error at which the score reaches 0.
    slope_average_samples
        Length of the moving average over the derivative, odd.
    weights
        Share of each component.
    flat_overlap
        [choice] An overlap without variance cannot be correlated: ``reject`` counts it as minus infinity,
        ``zero`` as uncorrelated.
    phase_tie
        [choice] Of two best shifts of one size, the one that moves the candidate ``earlier`` or ``later``.
    tie_tolerance
        [choice] Correlations this close count as equal, so that rounding does not choose between two shifts.
    path_tie
        [choice] Ties of the warping path prefer the diagonal, then advancing this curve.
    zero_reference
        [choice] When the reference sum of an error is 0: ``compare`` scores 1 if the error sum is 0 too, else
        0; ``zero`` always scores 0.
    slope_ends
        [choice] Derivative at the two ends: ``one-sided`` difference, or ``second-order``.
    average_ends
        [choice] Moving average near the ends: the window ``shrink`` symmetrically, or the last value
        ``repeat`` beyond the end.
    dead_candidate
        [choice] A candidate that does not move has no phase: ``zero`` scores it 0, ``search`` scores it as
        any other, which gives 1 because no shift is better than none.

    Raises
    ------
    SettingsError
        A value outside what it may be, named.

    Examples
    --------
    >>> RatingSettings().weights.corridor
    0.4
    """

    inner_half_width: float = 0.05
    outer_half_width: float = 0.50
    corridor_exponent: float = 2.0
    largest_shift: float = 0.2
    phase_exponent: float = 1.0
    warping_band: float = 0.1
    magnitude_limit: float = 0.5
    slope_limit: float = 2.0
    slope_average_samples: int = 9
    weights: Weights = field(default_factory=Weights)
    flat_overlap: FlatOverlap = "reject"
    phase_tie: PhaseTie = "earlier"
    tie_tolerance: float = 1e-12
    path_tie: PathTie = "candidate"
    zero_reference: ZeroReference = "compare"
    slope_ends: SlopeEnds = "one-sided"
    average_ends: AverageEnds = "shrink"
    dead_candidate: DeadCandidate = "zero"

    def __post_init__(self) -> None:
        """Check every value once, here."""
        _require(
            "inner_half_width", 0 <= self.inner_half_width < self.outer_half_width, "below outer_half_width"
        )
        for name in ("corridor_exponent", "phase_exponent", "magnitude_limit", "slope_limit"):
            _require(name, 0 < getattr(self, name) < float("inf"), "above 0")
        _require("largest_shift", 0 < self.largest_shift < 1, "between 0 and 1")
        _require("warping_band", 0 < self.warping_band <= 1, "above 0 and at most 1")
        _require("tie_tolerance", 0 <= self.tie_tolerance < 0.01, "from 0 to below 0.01")
        odd = self.slope_average_samples >= 1 and self.slope_average_samples % 2 == 1
        _require("slope_average_samples", odd, "an odd number, 1 or more")
        _require("weights", isinstance(self.weights, Weights), "a Weights object")
        for name, words in _CHOICES.items():
            _require(name, getattr(self, name) in words, "one of " + ", ".join(words))

    def as_dict(self) -> dict[str, object]:
        """Return the settings as plain values, for JSON and TOML."""
        plain = {item.name: getattr(self, item.name) for item in fields(self)}
        plain["weights"] = {item.name: getattr(self.weights, item.name) for item in fields(self.weights)}
        return plain


_CHOICES: Final[dict[str, tuple[str, ...]]] = {
    "flat_overlap": get_args(FlatOverlap),
    "phase_tie": get_args(PhaseTie),
    "path_tie": get_args(PathTie),
    "zero_reference": get_args(ZeroReference),
    "slope_ends": get_args(SlopeEnds),
    "average_ends": get_args(AverageEnds),
    "dead_candidate": get_args(DeadCandidate),
}


def _require(name: str, holds: bool, rule: str) -> None:
    if not holds:
        raise SettingsError(f"{name} must be {rule}", where="rating settings", remedy="correct the value")


PUBLISHED: Final = RatingSettings()
"""Used if no settings are given."""
