"""Device sizes: their constants, limits and filter classes against the published text."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from correlate.criteria import CRITERIA, devices, find_device
from correlate.errors import SettingsError

TEXT = (Path(__file__).parent.parent / "published" / "criteria" / "regulations.toml").read_text(
    encoding="utf-8"
)
PUBLISHED = tomllib.loads(TEXT)
ROWS = {row.name: row for row in CRITERIA}


@pytest.mark.parametrize("case", PUBLISHED["limit"], ids=lambda case: case["section"])
def test_limits_that_are_called_checked_are_those_of_the_text(case: dict[str, object]) -> None:
    """Each stands under its section, and only what is quoted is called checked."""
    limits = find_device(str(case["device"])).limits_of(str(case["criterion"]))
    (found,) = [limit for limit in limits if str(case["section"]) in limit.source]
    assert found.at_most == case["at_most"]
    assert found.source.endswith("checked against the published text")


def test_every_checked_limit_is_quoted() -> None:
    """A limit without a quotation is from memory."""
    quoted = {(case["device"], case["criterion"], case["at_most"]) for case in PUBLISHED["limit"]}
    for device in devices():
        for limit in device.limits:
            if limit.source.endswith("checked against the published text"):
                assert (device.name, limit.criterion, limit.at_most) in quoted
            else:
                assert limit.source.endswith("from memory")


@pytest.mark.parametrize("case", PUBLISHED["lever"], ids=lambda case: case["section"])
def test_the_lever_of_the_occipital_condyle_is_a_constant_of_the_device(case: dict[str, object]) -> None:
    """The infant's is a third of the adult's."""
    device = find_device(str(case["device"]))
    assert device.occipital_lever_m == case["lever_m"]
    assert f"occipital lever: 49 CFR {case['section']}, checked against the published text" in device.source


def test_the_load_cell_of_the_three_year_old_is_at_the_condyle() -> None:
    """Its lever is zero, from memory."""
    device = find_device("3 years")
    assert device.occipital_lever_m == 0.0
    assert "occipital lever: SAE J1733, from memory" in device.source


@pytest.mark.parametrize("case", PUBLISHED["class"], ids=lambda case: case["section"])
def test_filter_classes_are_those_of_the_regulation_of_the_device(case: dict[str, object]) -> None:
    """The class of the device, or that of the table where the device has none."""
    name = str(case["criterion"])
    assert find_device(str(case["device"])).classes.get(name, ROWS[name].cfc) == case["cfc"]


def test_classes_and_limits_name_criteria_of_the_table() -> None:
    """Every limit is of a criterion that is computed, above zero, and has an edition."""
    for device in devices():
        assert set(device.classes) | set(device.duration_limits) <= set(ROWS)
        for limit in device.limits:
            assert limit.criterion in ROWS
            assert limit.at_most > 0
            assert limit.edition
    assert [limit.at_most for limit in find_device("adult male").limits_of("HIC36")] == [1000.0, 1000.0]


def test_smaller_devices_have_smaller_intercepts() -> None:
    """From the adult male to the infant every intercept falls, or stays."""
    sizes = ["adult male, 50th", "adult female, 5th", "6 years", "3 years", "infant"]
    necks = [find_device(size).neck for size in sizes]
    for name in ("tension_N", "compression_N", "flexion_Nm", "extension_Nm"):
        values = [getattr(neck, name) for neck in necks]
        assert values == sorted(values, reverse=True)


def test_a_device_that_fits_none_or_several_is_refused() -> None:
    """The message lists what there is."""
    with pytest.raises(SettingsError, match="no device 'elephant'; choose one of 'adult male, 50th"):
        find_device("elephant")
    with pytest.raises(SettingsError, match="'child' fits several devices; choose one of 'child, 6"):
        find_device("child")
