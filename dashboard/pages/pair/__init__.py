"""The pair page: its layout and its callbacks."""
