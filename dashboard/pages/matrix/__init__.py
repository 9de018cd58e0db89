"""The matrix page: its layout and its callbacks."""
