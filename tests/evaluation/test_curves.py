"""What a channel measures, as the hints need it."""

from __future__ import annotations

import pytest

from correlate.evaluation.curves import role_of


@pytest.mark.parametrize(
    ("channel", "region", "unit", "role"),
    [
        ("11NECKUP00H3MOYB", "neck", "N·m", "force"),
        ("push", "knee", "kN", "force"),
        ("push", "rig", "kN", "force"),
        ("angle", "head", "deg", "travel"),
        ("11CHST0000H3DSXC", "thorax", "mm", "travel"),
        ("11HEAD0000H3ACXA", "head", "m/s^2", "acceleration"),
        ("00PEND000000ACXP", "thorax", "m/s^2", "rig"),
        ("pendulum", "rig", "g", "rig"),
        ("pendulum", "neck", "g", "acceleration"),
    ],
)
def test_a_channel_is_told_by_its_unit_and_place(channel: str, region: str, unit: str, role: str) -> None:
    """The unit tells travels and accelerations; the code or the region tells the rig from the dummy."""
    assert role_of(channel, region, unit) == role
