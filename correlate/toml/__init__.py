"""Files that people write by hand: every mistake of one at once, each with its line and key."""

from correlate.toml.reading import TomlFile, read_toml
from correlate.toml.table import Name, Table, speak_up

__all__ = ["Name", "Table", "TomlFile", "read_toml", "speak_up"]
