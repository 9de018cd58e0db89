"""Files in, files out: every format reads into one `Recording`."""

from __future__ import annotations

from correlate.formats.format import Format, FormatWarning
from correlate.formats.recording import Recording
from correlate.formats.registry import FORMATS, list_formats, read

__all__ = ["FORMATS", "Format", "FormatWarning", "Recording", "list_formats", "read"]
