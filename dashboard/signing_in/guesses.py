"""Attempts to sign in, counted before they are checked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from flask import request

from dashboard.signing_in.devices import device_of, remember_device

if TYPE_CHECKING:
    from dashboard.accounts import Attempt, KnownDevices, Throttle


@dataclass(frozen=True, slots=True, kw_only=True)
class Guesses:
    """Counts the attempts of the browser behind the present request.

    Attributes
    ----------
    throttle
        The limit.
    devices
        Browsers that accounts know.
    """

    throttle: Throttle
    devices: KnownDevices

    def begin(self, name: str) -> Attempt:
        """Count an attempt for a name before it is checked."""
        return self.throttle.begin(name, request.remote_addr or "", device=device_of(self.devices, name))

    def give_back(self, attempt: Attempt) -> None:
        """Take back an attempt that was right, if another step follows."""
        self.throttle.give_back(attempt)

    def succeeded(self, attempt: Attempt) -> None:
        """Forget the failures, and recognize the browser from now on."""
        self.throttle.succeeded(attempt)
        remember_device(self.devices, attempt.name)
