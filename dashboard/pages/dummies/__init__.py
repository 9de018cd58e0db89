"""The dummies page: its layout and its callbacks."""
