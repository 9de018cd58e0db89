"""Builders of parts of a page; none of them has a callback."""
