"""Names that are loaded when they are first asked for: those of a package, and the work of upper layers.

A signal can be cut and drawn, and both are the work of upper layers, which it does not import:
``correlate/__init__.py`` registers here who does it.
"""

from __future__ import annotations

import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

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
            from correlate.extras import extra_of, missing_extra  # noqa: PLC0415 - rarely needed

            extra = extra_of(error)
            if extra is None:
                raise
            raise missing_extra(extra, what=f"{package}.{name}") from error
        setattr(sys.modules[package], name, value)
        return value

    return load


_ABOVE: dict[str, str] = {}
"""From what an object asks of an upper layer to the module that does it; filled by the package itself."""


def register(**modules: str) -> None:
    """Say which module of an upper layer does what an object of a lower one offers.

    Parameters
    ----------
    **modules
        From the name of a function to the module it is in, which is imported when it is first needed.
    """
    _ABOVE.update(modules)


def by_upper_layer(function: str) -> Callable[..., Any]:
    """Return a registered function."""
    found: Callable[..., Any] = getattr(import_module(_ABOVE[function]), function)
    return found
