"""Roles: each may do what those before it may."""

from __future__ import annotations

import pytest

from dashboard.access import THIS_MACHINE, Account, Role, signs_as


@pytest.mark.parametrize(
    ("role", "allowed"),
    [
        (Role.VIEWER, {"viewer"}),
        (Role.MANAGER, {"viewer", "manager"}),
        (Role.ANALYST, {"viewer", "manager", "analyst"}),
        (Role.LAB, {"viewer", "manager", "analyst", "lab"}),
        (Role.ADMIN, {"viewer", "manager", "analyst", "lab", "admin"}),
    ],
)
def test_a_role_allows_what_the_table_says(role: Role, allowed: set[str]) -> None:
    """The order is viewer, manager, analyst, lab, admin."""
    assert {least.value for least in Role if role.allows(least)} == allowed


def test_the_person_at_the_machine_may_do_everything() -> None:
    """Where there are no accounts nothing is refused."""
    assert all(THIS_MACHINE.role.allows(role) for role in Role)


def test_each_signs_in_its_own_role() -> None:
    """A viewer in none, an admin and the person at the machine in any."""
    signed = {role: signs_as(Account(name="one", role=role)) for role in Role}
    assert signed[Role.VIEWER] == ()
    for role in (Role.MANAGER, Role.ANALYST, Role.LAB):
        assert signed[role] == (role.value,)
    assert signed[Role.ADMIN] == signs_as(THIS_MACHINE) == ("manager", "analyst", "lab")
