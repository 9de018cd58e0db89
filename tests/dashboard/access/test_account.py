"""Roles: each may do what those before it may."""

from __future__ import annotations

import pytest

from dashboard.access import THIS_MACHINE, Role


@pytest.mark.parametrize(
    ("role", "allowed"),
    [
        (Role.VIEWER, {"viewer"}),
        (Role.ANALYST, {"viewer", "analyst"}),
        (Role.LAB, {"viewer", "analyst", "lab"}),
        (Role.ADMIN, {"viewer", "analyst", "lab", "admin"}),
    ],
)
def test_a_role_allows_what_the_table_says(role: Role, allowed: set[str]) -> None:
    """The order is viewer, analyst, lab, admin."""
    assert {least.value for least in Role if role.allows(least)} == allowed


def test_the_person_at_the_machine_may_do_everything() -> None:
    """Where there are no accounts nothing is refused."""
    assert all(THIS_MACHINE.role.allows(role) for role in Role)
