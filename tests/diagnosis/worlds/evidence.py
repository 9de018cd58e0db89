"""Cases of a world as the hints read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.diagnosis.hints.evidence import EvidenceChannel, Role
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from tests.diagnosis.worlds.cases import WorldCase, WorldChannel

OF_RIG: Final = frozenset(
    {"impactor_acceleration", "pendulum_acceleration", "sled_acceleration", "rig_acceleration"}
)
ROLES: Final[dict[str, Role]] = {
    "acceleration": "acceleration",
    "force": "force",
    "moment": "force",
    "displacement": "travel",
    "angle": "travel",
}


def role_of(channel: WorldChannel) -> Role:
    """Say what a channel measures."""
    return "rig" if channel.name in OF_RIG else ROLES[channel.quantity]


def channels_of(case: WorldCase) -> list[EvidenceChannel]:
    """Return all channels of all load cases, the model against the mean of the repeats."""
    return [
        EvidenceChannel(
            name=channel.name,
            load_case=load_case.name,
            role=role_of(channel),
            pair=AlignedPair(
                time=load_case.time, reference=channel.tests.mean(axis=0), candidate=channel.model
            ),
        )
        for load_case in case.load_cases
        for channel in load_case.channels
    ]
