"""Lines described by a pattern, such as ``output at time {time}*``."""

from __future__ import annotations

import re
from typing import Final

from correlate.formats.columns.cells import number_in

_TIME: Final = "{time}"
_PIECES: Final = re.compile(r"(\{time\}|\*|\?|\s+)")


class LinePattern:
    """A line in which some parts are free.

    Blanks at the ends of line and pattern do not count. A run of blanks fits any run of blanks, ``*`` any
    text, ``?`` one character and ``{time}`` a number, with or without blanks before it, that is not part
    of a longer word; everything else fits itself.

    Parameters
    ----------
    text
        The pattern.
    decimal
        The decimal mark of the number.

    Attributes
    ----------
    times
        How often ``{time}`` is in it.
    is_vague
        Whether free text stands beside ``{time}`` but no word does, so that a row of numbers might fit.

    Examples
    --------
    >>> LinePattern("nodes  at time {time}*").time_in(" nodes at  time 1.5E-3 (cycle 12)")
    0.0015
    >>> LinePattern("nodes at time {time}*").time_in("nodes at no time") is None
    True
    """

    def __init__(self, text: str, decimal: str = ".") -> None:
        pieces = [piece for piece in _PIECES.split(text.strip()) if piece]
        words = [piece for piece in pieces if piece not in {_TIME, "*", "?"} and piece.strip()]
        self.times = pieces.count(_TIME)
        self.is_vague = not any(re.search(r"[^\W\d]|[^\w\s.,+-]", word) for word in words) and bool(
            {"*", "?"} & set(pieces)
        )
        self._decimal = decimal
        # A plain search for one word settles most lines without the regular expression.
        self._word = max(words, key=len, default="")
        self._expression = re.compile(_expression(pieces, re.escape(decimal)))

    def fits(self, line: str) -> bool:
        """Say whether a line looks like this.

        Parameters
        ----------
        line
            The line.

        Returns
        -------
        bool
        """
        return self._word in line and self._expression.fullmatch(line.strip()) is not None

    def time_in(self, line: str) -> float | None:
        """Return the time in a line that looks like this, or None when it does not.

        Parameters
        ----------
        line
            The line.

        Returns
        -------
        float or None
        """
        if self._word not in line:
            return None
        match = self._expression.fullmatch(line.strip())
        return number_in(match["time"], self._decimal) if match else None


def _expression(pieces: list[str], mark: str) -> str:
    parts: list[str] = []
    for index, piece in enumerate(pieces):
        before = pieces[index - 1] if index else ""
        behind = pieces[index + 1] if index + 1 < len(pieces) else ""
        if piece == "*":
            parts.append(".*?")
        elif piece == "?":
            parts.append(".")
        elif piece == _TIME:
            name = "" if _TIME in pieces[:index] else "?P<time>"
            parts.append(rf"{_before_number(before)}({name}{_number(mark)})(?!\w|[.,]\d)")
        elif piece.isspace():
            # Where columns are fixed a sign takes the place of the blank.
            parts.append(r"(?:\s+|(?=[+-]))" if behind == _TIME else r"\s+")
        else:
            parts.append(re.escape(piece))
    return "".join(parts)


def _before_number(before: str) -> str:
    """Keep free text from taking a part of the number: ``*{time}`` does not fit ``1.5.3`` or ``x12``."""
    return r"(?<![\w.,+-])" if before in {"*", "?"} else r"\s*"


def _number(mark: str) -> str:
    return rf"[+-]?(?:[0-9]+(?:{mark}[0-9]*)?|{mark}[0-9]+)(?:[eEdD][+-]?[0-9]+|[+-][0-9]{{3}})?"
