"""The decision sheet: its layout, its callbacks, signing and export."""
