"""The deck of a design point: a template with its fields filled in, or a table of values."""

from __future__ import annotations

import csv
import hashlib
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from jinja2 import Environment, StrictUndefined, TemplateError, TemplateSyntaxError, meta

from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from correlate.tuning.definition import Tuning


@dataclass(frozen=True, slots=True)
class Deck:
    """The deck of one design point.

    Attributes
    ----------
    text
        What is written.
    sha256
        Of the text in UTF-8.
    """

    text: str

    @property
    def sha256(self) -> str:
        """Hash that tells one deck from another, 64 hexadecimal characters."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()


class DeckWriter:
    """Writes the decks of a tuning project.

    Parameters
    ----------
    tuning
        The project.

    Raises
    ------
    FormatError
        The template cannot be read or understood, names a field that is no parameter, or leaves one out.
    """

    def __init__(self, tuning: Tuning) -> None:
        self._space = tuning.space
        self._template = None
        if tuning.deck.way == "template":
            path = tuning.folder / tuning.deck.template
            self._where = str(path)
            # A deck is no web page: escaping would spoil it.
            self._environment = Environment(
                undefined=StrictUndefined,
                keep_trailing_newline=True,
                autoescape=False,  # noqa: S701
            )
            self._template = self._environment.from_string(self._checked(path))

    def write(self, values: Mapping[str, float], *, name: str) -> Deck:
        """Write the deck of one point.

        Parameters
        ----------
        values
            Of the parameters, by name.
        name
            Of the design point, for the field ``point``.

        Returns
        -------
        Deck

        Raises
        ------
        FormatError
            The template cannot be filled in.
        """
        if self._template is None:
            return Deck(self._as_table(values))
        try:
            return Deck(self._template.render(**values, point=name))
        except (TemplateError, TypeError, ValueError, ArithmeticError) as error:
            raise FormatError(
                f"the template cannot be filled in: {error}", where=self._where, remedy="correct the field"
            ) from error

    def _as_table(self, values: Mapping[str, float]) -> str:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["parameter", "value", "unit"])
        writer.writerows([one.name, repr(values[one.name]), one.unit] for one in self._space.parameters)
        return out.getvalue()

    def _checked(self, path: Path) -> str:
        try:
            text = path.read_text(encoding="utf-8")
            fields = meta.find_undeclared_variables(self._environment.parse(text))
        except (OSError, UnicodeDecodeError) as error:
            reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
            raise FormatError(
                f"the template cannot be read ({reason})", where=self._where, remedy="check the file"
            ) from error
        except TemplateSyntaxError as error:
            raise FormatError(
                f"the template has a mistake: {error.message}",
                where=f"{self._where}, line {error.lineno}",
                remedy="write fields as {{ name }}",
            ) from error
        strange = sorted(fields - {*self._space.names, "point"})
        missing = [name for name in self._space.names if name not in fields]
        found = [f"field '{name}' is not a parameter" for name in strange]
        found += [f"parameter '{name}' has no field" for name in missing]
        if found:
            raise FormatError(
                "; ".join(found),
                where=self._where,
                remedy=f"the parameters are {', '.join(self._space.names)}",
            )
        return text
