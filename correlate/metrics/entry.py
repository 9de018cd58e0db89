"""The table of metrics: one entry per metric, and the result of a metric for a pair."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Mapping

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
