"""The scoreboard page: its layout and its callbacks."""
