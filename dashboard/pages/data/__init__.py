"""The data page: its layout and its callbacks."""
