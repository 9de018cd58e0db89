"""The optional parts of an installation, and the sentence that says which one is missing."""

from __future__ import annotations

import sys
from importlib.util import find_spec
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Mapping

EXTRAS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "report": ("plotly", "jinja2", "pypdf"),
        "dashboard": (
            "dash",
            "dash_ag_grid",
            "dash_mantine_components",
            "flask_compress",
            "flask_login",
            "flask_wtf",
            "argon2",
            "cryptography",
            "segno",
            "waitress",
            "plotly",
            "jinja2",
        ),
        "sign-in": ("authlib", "requests", "joserfc"),
        "tuning": ("emcee", "sklearn", "SALib", "threadpoolctl", "jinja2"),
        "share": ("bagit", "cryptography", "plotly", "jinja2"),
        "scale": ("distributed", "dask", "dask_jobqueue", "cryptography"),
        "postgres": ("psycopg",),
        "parquet": ("pyarrow",),
        "object-storage": ("obstore",),
    }
)
"""Modules that each extra of ``pyproject.toml`` brings, beside what every installation has."""


class MissingExtraError(CorrelateError):
    """A part of the program whose libraries are not installed."""


def missing_extra(extra: str, *, what: str = "this command") -> MissingExtraError:
    """Return the error that says which extra to install.

    Examples
    --------
    >>> str(missing_extra("tuning"))
    "this command needs the extra 'tuning': pip install 'correlate[tuning]'"
    """
    return MissingExtraError(f"{what} needs the extra '{extra}': pip install 'correlate[{extra}]'")


def need_extra(extra: str, *, what: str = "this command") -> None:
    """Refuse to go on without the libraries of an extra.

    Parameters
    ----------
    extra
        Name.
    what
        What needs it, as the beginning of a sentence.

    Raises
    ------
    MissingExtraError
        One of its modules is not installed.

    Examples
    --------
    >>> need_extra("share")
    """
    if not all(_is_installed(module) for module in EXTRAS[extra]):
        raise missing_extra(extra, what=what)


def extra_of(error: ModuleNotFoundError) -> str | None:
    """Return the extra that brings a module that was not found.

    Examples
    --------
    >>> extra_of(ModuleNotFoundError("No module named 'bagit'", name="bagit"))
    'share'
    """
    module = (error.name or "").partition(".")[0]
    return next((extra for extra, modules in EXTRAS.items() if module in modules), None)


def _is_installed(module: str) -> bool:
    """Look for a module without importing it."""
    if module in sys.modules:
        return True
    try:
        return find_spec(module) is not None
    except ImportError:
        return False
