"""Layouts of text files that no format reads, proposed from the files and used for all files like them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from correlate.campaign.channel_words import meaning
from correlate.errors import CorrelateError
from correlate.formats.columns import read_columns_so_far
from correlate.formats.columns.layout_file import LayoutFile
from correlate.formats.columns.proposal import IGNORE, Answers, LayoutProposal, propose_layout
from correlate.formats.columns.unit_system import COMMON_SYSTEMS

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from pathlib import Path

    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout
    from correlate.formats.columns.looking import Look
    from correlate.formats.columns.proposal import Question


def _alike(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Say whether two layouts differ in nothing but the names of their files and the lines passed over."""
    own: dict[str, Any] = {"files": [], "skip_like": []}
    return one | own == other | own


def _kind(look: Look) -> Hashable:
    """Return what is the same in all files that one program writes with the same content."""
    start = look.block.start if look.block else ""
    return (look.separator, look.decimal, start, tuple(column.name for column in look.columns))


def _assumed(question: Question) -> str:
    because = f", because {question.reason}" if question.reason else ""
    return f"{question.text} assumed: {question.proposal or 'left out'}{because}"


class UnknownTexts:
    """Reads text files by layouts that it proposes itself.

    Attributes
    ----------
    tables
        Content of each layout file, by its name.
    questions
        What the files do not say, with the answer that was assumed, by the name of the layout.
    ends
        Line that marks a normal end, by kind of file. A file that was cut off lacks it, so it is learnt from
        the others, and those read earlier are read again with `UnknownTexts(units, ends)`.
    """

    def __init__(self, units: str = "", ends: Mapping[Hashable, str] | None = None) -> None:
        self.units = units
        self.ends: dict[Hashable, str] = dict(ends or {})
        self.tables: dict[str, dict[str, Any]] = {}
        self.questions: dict[str, list[str]] = {}

    @property
    def systems(self) -> list[str]:
        """Unit systems that the times of the files allow."""
        units = {str(table.get("units", "")) for table in self.tables.values()}
        in_ms = any("-ms-" in system for system in units)
        return [system for system in COMMON_SYSTEMS if ("-ms-" in system) == in_ms]

    @property
    def system(self) -> str:
        """Unit system of the files without units; empty where all have units."""
        return next((str(table["units"]) for table in self.tables.values() if "units" in table), "")

    def name_of(self, recording: Recording) -> str:
        """Return the name of the layout that a recording was read by."""
        return str(recording.signals[0].history[0].settings.get("layout", ""))

    def units_of(self, name: str) -> str:
        """Return what is assumed of the units of a layout."""
        units = self.tables[name].get("units", "")
        return f"units {units}" if units else "how its columns are read"

    def read(self, path: Path) -> Recording | None:
        """Read a file as far as it is written, by a known layout or a new one; None where that fails."""
        try:
            look = propose_layout(path)
            proposal = LayoutProposal(look.look, self._answers(look))
            table = proposal.table()
            # Equal columns under another header would be read without complaint, under the wrong names.
            known = next((name for name, other in self.tables.items() if _alike(table, other)), None)
            name = known or self._free_name(path)
            if known is not None:
                passed = [*self.tables[name].get("skip_like", ()), *table.get("skip_like", ())]
                table |= {"skip_like": list(dict.fromkeys(passed))} if passed else {}
            recording = read_columns_so_far(path, LayoutFile.model_validate(table).layout(name))
        except (CorrelateError, ValueError):
            return None
        self.tables[name] = table
        if known is None:
            self.questions[name] = [_assumed(question) for question in proposal.questions]
            if proposal.answers.normal_end:
                end = proposal.answers.normal_end
                self.questions[name].append(
                    f"normal end of a run: '{end}', because it stands behind the rows"
                )
        return recording

    def layout(self, name: str) -> ColumnLayout:
        """Return a layout by its name."""
        return LayoutFile.model_validate(self.tables[name]).layout(name)

    def _free_name(self, path: Path) -> str:
        word = re.match(r"[A-Za-z]+", path.stem)
        name = word[0].lower() if word else "text"
        taken = [name, *(f"{name}-{number}" for number in range(2, 100))]
        return next(one for one in taken if one not in self.tables)

    def _answers(self, proposal: LayoutProposal) -> Answers:
        """Return what the names of columns say; a column whose name says nothing is a plain number."""
        said: dict[str, str] = {}
        for column in proposal.look.columns:
            is_time = proposal.time is not None and column.name == proposal.time.name
            if is_time or column.unit or proposal.unit_of(column) == IGNORE:
                continue
            quantity = meaning(column.name).kind
            said[column.name] = quantity or proposal.guessed_quantity(column) or "1"
        kind = _kind(proposal.look)
        if proposal.likely_end:
            self.ends.setdefault(kind, proposal.likely_end)
        return Answers(columns=said, units=self.units, normal_end=self.ends.get(kind))
