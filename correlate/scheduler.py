"""A Dask scheduler that is there already: how every engine that uses one connects to it."""

from __future__ import annotations

from contextlib import contextmanager
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterator

PATIENCE_S: Final = 10
"""How long a scheduler may take to answer. Chosen here."""


@contextmanager
def scheduler_client(address: str) -> Iterator[Any]:
    """Connect to a scheduler.

    Parameters
    ----------
    address
        Such as ``tcp://10.0.0.1:8786``.

    Yields
    ------
    distributed.Client
        Closed at the end.

    Raises
    ------
    SettingsError
        The library is not installed, or nothing answers.
    """
    try:
        distributed: Any = import_module("distributed")  # slow, and an extra
    except ImportError as error:
        raise SettingsError(
            "the engine 'dask' needs a library that is not installed",
            remedy="install the extra 'scale', or use the engine 'local'",
        ) from error
    try:
        client = distributed.Client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise SettingsError(
            f"no scheduler answers at {address}", remedy="start it, and give its address with --scheduler"
        ) from error
    with client:
        yield client
