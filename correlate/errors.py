"""Errors a user can act on: what is wrong, where, and what to do about it."""

from __future__ import annotations

import copy
import re
from typing import TYPE_CHECKING, Final

from correlate.addresses import addressed

if TYPE_CHECKING:
    from typing import Self

LONGEST_WORD: Final = 200
"""Characters of a word in a message; a longer one, which stands in a damaged file, is cut short."""


class CorrelateError(Exception):
    """Base of every error this project raises on wrong input.

    Parameters
    ----------
    what
        One clause that says what is wrong.
    where
        File, line, channel or sample, as the reader would look for it. Empty when there is no place.
    remedy
        What the reader can do about it. Empty when nothing can be done.

    Notes
    -----
    All three often quote a file. Characters that a terminal or a page would interpret, such as a line feed,
    are escaped, and a very long word is shortened, so that the message stays one sentence.

    Examples
    --------
    >>> str(CorrelateError("the file is empty", where="run1.csv", remedy="export it again"))
    'run1.csv: the file is empty; export it again'
    """

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        # Only `what`: pickle calls the class with these arguments and restores the rest by name.
        super().__init__(what)
        self.what = _in_one_line(what)
        self.where = _place(where)
        self.remedy = _in_one_line(remedy)

    def __str__(self) -> str:
        """Return the one sentence that is shown to the user."""
        place = f"{self.where}: " if self.where else ""
        advice = f"; {self.remedy}" if self.remedy else ""
        return f"{place}{self.what}{advice}"

    def located(self, where: str) -> Self:
        """Return the same error with the outer place written in front.

        Parameters
        ----------
        where
            The place an outer layer knows, for instance the file around a channel.

        Returns
        -------
        CorrelateError
            Of the class of this one.
        """
        moved = copy.copy(self)
        moved.where = _place(f"{where}, {self.where}" if self.where else where)
        return moved

    def reworded(self, what: str) -> Self:
        """Return the same error with other words for what is wrong; its place and remedy stay."""
        moved = copy.copy(self)
        moved.what = _in_one_line(what)
        return moved

    @property
    def cause(self) -> str:
        """What is wrong and the remedy, without the place: the same for everything that it stops."""
        return "; ".join(part for part in (self.what, self.remedy) if part)


def printable(text: str) -> str:
    r"""Return a text that a terminal shows and does not obey: control characters are written out.

    Examples
    --------
    >>> print(printable("run\x1b[2J.csv"))
    run\x1b[2J.csv
    """
    return "\n".join(map(_written_out, text.split("\n")))


def _written_out(text: str) -> str:
    """Write out what is not printable, line feeds too."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


_LONG_NAME: Final = re.compile(r"([^\s/\\]{255})[^\s/\\]+")
"""Longer than any name in a path may be."""
_LONG_WORD: Final = re.compile(rf"(\S{{{LONGEST_WORD // 2}}})\S{{{LONGEST_WORD // 2},}}")


def _in_one_line(text: str) -> str:
    """Write out what is not printable, and cut very long words short."""
    return _LONG_WORD.sub(r"\1…", _written_out(addressed(text)))


def _place(text: str) -> str:
    """Write out what is not printable, and cut short what is longer than any file name."""
    return _LONG_NAME.sub(r"\1…", _written_out(addressed(text)))


class FormatError(CorrelateError):
    """A file that cannot be read as what it claims to be."""


class UntrustedError(FormatError):
    """A package that is unchanged, but not signed by a key that is trusted."""


class UnfinishedError(FormatError):
    """A result that is still being written, or whose run did not end normally."""


class ChannelError(CorrelateError):
    """A channel that is missing, ambiguous or wrongly named."""


class UnitError(CorrelateError):
    """A unit nobody can parse, or two that cannot be converted."""


class SignalError(CorrelateError):
    """Samples or a time base that the asked computation cannot use."""


class ShortDataError(SignalError):
    """Two curves one of which ends before the interval they are compared over.

    Attributes
    ----------
    is_model
        Whether it is the candidate that ends; the reference otherwise.
    until_s, end_s
        Where its data end and where the interval ends, s.
    """

    is_model: bool = True
    until_s: float = 0.0
    end_s: float = 0.0

    @property
    def cause(self) -> str:
        """Which side ends where."""
        times = f"{self.until_s * 1e3:.4g} ms of {self.end_s * 1e3:.4g} ms"
        return f"the model stopped at {times}" if self.is_model else f"the test ends at {times}"


class NoNumberError(FormatError, SignalError):
    """A value that is not a number: NaN, infinity, or what programs write in place of a number."""


class SettingsError(CorrelateError):
    """A setting outside what it may be."""


class StoreError(CorrelateError):
    """A results store that cannot be opened, read or written, or a rating it cannot keep."""
