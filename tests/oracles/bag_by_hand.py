"""A bag compared with its lists by hand, after RFC 8493. Literal; shares no code."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def differences(bag: Path) -> set[str]:
    """Return every file that is changed, missing or not listed; tag manifests and signature aside."""
    listed: dict[str, str] = {}
    for name in ("manifest-sha512.txt", "tagmanifest-sha512.txt"):
        for line in (bag / name).read_text(encoding="utf-8").splitlines():
            digest, path = line.split(maxsplit=1)
            listed[path] = digest
    there = {path.relative_to(bag).as_posix(): path for path in bag.rglob("*") if path.is_file()}
    free = {"tagmanifest-sha512.txt", "signature.json"}
    wrong = {name for name in listed if name not in there}
    wrong |= {name for name in there if name not in listed and name not in free}
    for name in listed.keys() & there.keys():
        if hashlib.sha512(there[name].read_bytes()).hexdigest() != listed[name]:
            wrong.add(name)
    return wrong
