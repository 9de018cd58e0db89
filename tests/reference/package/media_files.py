"""Small photos and films for tests: only their first bytes are those of the type."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF" + bytes(40)
MP4 = b"\x00\x00\x00\x18ftypisom" + bytes(5000)
WEBM = b"\x1a\x45\xdf\xa3" + bytes(60)
PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c636060600000000400012734270a0000000049454e44ae426082"
)
"""One black dot, a whole file; written by hand after the PNG specification (from memory)."""

WORDS = """
title = "Drops"

[[media]]
file = "films/left.mp4"
test = "T1"
shows = "head and plate at the first contact"
view = "left, at right angles to the plane of motion"
frame_rate_per_s = 1000
time_zero_frame = 120

[[media]]
file = "films/front.webm"
test = "T2"
shows = "the fall"
frame_rate_per_s = 2000
time_zero_s = 4.8

[[media]]
file = "rig.png"
shows = "the drop tower"
"""


def write_words(folder: Path, words: str = WORDS) -> Path:
    """Write a description of a package with its photos and films beside it."""
    (folder / "films").mkdir(parents=True)
    (folder / "films" / "left.mp4").write_bytes(MP4)
    (folder / "films" / "front.webm").write_bytes(WEBM)
    (folder / "rig.png").write_bytes(PNG)
    (folder / "rig.jpg").write_bytes(JPEG)
    path = folder / "words.toml"
    path.write_text(words, encoding="utf-8")
    return path
