"""The table of measures."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final, Literal

from correlate.display import NamedResults, short_repr
from correlate.errors import SettingsError, SignalError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from correlate.metrics.repeats import AlignedRepeats
    from correlate.pair import AlignedPair


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """What a measure says.

    Attributes
    ----------
    measure
        Name of the measure.
    value
        Its main number; None where it refuses the curves.
    parts
        All of its numbers by name.
    result
        The result of the measure itself.
    reason
        Why it refuses; empty when it does not.
    """

    measure: str
    value: float | None
    parts: Mapping[str, float | bool]
    result: Any
    reason: str = ""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One measure.

    Attributes
    ----------
    name
        As in commands and files.
    title
        For people.
    source
        Paper, standard, or "common practice, no source".
    lowest, highest
        Range of the main number.
    best
        Its value for a perfect model.
    higher_is_better
        Whether a larger number is better.
    symmetric
        Whether exchanging test and model changes nothing.
    blind_to
        What it cannot see.
    needs
        ``pair``, or ``repeats`` of the test; a measure that takes repeats but can do with one says ``pair``.
    module, function
        Where it lives.
    main
        Name of the main number in its result.
    parts
        Names of the others worth showing.
    takes_repeats
        Whether the function takes :class:`AlignedRepeats`.
    """

    name: str
    title: str
    source: str
    lowest: float
    highest: float
    best: float
    higher_is_better: bool
    symmetric: bool
    blind_to: str
    module: str
    function: str
    main: str
    parts: tuple[str, ...] = ()
    needs: Literal["pair", "repeats"] = "pair"
    takes_repeats: bool = False

    def evaluate(self, pair: AlignedPair, *, repeats: AlignedRepeats | None = None) -> Evaluation:
        """Let the measure speak about a pair.

        Parameters
        ----------
        pair
            Test and model.
        repeats
            All repeats of the test with the model, for measures that look at them.

        Returns
        -------
        Evaluation

        Raises
        ------
        SignalError
            The measure refuses the curves; the message says why.
        """
        function = getattr(import_module(self.module), self.function)
        if self.takes_repeats:
            from correlate.metrics.repeats import AlignedRepeats  # noqa: PLC0415 - the table stays cheap

            result = function(repeats or AlignedRepeats.of_pair(pair))
        else:
            result = function(pair)
        parts = {name: getattr(result, name) for name in (self.main, *self.parts)}
        return Evaluation(measure=self.name, value=parts[self.main], parts=parts, result=result)


_UNLIMITED: Final = float("inf")


def measure(name: str) -> Measure:
    """Return a measure by name.

    Parameters
    ----------
    name
        Of the table; capitals do not matter.

    Returns
    -------
    Measure

    Raises
    ------
    SettingsError
        There is none of this name; the message lists those there are.

    Examples
    --------
    >>> measure("theil").title
    "Theil's inequality coefficient"
    """
    folded = name.strip().casefold()
    if folded in METRICS:
        return METRICS[folded]
    close = difflib.get_close_matches(folded, METRICS, n=1)
    meant = f"perhaps you mean '{close[0]}'; " if close else ""
    raise SettingsError(f"there is no metric '{name}'", remedy=f"{meant}there are {', '.join(METRICS)}")


def evaluate_measures(
    names: Iterable[str], pair: AlignedPair, *, repeats: AlignedRepeats | None = None
) -> tuple[Evaluation, ...]:
    """Let several measures speak about a pair; one that refuses says why and stops none of the others.

    Parameters
    ----------
    names
        Of measures; ``all`` stands for every one.
    pair
        Test and model.
    repeats
        All repeats of the test with the model.

    Returns
    -------
    tuple of Evaluation
        One a measure, in the order of the names, none twice.

    Raises
    ------
    SettingsError
        There is no measure of a name.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> flat = AlignedPair(time=[0, 1], reference=[1, 1], candidate=[1, 2])
    >>> [found.value for found in evaluate_measures(["area", "pearson"], flat)]
    [0.5, None]
    """
    chosen: dict[str, Measure] = {}
    for name in names:
        chosen |= METRICS if name == "all" else {(found := measure(name)).name: found}
    return tuple(_evaluated(one, pair, repeats) for one in chosen.values())


def _evaluated(one: Measure, pair: AlignedPair, repeats: AlignedRepeats | None) -> Evaluation:
    try:
        return one.evaluate(pair, repeats=repeats)
    except SignalError as error:
        return Evaluation(measure=one.name, value=None, parts={}, result=None, reason=str(error))


_TABLE: Final = (
    Measure(
        name="iso18571",
        title="Rating after ISO/TS 18571",
        source="ISO/TS 18571:2014, from memory",
        lowest=0.0,
        highest=1.0,
        best=1.0,
        higher_is_better=True,
        symmetric=False,
        blind_to="errors inside the inner corridor; what happens beyond its shift and warping limits",
        module="correlate.metrics.iso18571",
        function="rate",
        main="overall",
        parts=("corridor", "phase", "magnitude", "slope"),
    ),
    Measure(
        name="sprague-geers",
        title="Sprague and Geers, comprehensive error",
        source="Sprague, Geers, Shock and Vibration 11 (2004), from memory",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=False,
        blind_to="shape: an offset, noise or a missing peak all appear as phase and size",
        module="correlate.metrics.classic",
        function="sprague_geers",
        main="comprehensive",
        parts=("magnitude", "phase", "accepted"),
    ),
    Measure(
        name="russell",
        title="Russell's comprehensive error factor",
        source="Russell, 68th Shock and Vibration Symposium (1997), from memory",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=True,
        blind_to="shape: an offset, noise or a missing peak all appear as phase and size",
        module="correlate.metrics.classic",
        function="russell",
        main="comprehensive",
        parts=("magnitude", "phase"),
    ),
    Measure(
        name="knowles-gear",
        title="Knowles and Gear, combined error",
        source="Knowles, Gear (2004) after Schwer, Engineering with Computers 23 (2007), from memory",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=False,
        blind_to="where the reference is near zero; timing after the arrival only through size",
        module="correlate.metrics.classic",
        function="knowles_gear",
        main="combined",
        parts=("magnitude", "arrival", "reference_arrival_s", "candidate_arrival_s"),
    ),
    Measure(
        name="theil",
        title="Theil's inequality coefficient",
        source="Theil, Economic forecasts and policy (1961), from memory",
        lowest=0.0,
        highest=1.0,
        best=0.0,
        higher_is_better=False,
        symmetric=True,
        blind_to="the kind of error: late, low and noisy look alike",
        module="correlate.metrics.classic",
        function="theil",
        main="inequality",
    ),
    Measure(
        name="weighted-integrated-factor",
        title="Weighted integrated factor",
        source="Hovenga, Spit, Uijldert, Dalenoort, SAE 2005-01-1307, from memory",
        lowest=0.0,
        highest=1.0,
        best=1.0,
        higher_is_better=True,
        symmetric=True,
        blind_to="the kind of error; near zero it weighs nothing",
        module="correlate.metrics.classic",
        function="weighted_integrated_factor",
        main="factor",
    ),
    Measure(
        name="normalised-rms",
        title="Normalised root mean square error",
        source="common practice, no source",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=False,
        blind_to="the kind of error; quiet time in the interval dilutes it",
        module="correlate.metrics.classic",
        function="normalised_rms",
        main="error",
        parts=("root_mean_square",),
    ),
    Measure(
        name="pearson",
        title="Pearson's correlation coefficient",
        source="Pearson 1895; any textbook of statistics",
        lowest=-1.0,
        highest=1.0,
        best=1.0,
        higher_is_better=True,
        symmetric=True,
        blind_to="size and offset: any positive scale and any offset are perfect to it",
        module="correlate.metrics.classic",
        function="pearson",
        main="correlation",
    ),
    Measure(
        name="cross-correlation",
        title="Largest cross-correlation",
        source="any textbook of signal processing",
        lowest=-1.0,
        highest=1.0,
        best=1.0,
        higher_is_better=True,
        symmetric=True,
        blind_to="size and delay: a scaled and shifted copy is perfect to it",
        module="correlate.metrics.classic",
        function="cross_correlation",
        main="correlation",
        parts=("delay_samples", "delay_s"),
    ),
    Measure(
        name="residual",
        title="Residual (analysis of variance), standard deviation",
        source="Ray (1996); NCHRP Web-Only Document 179 (2010), from memory",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=False,
        blind_to="a constant offset, which only the mean residual sees; the kind of error",
        module="correlate.metrics.classic",
        function="residual",
        main="deviation",
        parts=("mean", "accepted"),
    ),
    Measure(
        name="confidence-interval",
        title="Average error within the confidence interval of repeats",
        source="Oberkampf, Barone, Journal of Computational Physics 217 (2006), from memory",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=False,
        blind_to="the kind of error; with few repeats the interval is wide",
        module="correlate.metrics.confidence_interval",
        function="confidence_interval",
        main="average_error",
        parts=("average_half_width", "share_inside", "confidence", "repeats"),
        needs="repeats",
        takes_repeats=True,
    ),
    Measure(
        name="area",
        title="Area between the distributions of repeats and runs",
        source="Ferson, Oberkampf, Ginzburg, Comput. Methods Appl. Mech. Engrg. 197 (2008), from memory",
        lowest=0.0,
        highest=_UNLIMITED,
        best=0.0,
        higher_is_better=False,
        symmetric=False,
        blind_to="the kind of error; which repeat belongs to which run",
        module="correlate.metrics.area",
        function="area",
        main="area",
        takes_repeats=True,
    ),
)

METRICS: Final[dict[str, Measure]] = NamedResults({entry.name: entry for entry in _TABLE})
"""Every measure by name. Measures are imported when they are asked for."""
