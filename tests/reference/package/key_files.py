"""Keys of invented holders for tests."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from correlate.reference.package.keys import load_signer, make_key
from correlate.reference.package.signature import SIGNATURE_FILE, signature_text

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.reference.package.signature import PublicKey

PASSPHRASE = "drop tower, north wall"  # noqa: S105 - opens keys of this test run only
FIRST, LAST = date(2020, 1, 1), date(2099, 12, 31)


def key_pair(
    path: Path,
    *,
    name: str = "test engineer",
    first: date = FIRST,
    last: date = LAST,
    passphrase: str = PASSPHRASE,
) -> PublicKey:
    """Make a key of the invented laboratory."""
    return make_key(
        path,
        name=name,
        organisation="Kelpwick Impact Laboratory",
        valid_from=first,
        valid_until=last,
        passphrase=passphrase,
    )


def sign_again(bag: Path, key: Path, day: date) -> None:
    """Sign a bag in a folder with a key, as on a day."""
    signed = "tagmanifest-sha512.txt"
    moment = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    signer = load_signer(key, PASSPHRASE)
    text = signature_text(signer, (bag / signed).read_bytes(), signs=signed, moment=moment)
    (bag / SIGNATURE_FILE).write_text(text, encoding="utf-8")
