"""The public interface: every promised name is there, and asking for it late changes nothing."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING

import pytest

import correlate

if TYPE_CHECKING:
    from pathlib import Path


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


@pytest.mark.parametrize("name", correlate.__all__)
def test_a_path_may_be_a_text(name: str) -> None:
    """No public function insists on a path object where a text names the file as well."""
    value = getattr(correlate, name)
    if inspect.isfunction(value):
        for parameter in inspect.signature(value).parameters.values():
            words = str(parameter.annotation)
            assert "Path" not in words or "str" in words, parameter


def test_a_campaign_is_loaded_by_text_or_path(tmp_path: Path) -> None:
    """The folder as text, as path and the file itself give the same campaign."""
    file = tmp_path / "campaign.toml"
    file.write_text(
        '[campaign]\ntitle = "T"\n[[load_case]]\nname = "a"\ntests = ["a"]\ninterval_ms = [0, 9]\n'
        '[[load_case.channel]]\ntest = "f"\nmodel = "f"\nregion = "head"\n'
        '[[release]]\nname = "R"\nfolder = "r"\n',
        encoding="utf-8",
    )
    campaigns = [correlate.load_campaign(path) for path in (str(tmp_path), tmp_path, str(file), file)]
    assert {one.path for one in campaigns} == {file}
    with pytest.raises(correlate.CorrelateError, match="nowhere"):
        correlate.load_campaign("nowhere")
    with pytest.raises(correlate.CorrelateError, match="nowhere"):
        correlate.load_expectations("nowhere.toml")
    with pytest.raises(correlate.CorrelateError, match="nowhere"):
        correlate.load_waivers("nowhere.toml")
    with pytest.raises(correlate.CorrelateError, match="nowhere"):
        correlate.verify("nowhere.zip")
    with pytest.raises(correlate.CorrelateError, match="nowhere"):
        correlate.tuning_overview("nowhere")
