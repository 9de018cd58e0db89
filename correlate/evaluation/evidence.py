"""Evidence behind a rating: which repeats are expected, which were found and rated, and from which files."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from correlate.display import short_repr
from correlate.file_hashes import file_hashes
from correlate.files import files_of
from correlate.limits import current_limits
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.record import PairRecord
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.file_hashes import FileHashes

WORDS_ONLY: Final = {
    "title",
    "weight",
    "held_out",
    "expected_repeats",
    "region",
    "note",
    "polarity",
    "quantity",
}
"""Keys of a load case and its channels that change no rating of a pair."""

_HERE: Final = "\0"
"""Stands for the project folder in a saved sentence; no sentence contains it."""


@short_repr
@dataclass(frozen=True, slots=True)
class Unrated:
    """A pair that was asked for and could not be rated.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names of the pair.
    reason
        One sentence.
    cause
        The part of it that is the same for every pair that is not rated for this reason.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    reason: str
    cause: str = ""

    def within(self, folder: Path) -> Unrated:
        """Return it without the path of the project folder, as it is saved."""
        path = f"{folder}/"
        reason, cause = (text.replace(path, _HERE) for text in (self.reason, self.cause))
        return replace(self, reason=reason, cause=cause)

    def at(self, folder: Path) -> Unrated:
        """Return the result of :meth:`within` with the current path of the project folder."""
        path = f"{folder}/"
        reason, cause = (text.replace(_HERE, path) for text in (self.reason, self.cause))
        return replace(self, reason=reason, cause=cause)


@short_repr
@dataclass(frozen=True, slots=True)
class Unpaired:
    """Channels that are in the data but in no pair, including those that cannot be used.

    Attributes
    ----------
    side
        ``test`` or ``model``.
    release
        Empty for tests.
    load_case
        Where they are.
    channels
        Names of those that could be paired.
    set_aside
        One sentence for each channel of a file that cannot be used.
    """

    side: str
    release: str
    load_case: str
    channels: tuple[str, ...]
    set_aside: tuple[str, ...] = ()


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelEvidence:
    """Which repeats of one channel there should be, and what became of them.

    Attributes
    ----------
    channel
        Channel code, name, or title of a resultant.
    expected
        Repeats that there should be.
    found
        Repeats whose curve could be read and conditioned, by name.
    rated
        Those of them that the model is rated against.
    missing
        Why each other one is not rated, by the name of the repeat.
    pairs
        Names of the rated pairs: the repeats, or the mean of them.
    flags
        How many of these pairs have each warning beside the rating, by its name.
    causes
        What of a reason in ``missing`` is the same for every pair it stops, by the name of the repeat.
    """

    channel: str
    expected: int
    found: tuple[str, ...]
    rated: tuple[str, ...]
    missing: Mapping[str, str]
    pairs: tuple[str, ...]
    flags: Mapping[str, int] = field(default_factory=dict)
    causes: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_complete(self) -> bool:
        """Whether every repeat that there should be is rated."""
        return not self.missing and len(self.rated) >= self.expected


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CaseEvidence:
    """The evidence behind the ratings of one load case of one release.

    Attributes
    ----------
    campaign, release, load_case
        Names.
    state
        From :func:`inputs_state` when it was rated; another value today means that the ratings are stale.
    channels
        In the order of the file.
    pairs_sha256
        From :func:`pairs_sha256`; empty if the files must be read again.
    unrated
        Pairs that could not be rated, without the path of the project folder.
    unpaired
        Channels in the data that are in no pair.
    """

    campaign: str
    release: str
    load_case: str
    state: str
    channels: tuple[ChannelEvidence, ...]
    pairs_sha256: str = ""
    unrated: tuple[Unrated, ...] = ()
    unpaired: tuple[Unpaired, ...] = ()

    def as_plain(self) -> list[dict[str, Any]]:
        """Return the channels as plain values, for JSON and the store."""
        return [{name: getattr(one, name) for name in ChannelEvidence.__slots__} for one in self.channels]


def content_of(evidence: CaseEvidence) -> dict[str, Any]:
    """Return what is saved of evidence besides its names and state, as plain values."""
    return {
        "channels": evidence.as_plain(),
        "pairs_sha256": evidence.pairs_sha256,
        "unrated": [asdict(one) for one in evidence.unrated],
        "unpaired": [asdict(one) for one in evidence.unpaired],
    }


def evidence_of(content: Any, **names: str) -> CaseEvidence:
    """Return the evidence whose content :func:`content_of` wrote; an earlier version wrote only channels."""
    given = content if isinstance(content, dict) else {}
    return CaseEvidence(
        **names,
        channels=channels_of_plain(content),
        pairs_sha256=given.get("pairs_sha256", ""),
        unrated=tuple(Unrated(**one) for one in given.get("unrated", ())),
        unpaired=tuple(
            Unpaired(**{**one, "channels": tuple(one["channels"]), "set_aside": tuple(one["set_aside"])})
            for one in given.get("unpaired", ())
        ),
    )


def channels_of_plain(content: Any) -> tuple[ChannelEvidence, ...]:
    """Return the channels that :meth:`CaseEvidence.as_plain` or :func:`content_of` wrote."""
    return tuple(
        ChannelEvidence(
            channel=one["channel"],
            expected=one["expected"],
            found=tuple(one["found"]),
            rated=tuple(one["rated"]),
            missing=dict(one["missing"]),
            pairs=tuple(one["pairs"]),
            flags=dict(one["flags"]),
            causes=dict(one.get("causes", {})),  # not in evidence of earlier versions
        )
        for one in (content["channels"] if isinstance(content, dict) else content)
    )


def pairs_sha256(pairs: Iterable[tuple[str, str, str]]) -> str:
    """Return the hash of the rating keys of all pairs of a load case of a release, and of the file limits.

    Parameters
    ----------
    pairs
        Channel, repeat and key of the rating, in the order of the file.
    """
    parts = (tuple(pairs), current_limits())
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def with_flags(evidence: CaseEvidence, records: Iterable[PairRecord]) -> CaseEvidence:
    """Count the warnings beside the ratings of each channel."""
    counts: dict[str, dict[str, int]] = {}
    for record in records:
        for flag in record.ingredients.get("flags", []):
            of_channel = counts.setdefault(record.channel, {})
            of_channel[flag["name"]] = of_channel.get(flag["name"], 0) + 1
    if not counts:
        return evidence
    channels = (replace(one, flags=counts.get(one.channel, {})) for one in evidence.channels)
    return replace(evidence, channels=tuple(channels))


def inputs_state(campaign: Campaign, release: Release, load_case: LoadCase) -> str:
    """Return the hash of everything that the ratings of a load case of a release depend on.

    Parameters
    ----------
    campaign, release, load_case
        Which ratings.

    Returns
    -------
    str
        64 hexadecimal characters. Bytes of tests and result, how they are read, conditioned and rated, and
        the version of the program; not weights and text for display, nor where the folder lies.

    Raises
    ------
    FormatError
        The load case names tests that are not there.
    """
    return InputStates(campaign).of(release, load_case)


class InputStates:
    """States of the inputs of a campaign at one moment; what all releases share is determined once.

    Parameters
    ----------
    campaign
        The campaign.
    """

    def __init__(self, campaign: Campaign) -> None:
        self._campaign = campaign
        self._of_tests: dict[str, str] = {}
        self._how: dict[str, str] = {}

    def of(self, release: Release, load_case: LoadCase) -> str:
        """Return the same as :func:`inputs_state`."""
        campaign = self._campaign
        hashes = file_hashes(campaign.folder)
        files = [self.of_tests(load_case), *_contents(hashes, campaign.model_path(release, load_case))]
        layout = campaign.model_layout(release, load_case)
        # The text of the tuple (files, case, channels, scoring, layout, version); releases share most of it.
        text = f"({files!r}, {self._how_rated(load_case)}, {layout!r}, {VERSION!r})"
        return hashlib.sha256(text.encode()).hexdigest()

    def of_tests(self, load_case: LoadCase) -> str:
        """Return the same as :func:`state_of_tests`."""
        if load_case.name not in self._of_tests:
            self._of_tests[load_case.name] = state_of_tests(self._campaign, load_case)
        return self._of_tests[load_case.name]

    def _how_rated(self, load_case: LoadCase) -> str:
        if load_case.name not in self._how:
            rated = load_case.model_dump(exclude=WORDS_ONLY | {"channel", "resultant", "tests"})
            channels = [one.model_dump(exclude=WORDS_ONLY - {"title"}) for one in load_case.resultant]
            channels += [one.model_dump(exclude=WORDS_ONLY | {"sensor"}) for one in load_case.channel]
            of = self._campaign.scoring
            scoring = (of.repeats, of.measures, self._campaign.settings.as_dict())
            self._how[load_case.name] = f"{rated!r}, {channels!r}, {scoring!r}"
        return self._how[load_case.name]


def release_state(campaign: Campaign, release: Release) -> str:
    """Return the hash of everything that the numbers and limits of a release depend on.

    Parameters
    ----------
    campaign, release
        Whose numbers.

    Returns
    -------
    str
        64 hexadecimal characters: the state of every load case, and what makes one number of their ratings:
        weights, regions, sensors, what is held out, and limits. Text for display does not count.

    Raises
    ------
    FormatError
        A load case names tests that are not there.
    """
    states = InputStates(campaign)
    cases = [
        (
            case.name,
            states.of(release, case),
            case.model_dump(include={"weight", "held_out", "expected_repeats"}),
            [plan.model_dump(include={"region", "sensor", "weight"}) for plan in case.plans],
        )
        for case in campaign.load_cases
    ]
    parts = (cases, campaign.regions, campaign.scoring.model_dump(), campaign.limits.model_dump())
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def state_of_tests(campaign: Campaign, load_case: LoadCase) -> str:
    """Return the hash of the bytes of the tests of a load case, of their names, and of how they are read."""
    hashes = file_hashes(campaign.folder)
    contents = [(name, *_contents(hashes, path)) for name, path in campaign.tests(load_case).items()]
    layout = campaign.test_layout(load_case)
    return hashlib.sha256(repr((contents, *([layout] if layout else []))).encode()).hexdigest()


def contents_of(campaign: Campaign, path: Path) -> tuple[tuple[str, str], ...]:
    """Return name and hash of a file, or of every file of a folder; empty where there is none."""
    return tuple(_contents(file_hashes(campaign.folder), path))


def _contents(hashes: FileHashes, path: Path) -> Iterator[tuple[str, str]]:
    """Yield name and hash of a file, or of every file of a folder; nothing where there is none."""
    for file in files_of(path):
        if file.is_file():
            name = file.relative_to(path).as_posix()
            try:
                yield name, hashes.of(file)
            except OSError:
                yield name, "cannot be read"  # reading it says so too, with the reason
