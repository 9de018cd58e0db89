"""The public interface: every promised name is there, and asking for it late changes nothing."""

from __future__ import annotations

import inspect

import pytest

import correlate


@pytest.mark.parametrize("name", correlate.__all__)
def test_every_public_name_loads_and_is_documented(name: str) -> None:
    """Each name of ``__all__`` can be imported; functions and classes have a docstring."""
    value = getattr(correlate, name)
    if inspect.isfunction(value) or inspect.isclass(value):
        assert inspect.getdoc(value)


def test_an_unknown_name_is_an_attribute_error() -> None:
    """A misspelt name fails as on any module."""
    with pytest.raises(AttributeError, match="no attribute 'ratee'"):
        correlate.ratee  # noqa: B018 - the access is the test
