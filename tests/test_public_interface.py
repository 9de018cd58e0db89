"""The interface: every name is there, few of them are promised, and asking for one late changes nothing."""

from __future__ import annotations

import inspect
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

import pytest

import correlate
from correlate import plots

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType


NAMES = [*correlate._STABLE, *correlate._OTHERS]


@pytest.mark.parametrize("name", NAMES)
def test_every_public_name_loads_and_is_documented(name: str) -> None:
    """Each name can be imported; functions and classes have a docstring."""
    value = getattr(correlate, name)
    if inspect.isfunction(value) or inspect.isclass(value):
        assert inspect.getdoc(value)


def test_about_forty_names_are_stable_and_listed() -> None:
    """A star import and completion give the stable names alone; no name is in both tables."""
    assert 35 <= len(correlate._STABLE) <= 45
    assert dir(correlate) == sorted(["__version__", *correlate._STABLE])
    assert sorted(correlate.__all__) == dir(correlate)
    assert not set(correlate._STABLE) & set(correlate._OTHERS)


@pytest.mark.parametrize("package", [correlate, plots], ids=lambda one: one.__name__)
def test_a_name_that_is_a_module_too_is_not_loaded_late(package: ModuleType) -> None:
    """Importing the module would take the place of the function, so it is there from the beginning."""
    modules = {found.name for found in iter_modules(package.__path__)}
    for name in modules & set(package.__all__):
        import_module(f"{package.__name__}.{name}")
        assert not inspect.ismodule(getattr(package, name)), name
    assert not modules & {*correlate._STABLE, *correlate._OTHERS} or package is not correlate


def test_every_stable_function_and_class_is_explained_in_full() -> None:
    """Functions have parameters, result and an example or a page; classes have their attributes."""
    for name in correlate._STABLE:
        value = getattr(correlate, name)
        words = inspect.getdoc(value) or ""
        if inspect.isfunction(value):
            assert "Parameters\n----------" in words, name
            assert "Returns\n-------" in words, name
        elif inspect.isclass(value):
            assert "Attributes\n----------" in words or "Parameters\n----------" in words, name


def test_an_unknown_name_is_an_attribute_error() -> None:
    """A misspelt name fails as on any module."""
    with pytest.raises(AttributeError, match="no attribute 'ratee'"):
        correlate.ratee  # noqa: B018 - the access is the test


@pytest.mark.parametrize("name", NAMES)
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
