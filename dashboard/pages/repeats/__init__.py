"""The repeats page: its layout and its callbacks."""
