"""What all tables of a file share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from pydantic import BaseModel, ConfigDict, Field

from correlate.display import short_text
from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Callable

Name = Annotated[str, Field(min_length=1, pattern=r"^[\w.+-]+$")]
"""A short name, as in commands."""


class Table(BaseModel):
    """A table of the file: unknown keys are mistakes, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def __repr__(self) -> str:
        """Return the first keys in one line, long values by their size."""
        return short_text(self)

    __str__ = __repr__


def speak_up(check: Callable[[], object]) -> None:
    """Run a check of a lower room and pass its sentence on to the validator.

    Parameters
    ----------
    check
        Raises a `CorrelateError` where something is wrong.

    Raises
    ------
    ValueError
        With the sentence of the check.
    """
    try:
        check()
    except CorrelateError as error:
        raise ValueError("; ".join(part for part in (error.what, error.remedy) if part)) from error
