"""The tables of a campaign file."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, field_validator, model_validator

from correlate.addresses import address_of, is_address
from correlate.channel import PHYSICAL_DIMENSIONS, quantity_of, spelt_out
from correlate.conditioning import Recipe
from correlate.errors import SettingsError
from correlate.formats.columns.layout_file import Layout  # noqa: TC001 - pydantic needs it at run time
from correlate.metrics import measure
from correlate.metrics.iso18571.settings import RatingSettings, Weights
from correlate.spelling import alike, code_points, unclear
from correlate.toml import Name, Table, speak_up
from correlate.units import parse_unit

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


class Limits(Table):
    """Limits of the gate; what is left out is not checked.

    Attributes
    ----------
    least
        Least rating of a release, and of its held-out load cases.
    largest_loss
        Most that a release, a load case, a body region or a channel may lose against the release before it.
    """

    least: Share | None = None
    largest_loss: Share | None = None

    @property
    def are_set(self) -> bool:
        """Whether there is any."""
        return self.least is not None or self.largest_loss is not None


RATING: Final = "iso18571"
"""Name of the rating in the table of measures."""

Milliseconds = Annotated[float, Field(allow_inf_nan=False)]
Window = tuple[Milliseconds, Milliseconds]
Weight = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Sign = Literal[-1, 1]


class ChannelSettings(Table):
    """Settings of one channel, or of several at once.

    Attributes
    ----------
    test
        Channel code or name in the test data.
    model
        Channel name in the model's output; ``*`` and ``?`` are patterns that must fit one channel, ``{axis}``
        stands for ``model_axis``. Left out: the channel of the same code or name.
    title
        Text for display; empty to describe the code.
    region
        Body region it counts for; left out: that of the position in the code.
    sensor
        Channels of one sensor name are the axes of one sensor and are combined by their share of the peak.
    cfc
        Channel frequency class of both curves; left out for no filter, ``none`` to remove what a default
        gives.
    weight
        Relative weight within its region.
    test_sign, model_sign
        1, or -1 to turn the sign.
    test_offset_ms
        Window before the impact whose mean is subtracted from the test; ``none`` removes what a default
        gives.
    model_unit
        Unit of the model's channel where its file has none or a wrong one.
    model_axis
        x, y or z, put in the place of ``{axis}``.
    model_shift_ms
        Added to the model's times.
    polarity
        Which movement is positive, text for display.
    quantity
        Physical quantity of a channel whose name is no code.
    """

    test: str = ""
    model: str = ""
    title: str = ""
    region: Name | None = None
    sensor: str = ""
    cfc: int | None = None
    weight: Weight = 1.0
    test_sign: Sign = 1
    model_sign: Sign = 1
    test_offset_ms: Window | None = None
    model_unit: str | None = None
    model_axis: Literal["x", "y", "z"] | None = None
    model_shift_ms: Milliseconds = 0.0
    polarity: str = ""
    quantity: str = ""

    @field_validator("cfc")
    @classmethod
    def _class_is_there(cls, cfc: int | None) -> int | None:
        speak_up(partial(Recipe, cfc=cfc))
        return cfc

    @field_validator("test_offset_ms")
    @classmethod
    def _window_is_one(cls, window: Window | None) -> Window | None:
        speak_up(partial(Recipe, reference_offset_window_s=_seconds(window)))
        return window

    @field_validator("model_unit")
    @classmethod
    def _unit_is_one(cls, unit: str | None) -> str | None:
        if unit is not None:
            speak_up(partial(parse_unit, unit))
        return unit

    @field_validator("quantity")
    @classmethod
    def _quantity_is_one(cls, quantity: str) -> str:
        known = PHYSICAL_DIMENSIONS.values()
        if quantity and quantity not in known:
            raise ValueError(f"'{quantity}' is no physical quantity; known are {', '.join(known)}")
        return quantity


def _seconds(window: Window | None) -> Window | None:
    return None if window is None else (window[0] / 1e3, window[1] / 1e3)


class ChannelPlan(ChannelSettings):
    """One channel of a load case and how the model's output maps to it; see `ChannelSettings`.

    Attributes
    ----------
    test
        Channel code or name in the test data.
    region
        Body region it counts for.
    """

    test: Annotated[str, Field(min_length=1)]
    region: Name

    @property
    def words(self) -> str:
        """The channel in words: its title, or its code spelt out."""
        return self.title or spelt_out(self.test)

    @property
    def name(self) -> str:
        """Its name in ratings: the code or name in the test data."""
        return self.test

    @property
    def model_words(self) -> str:
        """What it is in the model's output."""
        return self.model_pattern

    @property
    def model_pattern(self) -> str:
        """Name or pattern to look for in the model's output."""
        return (self.model or self.test).replace("{axis}", self.model_axis or "{axis}")

    @model_validator(mode="after")
    def _mapping_holds(self) -> Self:
        if ("{axis}" in self.model) != (self.model_axis is not None):
            raise ValueError("'model_axis' and '{axis}' in 'model' belong together; write both or neither")
        in_code = quantity_of(self.test)
        if in_code and self.quantity not in {"", in_code}:
            raise ValueError(f"the code says {in_code}, 'quantity' says {self.quantity}; correct one")
        return self


class ResultantPlan(Table):
    """A resultant of three axes, rated beside them.

    Attributes
    ----------
    title
        Text for display.
    axes
        Three channels of the load case, as under ``test``.
    region
        Body region it counts for.
    weight
        Relative weight within its region.
    """

    title: Annotated[str, Field(min_length=1)]
    axes: tuple[str, str, str]
    region: Name
    weight: Weight = 1.0

    @property
    def name(self) -> str:
        """Its name in ratings: the title."""
        return self.title

    @property
    def words(self) -> str:
        """Its title."""
        return self.title

    @property
    def model_words(self) -> str:
        """What it is in the model's output."""
        return "resultant of " + ", ".join(self.axes)


class LoadCase(Table):
    """One kind of test.

    Attributes
    ----------
    name
        Short name, as in commands.
    title
        Text for display.
    tests
        Test folders or files, one per repeat, relative to the campaign file, or addresses in object storage
        such as ``s3://bucket/tests/*.csv``; ``*`` and ``?`` are patterns.
    interval_ms
        Interval of evaluation.
    step_ms
        Time step of the comparison.
    model_file
        File inside a release's folder; ``{load_case}`` and ``{release}`` stand for the names, ``*`` and ``?``
        are wildcards that must match exactly one file.
    layout
        Layout that describes the model's file: the name of a ``[[layout]]``, or of a file in the folder
        ``layouts`` beside the campaign file; a list of them where ``model_file`` is a folder with a file for
        each; left out: the format is recognised.
    test_layout
        Layout that describes the files of the tests, named in the same way.
    weight
        Relative weight within the release.
    held_out
        True when no tuning may use it; reported apart.
    expected_repeats
        Tests that there should be; the gate fails when there are fewer. Left out: those that are named.
    channel, resultant
        What is rated.
    """

    name: Name
    title: str = ""
    tests: Annotated[list[str], Field(min_length=1)]
    interval_ms: Window
    step_ms: Annotated[float, Field(gt=0, allow_inf_nan=False)] = 0.1
    model_file: str = "{load_case}.csv"
    layout: str | list[str] | None = None
    test_layout: str | None = None
    weight: Weight = 1.0
    held_out: bool = False
    expected_repeats: Annotated[int, Field(ge=1)] | None = None
    channel: Annotated[list[ChannelPlan], Field(min_length=1)]
    resultant: list[ResultantPlan] = Field(default_factory=list)

    @field_validator("tests")
    @classmethod
    def _tests_are_where_they_may_be(cls, tests: list[str]) -> list[str]:
        for one in filter(is_address, tests):
            address_of(one)
        return tests

    def recipe(self, channel: ChannelPlan) -> Recipe:
        """Return how a pair of this channel is conditioned."""
        return Recipe(
            cfc=channel.cfc,
            start_s=self.interval_ms[0] / 1e3,
            end_s=self.interval_ms[1] / 1e3,
            step_s=self.step_ms / 1e3,
            reference_sign=channel.test_sign,
            candidate_sign=channel.model_sign,
            reference_offset_window_s=_seconds(channel.test_offset_ms),
            candidate_shift_s=channel.model_shift_ms / 1e3,
        )

    def plan(self, test: str) -> ChannelPlan:
        """Return a channel by its code or name in the test data.

        Raises
        ------
        SettingsError
            There is none.
        """
        for channel in self.channel:
            if channel.test == test:
                return channel
        raise SettingsError(f"load case '{self.name}' has no channel '{test}'", remedy="correct the name")

    @property
    def plans(self) -> tuple[ChannelPlan | ResultantPlan, ...]:
        """Everything that is rated: channels, then resultants."""
        channels: list[ChannelPlan | ResultantPlan] = [*self.channel]
        return (*channels, *self.resultant)

    @property
    def rated_names(self) -> tuple[str, ...]:
        """Names of everything that is rated: channels, then resultants."""
        return tuple(plan.name for plan in self.plans)

    def rated(self, name: str) -> ChannelPlan | ResultantPlan:
        """Return a channel by its code or name, or a resultant by its title.

        Raises
        ------
        SettingsError
            There is none.
        """
        for plan in self.plans:
            if plan.name == name:
                return plan
        raise SettingsError(
            f"there is no channel '{name}'",
            where=f"load case '{self.name}'",
            remedy=f"it has {', '.join(self.rated_names)}",
        )

    @model_validator(mode="after")
    def _recipes_hold(self) -> Self:
        """Let every recipe be made once, so that its own checks speak here."""
        for channel in self.channel:
            speak_up(partial(self.recipe, channel))
        return self

    @model_validator(mode="after")
    def _channels_fit_together(self) -> Self:
        names = [channel.test for channel in self.channel]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"channel '{twice[0]}' is listed twice; remove one")
        for sensor in {channel.sensor for channel in self.channel if channel.sensor}:
            axes = [channel for channel in self.channel if channel.sensor == sensor]
            if len({(axis.region, axis.weight) for axis in axes}) > 1:
                raise ValueError(f"the axes of sensor '{sensor}' differ in region or weight; make them equal")
        for entry in self.resultant:
            for axis in entry.axes:
                if axis not in names:
                    raise ValueError(
                        f"the resultant '{entry.title}' names '{axis}', which is not a channel here"
                    )
        return self


class Release(Table):
    """One release of the model.

    Attributes
    ----------
    name
        Short name, as in commands.
    folder
        Folder of its results, relative to the campaign file, or an address in object storage such as
        ``s3://bucket/releases/A1``.
    layout
        Layout of all its files, instead of those of the load cases.
    note
        Text for display.
    """

    name: Name
    folder: str
    layout: str | None = None
    note: str = ""

    @field_validator("folder")
    @classmethod
    def _folder_is_where_it_may_be(cls, folder: str) -> str:
        if is_address(folder):
            address_of(folder)
        return folder


class About(Table):
    """What the campaign is about.

    Attributes
    ----------
    title
        Text for display, and the name of the campaign in the results store.
    device
        Text for display.
    """

    title: str
    device: str = ""


class Scoring(Table):
    """How ratings of pairs become one number.

    Attributes
    ----------
    repeats
        ``each``: every repeat is rated and the mean reported; ``mean curve``: the mean of the repeats is
        the reference.
    missing
        ``apart``: a channel without data is left out and counted; ``zero``: it counts as a rating of 0.
    main
        Measure that is combined from channel to release; one that runs from 0 to 1, 1 being best.
    extras
        Measures that are evaluated of each pair beside it.
    """

    repeats: Literal["each", "mean curve"] = "each"
    missing: Literal["apart", "zero"] = "apart"
    main: str = RATING
    extras: tuple[str, ...] = ()

    @property
    def measures(self) -> tuple[str, ...]:
        """Measures to evaluate beside the rating: the main one, when it is another, and the extras."""
        return tuple(name for name in dict.fromkeys([self.main, *self.extras]) if name != RATING)

    @model_validator(mode="after")
    def _measures_are_there(self) -> Self:
        for name in self.measures:
            speak_up(partial(measure, name))
            if measure(name).needs != "pair":
                raise ValueError(
                    f"'{name}' compares all repeats at once and cannot be computed for each pair"
                )
        chosen = measure(self.main)
        if (chosen.lowest, chosen.highest, chosen.best) != (0.0, 1.0, 1.0):
            raise ValueError(
                f"'{self.main}' cannot be the main metric: its range is not 0 to 1 with 1 as best value"
            )
        return self


class RatingTable(Table):
    """Settings of the rating that differ from the published ones; see `RatingSettings`."""

    inner_half_width: float | None = None
    outer_half_width: float | None = None
    corridor_exponent: float | None = None
    largest_shift: float | None = None
    phase_exponent: float | None = None
    warping_band: float | None = None
    magnitude_limit: float | None = None
    slope_limit: float | None = None
    slope_average_samples: int | None = None
    weights: dict[Literal["corridor", "phase", "magnitude", "slope"], float] | None = None
    flat_overlap: str | None = None
    phase_tie: str | None = None
    tie_tolerance: float | None = None
    path_tie: str | None = None
    zero_reference: str | None = None
    slope_ends: str | None = None
    average_ends: str | None = None
    dead_candidate: str | None = None

    def settings(self) -> RatingSettings:
        """Return the published settings with the given ones in their place."""
        given: dict[str, Any] = {key: value for key, value in self if value is not None}
        if self.weights is not None:
            given["weights"] = Weights(**self.weights)
        return RatingSettings(**given)

    @model_validator(mode="after")
    def _settings_hold(self) -> Self:
        speak_up(self.settings)
        return self


def _refuse_look_alikes(word: str, names: list[str]) -> None:
    """Refuse names that people take for another one, or cannot read as they are written."""
    for name in names:
        if reason := unclear(name):
            raise ValueError(f"the {word} name {name!r} {reason}; type it again")
    if pair := alike(names):
        both = " and ".join(f"{name!r} ({code_points(name)})" for name in pair)
        raise ValueError(f"two {word} names look alike: {both}; rename one")


class CampaignTable(Table):
    """The whole file.

    Attributes
    ----------
    regions
        Relative weight of a body region within a load case, by name; 1 where it is not listed.
    """

    campaign: About
    scoring: Scoring = Scoring()
    rating: RatingTable = RatingTable()
    regions: dict[Name, Weight] = Field(default_factory=dict)
    limits: Limits = Limits()
    load_case: Annotated[list[LoadCase], Field(min_length=1)]
    release: Annotated[list[Release], Field(min_length=1)]
    layout: list[Layout] = Field(default_factory=list)

    @model_validator(mode="after")
    def _names_are_unique(self) -> Self:
        for word, entries in (
            ("load case", self.load_case),
            ("release", self.release),
            ("layout", self.layout),
        ):
            names = [entry.name for entry in entries]
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                raise ValueError(f"two entries of one {word} name: {', '.join(twice)}; rename one")
            _refuse_look_alikes(word, names)
        return self

    @model_validator(mode="after")
    def _regions_are_used(self) -> Self:
        used = {plan.region for case in self.load_case for plan in case.channel}
        used |= {plan.region for case in self.load_case for plan in case.resultant}
        for region in self.regions:
            if region not in used:
                raise ValueError(
                    f"region '{region}' has a weight but no channel; remove it or correct the name"
                )
        return self
