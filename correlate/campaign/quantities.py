"""The rated quantities of one load case: every channel and resultant with its conditioned curves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.campaign.curves import Curve, Missing, TestCurves, mean_curve, model_curve, resultant_curve
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.campaign.tables import LoadCase
    from correlate.conditioning import Recipe
    from correlate.formats import Recording
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One rated quantity of a load case.

    Attributes
    ----------
    channel
        Its name in the campaign file: that of the channel in the test, or the title of the resultant.
    recipe
        How its curves are conditioned.
    repeats
        Conditioned curve of each repeat by name, or why there is none.
    model
        Conditioned curve of the model, or why there is none.
    """

    channel: str
    recipe: Recipe
    repeats: dict[str, Curve | Missing]
    model: Curve | Missing

    @property
    def tests(self) -> dict[str, Signal]:
        """The conditioned repeats that could be had, by name."""
        return {name: curve.signal for name, curve in self.repeats.items() if isinstance(curve, Curve)}

    def references(self, repeats: str) -> dict[str, Signal]:
        """Return what the model is rated against.

        Parameters
        ----------
        repeats
            The campaign's word: ``each``, or ``mean curve``.

        Returns
        -------
        dict
            Conditioned signals by the name of the repeat or of the mean.
        """
        if repeats != "mean curve":
            return self.tests
        means = mean_curve(self.repeats)
        return {name: curve.signal for name, curve in means.items() if isinstance(curve, Curve)}


def quantities(load_case: LoadCase, tests: TestCurves, recording: Recording | Missing) -> Iterator[Quantity]:
    """Bring together the curves of everything that is rated in a load case.

    Parameters
    ----------
    load_case
        What is rated.
    tests
        Its repeats, conditioned.
    recording
        Output of the model, or why there is none.

    Yields
    ------
    Quantity
        Channels, then resultants, in the order of the file.
    """
    models: dict[str, Curve | Missing] = {}
    for plan in load_case.channel:
        repeats = tests.repeats(plan.test)
        recipe = load_case.recipe(plan)
        unit = next((one.signal.unit for one in repeats.values() if isinstance(one, Curve)), "1")
        models[plan.test] = model_curve(plan, recording, recipe, unit)
        yield Quantity(channel=plan.test, recipe=recipe, repeats=repeats, model=models[plan.test])
    for entry in load_case.resultant:
        yield Quantity(
            channel=entry.title,
            recipe=load_case.recipe(load_case.plan(entry.axes[0])),
            repeats=tests.resultants(entry),
            model=resultant_curve(entry, [models[axis] for axis in entry.axes]),
        )


def is_travel(unit: str) -> bool:
    """Say whether a unit is one of displacements or angles; hints follow other rules for them than for loads.

    Parameters
    ----------
    unit
        Of the curves.

    Returns
    -------
    bool

    Examples
    --------
    >>> is_travel("mm"), is_travel("deg"), is_travel("kN"), is_travel("m/s^2")
    (True, True, False, False)
    """
    return parse_unit(unit).dimension in {"length", "angle"}
