"""Counts what a page transfers, as the browser counts it: compressed, with the heads of the answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Page


@dataclass(slots=True)
class Loaded:
    """What was transferred.

    Attributes
    ----------
    sizes
        Bytes of every answer, by its address.
    """

    sizes: dict[str, float] = field(default_factory=dict)

    @property
    def bytes(self) -> float:
        """Of all answers."""
        return sum(self.sizes.values())


def watched(page: Page) -> Loaded:
    """Count from now on."""
    loaded, addresses = Loaded(), dict[str, str]()
    network = page.context.new_cdp_session(page)

    def asked(event: dict[str, Any]) -> None:
        addresses[event["requestId"]] = event["request"]["url"]

    def there(event: dict[str, Any]) -> None:
        address = addresses.get(event["requestId"], "")
        # A font that stands in the page comes with the page.
        if not address.startswith("data:"):
            loaded.sizes[address] = loaded.sizes.get(address, 0) + event["encodedDataLength"]

    network.on("Network.requestWillBeSent", asked)
    network.on("Network.loadingFinished", there)
    network.send("Network.enable")
    return loaded
