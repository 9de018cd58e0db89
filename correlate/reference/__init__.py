"""Reference data: check them, learn from repeats, share them.

The parts are imported by their own names (``correlate.reference.check`` …), so that opening a package
does not load what rating repeats needs.
"""
