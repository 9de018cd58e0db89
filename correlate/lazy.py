"""Names of a package that are loaded when they are first asked for."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import TYPE_CHECKING

from correlate.extras import extra_of, missing_extra

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


def loader(package: str, homes: Mapping[str, str]) -> Callable[[str], object]:
    """Return the ``__getattr__`` of a package.

    Parameters
    ----------
    package
        Its ``__name__``.
    homes
        From each name to the module it lives in.

    Returns
    -------
    callable
        It imports the module, keeps the value in the package, raises `AttributeError` for other names, and
        `MissingExtraError` where the module needs an extra that is not installed.
    """

    def load(name: str) -> object:
        if name not in homes:
            raise AttributeError(f"module '{package}' has no attribute {name!r}")
        try:
            value = getattr(import_module(homes[name]), name)
        except ModuleNotFoundError as error:
            extra = extra_of(error)
            if extra is None:
                raise
            raise missing_extra(extra, what=f"{package}.{name}") from error
        setattr(sys.modules[package], name, value)
        return value

    return load
