"""What is selected, as the address says it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypeVar
from urllib.parse import parse_qsl, urlencode

from correlate import CorrelateError, case_pairs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from correlate import Campaign, CampaignPair, LoadCase, Recipe


SHARED: Final = ("release", "against", "case", "channel")
"""Keys of the one selection that every page shares: each page keeps those that mean nothing to it."""


def read_query(search: str | None, keys: Iterable[str]) -> dict[str, str]:
    """Return what a query says of some keys; others are left alone.

    Examples
    --------
    >>> read_query("?release=A3&utm=mail", ["release", "against"])
    {'release': 'A3', 'against': ''}
    """
    given = dict(parse_qsl((search or "").removeprefix("?")))
    return {key: given.get(key, "") for key in keys}


def write_query(values: Mapping[str, str], search: str | None = None) -> str:
    """Return the query that says what is not empty, and of all other keys what another query says.

    Examples
    --------
    >>> write_query({"release": "A3", "against": ""})
    '?release=A3'
    >>> write_query({"case": "sled", "channel": ""}, "?release=A3&channel=chest")
    '?case=sled&release=A3'
    """
    given = parse_qsl((search or "").removeprefix("?"))
    kept = [(key, text) for key, text in given if key not in values]
    return "?" + urlencode([*((key, text) for key, text in values.items() if text), *kept])


def file_name(names: Iterable[str]) -> str:
    """Return names as the name of a file: letters, digits and what no file system minds.

    Examples
    --------
    >>> file_name(["drop", "head <x>", "A1"])
    'drop-head__x_-A1'
    """
    text = "-".join(names)
    return "".join(letter if letter.isalnum() or letter in "-_." else "_" for letter in text)[:120]


NO_FILTER: Final = "none"
"""How the URL and the menus write that nothing is filtered."""

_KEYS: Final[dict[str, str]] = {
    "release": "release",
    "case": "case",
    "repeat": "repeat",
    "channel": "channel",
    "cfc": "cfc",
    "start_ms": "from",
    "end_ms": "to",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """The state of the page. An empty text stands for what `selected` says, or for what the campaign says.

    Attributes
    ----------
    release, case
        Names.
    repeat
        Name of a test; empty for the mean of the repeats.
    channel
        Name of the channel in the test.
    cfc
        Channel frequency class, or ``none``.
    start_ms, end_ms
        Interval of evaluation, in ms.
    """

    release: str = ""
    case: str = ""
    repeat: str = ""
    channel: str = ""
    cfc: str = ""
    start_ms: str = ""
    end_ms: str = ""

    @classmethod
    def from_search(cls, search: str | None) -> Address:
        """Read the query of a URL; keys it does not know are left alone.

        Examples
        --------
        >>> Address.from_search("?release=A1&from=5").start_ms
        '5'
        """
        given = dict(parse_qsl((search or "").removeprefix("?")))
        return cls(**{name: given.get(key, "") for name, key in _KEYS.items()})

    def as_search(self) -> str:
        """Return the query that leads back here.

        Examples
        --------
        >>> Address(release="A1", case="head-drop", end_ms="20").as_search()
        '?release=A1&case=head-drop&to=20'
        """
        given = {key: getattr(self, name) for name, key in _KEYS.items()}
        return "?" + urlencode({key: text for key, text in given.items() if text})


Number = TypeVar("Number", int, float)


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """What an address leads to.

    Attributes
    ----------
    pairs
        Of the channel, named but not read: with the repeat that the address names, or with each of them.
    repeat
        The only one that is shown; empty for all of them and their mean.
    recipe
        How it is conditioned: as in the campaign but for what the address changes.
    address
        That led here.
    """

    pairs: tuple[CampaignPair, ...]
    repeat: str
    recipe: Recipe
    address: Address

    @property
    def pair(self) -> CampaignPair:
        """The first pair: all have release, load case and channel in common."""
        return self.pairs[0]

    @property
    def repeat_words(self) -> str:
        """What the model is compared with, in words."""
        return self.pair.repeat_words if len(self.pairs) == 1 else f"each of {len(self.pairs)} repeats"

    @property
    def paths(self) -> tuple[Path, ...]:
        """Files of the tests and of the model."""
        tests = (path for pair in self.pairs for path in pair.test_paths)
        return (*tests, self.pair.model_path)

    def change(self, recipe: Recipe) -> Recipe:
        """Return a planned recipe with the filter and the interval of the address."""
        return changed_recipe(recipe, self.address)


def selected(campaign: Campaign, address: Address) -> Selection:
    """Look up what an address names.

    What it leaves open is the last release, the first load case and channel, and every repeat.
    """
    load_case = campaign.load_case(address.case) if address.case else campaign.load_cases[0]
    release = campaign.release(address.release) if address.release else campaign.releases[-1]
    pairs = list(case_pairs(campaign, release, load_case))
    of_channel = _fitting(pairs, _channel_of, address.channel, word="channel", load_case=load_case)
    # Where the mean of the repeats is the reference there is one pair a channel, whatever it is called.
    name = "" if campaign.scoring.repeats == "mean curve" else address.repeat
    of_first = [pair for pair in of_channel if pair.channel == of_channel[0].channel]
    found = tuple(_fitting(of_first, _repeat_of, name, word="repeat", load_case=load_case))
    recipe = changed_recipe(found[0].recipe, address)
    return Selection(pairs=found, repeat=name, recipe=recipe, address=address)


def changed_recipe(recipe: Recipe, address: Address) -> Recipe:
    """Return a recipe with the filter and the interval of an address in their place."""
    if address.cfc == NO_FILTER:
        recipe = replace(recipe, cfc=None)
    elif address.cfc:
        recipe = replace(recipe, cfc=_read(int, address.cfc, key="cfc"))
    start_s = _read(_time_ms, address.start_ms, key="from") / 1e3 if address.start_ms else recipe.start_s
    end_s = _read(_time_ms, address.end_ms, key="to") / 1e3 if address.end_ms else recipe.end_s
    return replace(recipe, start_s=start_s, end_s=end_s)


def without_repetition(campaign: Campaign, address: Address) -> Address:
    """Leave out of an address what the campaign says anyway."""
    pair = selected(campaign, replace(address, cfc="", start_ms="", end_ms="")).pair
    plain = as_in_campaign(pair.load_case, pair.recipe)
    repeated = {name: "" for name, text in plain.items() if getattr(address, name) == text}
    return replace(address, **repeated)


def as_in_campaign(load_case: LoadCase, recipe: Recipe) -> dict[str, str]:
    """Return filter and interval of the campaign as an address would write them."""
    start_ms, end_ms = load_case.interval_ms
    cfc = NO_FILTER if recipe.cfc is None else str(recipe.cfc)
    return {"cfc": cfc, "start_ms": number_text(start_ms), "end_ms": number_text(end_ms)}


def number_text(value: float) -> str:
    """Return a number as an address writes it.

    Examples
    --------
    >>> number_text(20.0), number_text(0.25)
    ('20', '0.25')
    """
    return f"{value:.12g}"


def _channel_of(pair: CampaignPair) -> str:
    return pair.channel.name


def _repeat_of(pair: CampaignPair) -> str:
    return pair.repeat


def _fitting(
    pairs: list[CampaignPair],
    name_of: Callable[[CampaignPair], str],
    name: str,
    *,
    word: str,
    load_case: LoadCase,
) -> list[CampaignPair]:
    """Return the pairs of a name, all of them where none is given."""
    found = [pair for pair in pairs if not name or name_of(pair) == name]
    if not found:
        known = ", ".join(dict.fromkeys(name_of(pair) for pair in pairs))
        raise CorrelateError(
            f"there is no {word} '{name}'", where=f"load case '{load_case.name}'", remedy=f"it has {known}"
        )
    return found


_LONGEST_MS: Final = 1e9
"""Of an address; no test takes a day."""


def _time_ms(text: str) -> float:
    value = float(text)
    if not abs(value) <= _LONGEST_MS:
        raise ValueError
    return value


def _read(kind: Callable[[str], Number], text: str, *, key: str) -> Number:
    try:
        return kind(text)
    except ValueError:
        raise CorrelateError(
            f"'{text}' is not a valid number",
            where=f"'{key}' in the address",
            remedy="correct it, or omit it to use the campaign setting",
        ) from None
