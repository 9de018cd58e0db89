"""What a load case should look like: polarity, size and relations between channels, as data."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from correlate.errors import CorrelateError
from correlate.toml import Table, read_toml
from correlate.units import parse_unit

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]


class ExpectedChannel(Table):
    """One channel of a load case.

    Attributes
    ----------
    channel
        Code or name.
    main_peak
        Sign of the largest excursion; None to leave it open.
    peak
        Least and largest size of the peak, in `unit`; None to leave it open.
    unit
        Unit of `peak`.
    """

    channel: str
    main_peak: Literal["positive", "negative"] | None = None
    peak: tuple[Positive, Positive] | None = None
    unit: str | None = None

    @model_validator(mode="after")
    def _peak_has_a_unit(self) -> ExpectedChannel:
        if (self.peak is None) != (self.unit is None):
            raise ValueError("peak and unit belong together")
        if self.peak is not None and self.peak[0] > self.peak[1]:
            raise ValueError("the larger peak is given first")
        if self.unit is not None:
            try:
                parse_unit(self.unit)
            except CorrelateError as error:
                raise ValueError(str(error)) from error
        return self


class ForceOfMass(Table):
    """``force = mass · acceleration`` of a rigid body, such as a probe.

    Attributes
    ----------
    kind
        Which relation this is.
    force, acceleration
        Channels.
    mass_kg
        Mass; None to take ``Mass test object 1`` of the test.
    sign
        1, or −1 when the two are recorded with opposite polarity; left out: either is accepted, as a positive
        force with a negative acceleration is a common convention.
    """

    kind: Literal["force of mass"]
    force: str
    acceleration: str
    mass_kg: Positive | None = None
    sign: Literal[1, -1] | None = None

    @property
    def channels(self) -> tuple[str, ...]:
        """The measured channel, then those it is computed from."""
        return self.force, self.acceleration


class IntegralOf(Table):
    """A channel that is the integral of another: velocity of acceleration, angle of rate.

    Attributes
    ----------
    kind
        Which relation this is.
    rate, level
        Channels.
    times
        Integrate once or twice.
    sign
        1, or −1 when the two are recorded with opposite polarity.
    """

    kind: Literal["integral"]
    rate: str
    level: str
    times: Literal[1, 2] = 1
    sign: Literal[1, -1] = 1

    @property
    def channels(self) -> tuple[str, ...]:
        """The measured channel, then those it is computed from."""
        return self.level, self.rate


class ResultantOf(Table):
    """A channel that is the length of a vector.

    Attributes
    ----------
    kind
        Which relation this is.
    resultant
        Channel.
    axes
        Its three components.
    """

    kind: Literal["resultant"]
    resultant: str
    axes: tuple[str, str, str]

    @property
    def channels(self) -> tuple[str, ...]:
        """The measured channel, then those it is computed from."""
        return self.resultant, *self.axes


class SumOf(Table):
    """A channel that is the sum of others, such as a force over several load cells.

    Attributes
    ----------
    kind
        Which relation this is.
    total
        Channel.
    parts
        Channels.
    """

    kind: Literal["sum"]
    total: str
    parts: Annotated[tuple[str, ...], Field(min_length=1)]

    @property
    def channels(self) -> tuple[str, ...]:
        """The measured channel, then those it is computed from."""
        return self.total, *self.parts


class SpeedChange(Table):
    """The integral of an acceleration, against the impact speed that the test states.

    Attributes
    ----------
    kind
        Which relation this is.
    acceleration
        Channel of the striking body.
    of_impact_speed
        Least and largest change of speed, as multiples of ``Velocity test object 1``.
    """

    kind: Literal["speed change"]
    acceleration: str
    of_impact_speed: tuple[Positive, Positive]

    @property
    def channels(self) -> tuple[str, ...]:
        """The one channel."""
        return (self.acceleration,)


Relation = Annotated[
    ForceOfMass | IntegralOf | ResultantOf | SumOf | SpeedChange, Field(discriminator="kind")
]


class ExpectedLoadCase(Table):
    """One load case.

    Attributes
    ----------
    name
        As under ``Type of the test`` in the test, or the name of the folder that holds the repeats.
    channel
        What its channels look like.
    relation
        What its channels have to do with each other.
    """

    name: str
    channel: tuple[ExpectedChannel, ...] = ()
    relation: tuple[Relation, ...] = ()


class Expectations(Table):
    """What is expected of all load cases.

    Attributes
    ----------
    load_case
        One entry each.

    Examples
    --------
    >>> drop = ExpectedLoadCase(
    ...     name="head-drop", channel=(ExpectedChannel(channel="head az", main_peak="positive"),)
    ... )
    >>> Expectations(load_case=(drop,)).of("head-drop").channel[0].main_peak
    'positive'
    """

    load_case: tuple[ExpectedLoadCase, ...] = ()

    def of(self, name: str) -> ExpectedLoadCase:
        """Return what is expected of a load case; nothing where the name is not listed."""
        for load_case in self.load_case:
            if load_case.name == name:
                return load_case
        return ExpectedLoadCase(name=name)


NOTHING_EXPECTED = Expectations()
"""No expectations."""


def load_expectations(path: str | Path) -> Expectations:
    """Read expectations from a TOML file.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Expectations

    Raises
    ------
    FormatError
        The file is absent, is no TOML, or holds mistakes; all are reported at once.
    """
    return read_toml(Path(path), Expectations, kind="a file of expectations").table
