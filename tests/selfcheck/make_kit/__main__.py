"""Write the kit of ``correlate selfcheck``: ``python -m tests.selfcheck.make_kit [FOLDER]``.

Nothing here, nor in the literal implementations it calls, imports the package whose results the kit judges.
"""

from __future__ import annotations

import hashlib
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.selfcheck.make_kit import corridors, criteria, filters, rating, windows

if TYPE_CHECKING:
    from collections.abc import Mapping

    from tests.selfcheck.make_kit.sheets import Check, Curve, Value

KIT = Path(__file__).parents[3] / "correlate" / "selfcheck" / "kit"
HASHES = "SHA256SUMS"
HEAD = """\
# What correlate selfcheck computes, and the expected numbers. Written by: python -m tests.selfcheck.make_kit
# Expected numbers: literal second implementations and published values; README.md explains every key.

title = "Kit of correlate selfcheck"
"""


def kit_files() -> dict[str, bytes]:
    """Return the content of every file of the kit by its name."""
    entries = [HEAD]
    files = {"README.md": (Path(__file__).parent / "README.md").read_text(encoding="utf-8")}
    for topic in (rating, filters, criteria, windows, corridors):
        made = topic.sheets()
        files |= {sheet.name: sheet.text() for sheet in made}
        entries += [_entry(check) for check in topic.checks(made)]
    files["kit.toml"] = "\n".join(entries)
    content = {name: text.encode() for name, text in sorted(files.items())}
    lines = [f"{hashlib.sha256(raw).hexdigest()}  {name}\n" for name, raw in content.items()]
    return {**content, HASHES: "".join(lines).encode()}


def _entry(check: Check) -> str:
    lines = ["[[check]]"]
    lines += [f"{key} = {_toml(getattr(check, key))}" for key in ("function", "name")]
    lines += [f"file = {_toml(check.sheet)}", f"source = {_toml(check.source)}"]
    if check.settings:
        lines.append(f"settings = {_toml(check.settings)}")
    for key, rows in (("values", check.values), ("curves", check.curves)):
        if rows:
            lines += [f"{key} = [", *(f"  {_toml(_row(row))}," for row in rows), "]"]
    return "\n".join([*lines, ""])


def _row(row: Value | Curve) -> Mapping[str, Any]:
    what = {"expected": row.value} if hasattr(row, "value") else {"column": row.column}
    return {"quantity": row.quantity, **what, "tolerance": row.tolerance, "unit": row.unit}


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if hasattr(value, "items"):
        return "{ " + ", ".join(f"{key} = {_toml(entry)}" for key, entry in value.items()) + " }"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_toml(entry) for entry in value)}]"
    return f"{value:.12g}"


def main(folder: Path) -> None:
    """Write the files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    for name, raw in kit_files().items():
        (folder / name).write_bytes(raw)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else KIT)
