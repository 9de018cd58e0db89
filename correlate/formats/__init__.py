"""Files in, files out: every format reads into one `Recording`."""

from __future__ import annotations

from correlate.formats.recording import Format, FormatWarning, Recording, SetAside
from correlate.formats.registry import FORMATS, list_formats, read

__all__ = ["FORMATS", "Format", "FormatWarning", "Recording", "SetAside", "list_formats", "read"]
