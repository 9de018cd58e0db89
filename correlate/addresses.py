"""Addresses of objects, such as ``s3://bucket/tests/T1.csv``, and how local copies of them are named.

A copy is in the cache folder of the user, below ``ADDRESS OF ITS CONTENT/s3/bucket/tests``. Messages, and the
source of a curve, show the address instead of the path of the copy.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from os import PathLike

SCHEMES: Final = ("s3", "gs", "az")
"""Supported beginnings of an address; all are object storage. Web pages and local files are not fetched."""
_MARK: Final = "://"
_SECRET: Final = "addresses contain no user names, keys or queries; set the credentials in the environment"  # noqa: S105 - a sentence
_folder_of_copies: list[re.Pattern[str]] = []


@dataclass(frozen=True, slots=True)
class Address:
    """Address of an object or of a folder of objects.

    Attributes
    ----------
    scheme, bucket
        Kind of storage, and the name of the bucket or container.
    key
        Path in it, without slashes at its ends; empty for the whole bucket.
    """

    scheme: str
    bucket: str
    key: str

    def __str__(self) -> str:
        """Return the address as it is written in a campaign file."""
        return f"{self.scheme}{_MARK}{self.bucket}{f'/{self.key}' if self.key else ''}"

    def with_key(self, key: str) -> Address:
        """Return the address of another object of the bucket."""
        return Address(self.scheme, self.bucket, key)

    def is_within(self, other: Address) -> bool:
        """Tell whether an address is this one or below it."""
        same = (self.scheme, self.bucket) == (other.scheme, other.bucket)
        return same and (not other.key or f"{self.key}/".startswith(f"{other.key}/"))


def is_address(text: str) -> bool:
    """Tell whether an entry of a campaign file is an address and not a path.

    Examples
    --------
    >>> is_address("s3://bucket/tests/*.csv"), is_address("tests/*.csv")
    (True, False)
    """
    return _MARK in text


def address_of(text: str) -> Address:
    """Return the address that a text is.

    Raises
    ------
    ValueError
        The text is no valid address. The message does not repeat secrets in it.

    Examples
    --------
    >>> str(address_of("s3://bucket/tests/"))
    's3://bucket/tests'
    """
    scheme, _, rest = text.partition(_MARK)
    if scheme not in SCHEMES:
        known = ", ".join(f"{one}{_MARK}" for one in SCHEMES)
        raise ValueError(f"this address begins with none of {known}; no others are supported")
    bucket, _, key = rest.rstrip("/").partition("/")
    # A question mark is a wildcard in a pattern of tests; a query has an equals sign after it.
    if "@" in bucket or re.search(r"\?[\w.-]+=", rest):
        raise ValueError(_SECRET)
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{1,62}", bucket):
        raise ValueError(
            f"an address has the form {scheme}{_MARK}BUCKET/PATH, and this one names no valid bucket"
        )
    parts = key.split("/") if key else []
    if any(not is_part(part) for part in parts) or "**" in key:
        raise ValueError(
            "the path of an address contains an empty part, '..', '**' or an unprintable character"
        )
    return Address(scheme, bucket, key)


def is_part(name: str) -> bool:
    """Tell whether a part of a key can be the name of a file."""
    return name not in {"", ".", ".."} and name.isprintable() and not {"\\", ":"} & set(name)


def name_copies(folder: str) -> None:
    """Let copies in a folder be named by their addresses from now on, in this process."""
    kinds = "|".join(SCHEMES)
    pattern = re.compile(rf"{re.escape(folder)}/[0-9a-f]{{32}}/copy/({kinds})/")
    if pattern not in _folder_of_copies:
        _folder_of_copies.append(pattern)


def addressed(text: str | PathLike[str]) -> str:
    """Return a path or a sentence in which copies of objects are named by their addresses."""
    named = str(text)
    for pattern in _folder_of_copies:
        named = pattern.sub(rf"\1{_MARK}", named)
    return named
