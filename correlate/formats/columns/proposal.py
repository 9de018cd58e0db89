"""A layout proposed for an unknown text file, and what only its owner can say about it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import SettingsError, UnitError
from correlate.formats.columns.looking import look_at, pattern_of
from correlate.formats.columns.unit_system import COMMON_SYSTEMS, QUANTITIES, unit_in
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from correlate.formats.columns.looking import Look, SeenBlock, SeenColumn

IGNORE: Final = "ignore"
"""Answer for a column that is skipped."""
KEY: Final = "key"
"""What the column holds that tells the rows of a block apart."""
NONE: Final = "none"
"""Answer that there is no such thing."""

_WORDS: Final[tuple[tuple[str, str], ...]] = (
    (r"ang\w*[ _-]*acc|rotational acc|alpha|raa", "angular acceleration"),
    (r"ang\w*[ _-]*(vel|rate)|rotational vel|omega|gyro|\brav|\brv[xyz]?\b", "angular velocity"),
    (r"acc|^a[ _-]?[xyz]$|[ _-]a[xyz]$|[ _-]a$", "acceleration"),
    (r"force|load|kraft|^f[ _-]?[xyz]?$|[ _-]f[xyz]?$", "force"),
    (r"moment|torque|^m[ _-]?[xyz]$|[ _-]m[xyz]$", "moment"),
    (r"angle|rotation|tilt|theta|phi|[ _-]r[xyz]$|^r[xyz]$", "angle"),
    (r"disp|defl|travel|compress|elong|stroke|intrusion|length|[ _-][ud][xyz]$|^[ud][xyz]$", "length"),
    (r"vel|speed|^v[ _-]?[xyz]$|[ _-]v[xyz]$", "velocity"),
    (r"stress|pressure", "pressure"),
    (r"energy", "energy"),
    (r"mass", "mass"),
    (r"strain|ratio", "ratio"),
)
"""What words in the name of a column measure (common practice, no source)."""

_MARK_WORDS: Final = re.compile(r"normal|end|complete|finish|success|terminat", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What somebody said about a file; what is left out is not known.

    Attributes
    ----------
    time
        Name of the column of the times.
    units
        Unit system.
    columns
        Unit or quantity, or `IGNORE`, by the name of the column.
    names
        New name by the present one.
    missing
        Cells that stand for no value; None when nothing was said.
    normal_end, normal_end_file
        The line that marks a normal end, or `NONE`, and the file it stands in; None when nothing was said.
    files
        Names of the files that the layout is for.
    """

    time: str = ""
    units: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    missing: tuple[str, ...] | None = None
    normal_end: str | None = None
    normal_end_file: str = ""
    files: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something that a file does not say.

    Attributes
    ----------
    about
        ``"units"``, ``"time"``, ``"missing"``, ``"normal end"``, or the name of a column.
    text
        What is asked.
    proposal
        The likeliest answer; empty when nothing points to one.
    reason
        What points to it.
    """

    about: str
    text: str
    proposal: str
    reason: str = ""


class LayoutProposal:
    """What is known about an unknown text file: from its text, and from answers.

    Parameters
    ----------
    look
        What the file looks like.
    answers
        What was said about it.

    Raises
    ------
    SettingsError
        An answer is about a column that is not there, or the unit system is none.
    """

    def __init__(self, look: Look, answers: Answers) -> None:
        self.look = look
        self.answers = answers
        if answers.units:
            unit_in(answers.units, "length")  # refuses what is no unit system
        known = [column.name for column in look.columns]
        for name in (*answers.columns, *answers.names, *([answers.time] if answers.time else [])):
            if name not in known:
                raise SettingsError(
                    f"there is no column '{name}'",
                    where=str(look.path),
                    remedy=f"it has {', '.join(repr(one) for one in known)}",
                )

    @property
    def time(self) -> SeenColumn | None:
        """The column of the times: the one that was named, or the likeliest; None in a file of blocks."""
        if self.look.block is not None:
            return None
        if self.answers.time:
            return next(column for column in self.look.columns if column.name == self.answers.time)
        return next(iter(self.look.times), None)

    @property
    def time_values(self) -> NDArray[np.float64] | None:
        """The times of rows or blocks; None when there are none."""
        if self.look.block is not None:
            return self.look.block.times
        return None if self.time is None else self.time.values

    @property
    def questions(self) -> tuple[Question, ...]:
        """What the file does not say and nobody has said."""
        return tuple(self._questions())

    def unit_of(self, column: SeenColumn) -> str:
        """Return the unit, the quantity, `IGNORE` or `KEY` of a column; empty when it is not known."""
        if self.look.block is not None and column.name == self.look.block.key:
            return KEY
        said = self.answers.columns.get(column.name)
        if said is not None:
            return said
        if column.unit:
            return column.unit
        return IGNORE if column.is_text else ""

    def guessed_quantity(self, column: SeenColumn) -> str:
        """Return what the name of a column points to; empty when it points to nothing."""
        if self.time is not None and column.name == self.time.name:
            return "time"
        name = column.name.casefold()
        return next((quantity for pattern, quantity in _WORDS if re.search(pattern, name)), "")

    def table(self) -> dict[str, Any]:
        """Return the keys and values of a layout file, with the proposals for what was not said."""
        look, time = self.look, self.time
        words: dict[str, Any] = {"files": list(self.answers.files or [f"*{look.path.suffix}"])}
        units = self.answers.units or self.guessed_system()[0]
        columns = [self._column(column, units) for column in look.columns]
        if look.block is not None or any("quantity" in column for column in columns):
            words["units"] = units
        if look.block is not None:
            words["block"] = self._block(look.block, units)
        elif time is not None:
            words["time"] = self._name(time)
        optional = {
            "separator": look.separator,
            "decimal": "" if look.decimal == "." else look.decimal,
            "skip_lines": look.skip_lines,
            "header": [] if look.block else [" ".join(line.split()) for line in look.header],
            "comment": look.comment,
            "skip_like": [text for text in look.skip_like if text != self.answers.normal_end],
            "missing": list(self.look.missing if self.answers.missing is None else self.answers.missing),
        }
        words |= {key: value for key, value in optional.items() if value}
        if self.answers.normal_end not in {None, NONE}:
            words["normal_end"] = {"text": self.answers.normal_end}
            if self.answers.normal_end_file:
                words["normal_end"]["file"] = self.answers.normal_end_file
        words["columns"] = columns
        return words

    def guessed_system(self) -> tuple[str, str]:
        """Return the unit system that the times point to, and why."""
        times = self.time_values
        if times is None:
            return "", ""
        span = float(np.ptp(times))
        if span > 2:
            return COMMON_SYSTEMS[0], f"times span {span:.4g}, which suggests ms"
        lengths = [one for one in self.look.columns if self.guessed_quantity(one) == "length"]
        if lengths and max(float(np.nanmax(np.abs(one.values))) for one in lengths) > 1:
            return COMMON_SYSTEMS[2], f"times span {span:.4g}, which suggests s, and lengths exceed 1"
        return COMMON_SYSTEMS[1], f"times span {span:.4g}, which suggests s"

    def _questions(self) -> Iterator[Question]:
        if self.time_values is None:
            yield Question(about="time", text="which column contains the times?", proposal="")
            return
        yield from self._question_of_times()
        unknown = [column for column in self.look.columns if not self.unit_of(column)]
        if (unknown or self.look.block) and not self.answers.units:
            proposal, reason = self.guessed_system()
            yield Question(
                about="units",
                text=f"what is the unit system of columns without a unit ({', '.join(COMMON_SYSTEMS)}, ...)?",
                proposal=proposal,
                reason=reason,
            )
        for column in unknown:
            if not self.guessed_quantity(column):
                yield _question_about(column)
        if self.answers.missing is None and self.look.sentinels:
            yield Question(
                about="missing",
                text="which numbers stand for a missing value?",
                proposal=", ".join(self.look.sentinels),
                reason="they are far outside the range of the other values in their column",
            )
        if self.answers.normal_end is None and self.likely_end:
            yield Question(
                about="normal end",
                text=f"which line marks the normal end of a run ({NONE} for no mark)?",
                proposal=self.likely_end,
                reason="it follows the last row",
            )

    @property
    def likely_end(self) -> str:
        """Return the text behind the rows that seems to mark a normal end; empty when none does."""
        found = [line for line in self.look.last_lines if _MARK_WORDS.search(line.replace(" ", ""))]
        return pattern_of(found[-1]) if found else ""

    def _question_of_times(self) -> Iterator[Question]:
        if self.time is None or self.answers.time:
            return
        others = [one for one in self.look.times if one.name != self.time.name]
        if others and others[0].is_called_time == self.time.is_called_time:
            yield Question(
                about="time",
                text="which column contains the times?",
                proposal=self.time.name,
                reason=f"it increases, but so does '{others[0].name}'",
            )

    def _block(self, block: SeenBlock, units: str) -> dict[str, Any]:
        words: dict[str, Any] = {"start": block.start, "time_unit": unit_in(units, "time")}
        if block.skip_lines:
            words["skip_lines"] = block.skip_lines
        if block.key:
            words["key"] = self.answers.names.get(block.key, block.key)
        if block.end is not None:
            words["end"] = block.end
        return words

    def _name(self, column: SeenColumn) -> str:
        return self.answers.names.get(column.name, column.name)

    def _column(self, column: SeenColumn, units: str) -> dict[str, Any]:
        words: dict[str, Any] = {"name": self._name(column)}
        said = self.unit_of(column) or self.guessed_quantity(column)
        if said == KEY:
            pass  # a name, not a number
        elif said == IGNORE or not said:
            words["ignore"] = True
        elif said in QUANTITIES and units:
            words["quantity"] = said
        else:
            words["unit"] = _checked_unit(said, column, self.look)
        if column.characters is not None:
            words["characters"] = list(column.characters)
        return words


def _question_about(column: SeenColumn) -> Question:
    counts = bool(np.array_equal(column.values, column.values[0] + np.arange(column.values.size)))
    return Question(
        about=column.name,
        text=f"what does column '{column.name}' contain (a quantity, a unit, or {IGNORE})?",
        proposal=IGNORE if counts else "",
        reason="it counts the rows" if counts else f"Quantities: {', '.join(QUANTITIES)}.",
    )


def _checked_unit(text: str, column: SeenColumn, look: Look) -> str:
    try:
        parse_unit(text)
    except UnitError as error:
        raise SettingsError(
            f"'{text}' is neither a unit nor a quantity",
            where=f"{look.path}, column '{column.name}'",
            remedy=f"write a unit such as kN, one of {', '.join(QUANTITIES)}, or {IGNORE}",
        ) from error
    return text


def propose_layout(path: Path, answers: Answers | None = None) -> LayoutProposal:
    """Look at an unknown text file and propose a layout.

    Parameters
    ----------
    path
        The file.
    answers
        What is known about it.

    Returns
    -------
    LayoutProposal

    Raises
    ------
    FormatError
        It cannot be opened, is no text, or has no rows of numbers below each other.
    SettingsError
        An answer is about a column that is not there.
    """
    return LayoutProposal(look_at(path), answers or Answers())
