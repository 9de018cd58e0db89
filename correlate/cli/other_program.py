"""Run a command as a separate program, which is never imported here."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from collections.abc import Sequence


def become(module: str, arguments: Sequence[str]) -> NoReturn:
    """Replace this process by another program, so that signals reach it and nothing is left behind.

    Parameters
    ----------
    module
        Run as ``python -P -m MODULE``: a package in the working folder is never run in its place.
    arguments
        Of the program, as they were typed.
    """
    os.execv(sys.executable, [sys.executable, "-P", "-m", module, *arguments])  # noqa: S606 - our own module
