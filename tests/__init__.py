"""The tests: a package, because an installed library ships a top-level one of this name too."""
