"""The address that the dashboard prints, which contains its key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, slots=True)
class PrintedAddress:
    """An address as it was printed.

    Attributes
    ----------
    whole
        With the key.
    """

    whole: str

    @classmethod
    def in_lines(cls, lines: Iterable[str], *, before: list[str] | None = None) -> PrintedAddress | None:
        """Read lines of the program until the one with the address; keep those before it."""
        for line in lines:
            if "open http://" in line:
                return cls(line.split("open ")[1].split(" ")[0])
            if before is not None:
                before.append(line)
        return None

    @property
    def origin(self) -> str:
        """Scheme, host and port."""
        parts = urlsplit(self.whole)
        return f"{parts.scheme}://{parts.netloc}"

    @property
    def cookie(self) -> tuple[str, str]:
        """Name and value of the cookie that the key is exchanged for."""
        parts = urlsplit(self.whole)
        return f"correlate-{parts.port}", parse_qs(parts.query)["key"][0]

    @property
    def headers(self) -> dict[str, str]:
        """The cookie as a browser sends it."""
        return {"Cookie": "=".join(self.cookie)}

    @property
    def browser_cookie(self) -> Any:
        """The cookie as a new profile of a browser is given it."""
        name, value = self.cookie
        return {"name": name, "value": value, "url": self.origin, "httpOnly": True, "sameSite": "Strict"}
