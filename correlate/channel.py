"""The 16-character channel codes of ISO/TS 13499 (field table quoted from memory of the open standard)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from correlate.errors import ChannelError

CODE_LENGTH: Final = 16

PHYSICAL_DIMENSIONS: Final[dict[str, str]] = {
    "AC": "acceleration",
    "AA": "angular acceleration",
    "AV": "angular velocity",
    "AN": "angle",
    "FO": "force",
    "MO": "moment",
    "DS": "displacement",
    "VE": "velocity",
    "TI": "time",
    "PR": "pressure",
}

MAIN_LOCATIONS: Final[dict[str, str]] = {
    "HEAD": "head",
    "NECK": "neck",
    "CHST": "chest",
    "THSP": "thoracic spine",
    "LUSP": "lumbar spine",
    "PELV": "pelvis",
    "FEMR": "femur",
    "KNEE": "knee",
    "TIBI": "tibia",
    "SEAT": "seat",
    "PEND": "pendulum",
}


@dataclass(frozen=True, slots=True)
class ChannelCode:
    """One 16-character code, split into its fields.

    Parameters
    ----------
    text
        The 16 characters.

    Raises
    ------
    ChannelError
        The text is not 16 letters, digits or question marks.

    Examples
    --------
    >>> code = ChannelCode("D0HEAD0000KMACXP")
    >>> code.main_location, code.dimension, code.direction, code.is_known
    ('HEAD', 'AC', 'X', True)
    >>> code.describe()
    'head acceleration X'
    """

    text: str

    def __post_init__(self) -> None:
        """Refuse what is not a code."""
        if len(self.text) != CODE_LENGTH:
            raise ChannelError(
                f"the channel code '{self.text}' has {len(self.text)} characters",
                remedy="a code has 16, for instance D0HEAD0000KMACXP",
            )
        if not _has_form(self.text):
            raise ChannelError(
                f"the channel code '{self.text}' contains a character that is not a letter, digit or '?'",
                remedy="correct the code",
            )

    @property
    def test_object(self) -> str:
        """Position 1."""
        return self.text[0]

    @property
    def position(self) -> str:
        """Position 2."""
        return self.text[1]

    @property
    def main_location(self) -> str:
        """Positions 3 to 6."""
        return self.text[2:6]

    @property
    def fine_locations(self) -> tuple[str, str, str]:
        """Positions 7–8, 9–10 and 11–12; the last names the dummy type."""
        return self.text[6:8], self.text[8:10], self.text[10:12]

    @property
    def dimension(self) -> str:
        """Positions 13 and 14, the physical dimension."""
        return self.text[12:14]

    @property
    def direction(self) -> str:
        """Position 15."""
        return self.text[14]

    @property
    def filter_letter(self) -> str:
        """Position 16."""
        return self.text[15]

    @property
    def is_known(self) -> bool:
        """Whether the physical dimension is in the table."""
        return self.dimension in PHYSICAL_DIMENSIONS

    @property
    def sensor(self) -> str:
        """The code without direction and filter: equal for the axes of one sensor."""
        return self.text[:14]

    def describe(self) -> str:
        """Return the code in words."""
        location = MAIN_LOCATIONS.get(self.main_location, self.main_location)
        fine = [self.text[start : start + 2] for start in (6, 8)]
        where = {"UP": "upper ", "LO": "lower ", "LE": "left ", "RI": "right "}
        prefix = "".join(where.get(part, "") for part in fine)
        dimension = PHYSICAL_DIMENSIONS.get(self.dimension, self.dimension)
        direction = {"0": "", "R": " resultant"}.get(self.direction, f" {self.direction}")
        return f"{prefix}{location} {dimension}{direction}"


def is_channel_code(text: str) -> bool:
    """Say whether a text can be read as a channel code.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    bool
        True when it has the form of a code and a physical dimension of the table.
    """
    return _has_form(text) and ChannelCode(text).is_known


def _has_form(text: str) -> bool:
    return len(text) == CODE_LENGTH and text.isascii() and text.replace("?", "0").isalnum()


def quantity_of(text: str) -> str:
    """Return the physical quantity in a channel code, as ``force``; empty for what is no code.

    Examples
    --------
    >>> quantity_of("D0FEMRLE00KMFOZP"), quantity_of("probe force")
    ('force', '')
    """
    return PHYSICAL_DIMENSIONS[ChannelCode(text).dimension] if is_channel_code(text) else ""


def fits(channel: str, pattern: str) -> bool:
    """Tell whether a channel code matches a pattern.

    Parameters
    ----------
    channel
        Name of a channel; a name that is not a code matches no pattern.
    pattern
        A code or the beginning of one; ``?`` stands for any character.

    Returns
    -------
    bool

    Examples
    --------
    >>> fits("D0HEAD0000KMACXP", "??HEAD??????ACX?"), fits("head ax", "??HEAD??????ACX?")
    (True, False)
    """
    if not is_channel_code(channel):
        return False
    return all(mark in {"?", other} for mark, other in zip(pattern, channel, strict=False))


@lru_cache(maxsize=4096)
def spelt_out(name: str) -> str:
    """Return a channel code in words, and any other name unchanged.

    Cached, because results ask for the same names for every release.

    Parameters
    ----------
    name
        Any text.

    Returns
    -------
    str

    Examples
    --------
    >>> spelt_out("D0HEAD0000KMACXP"), spelt_out("push rod")
    ('head acceleration X', 'push rod')
    """
    return ChannelCode(name).describe() if is_channel_code(name) else name
