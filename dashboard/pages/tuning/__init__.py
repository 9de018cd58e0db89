"""The tuning page: its layout and its callbacks."""
