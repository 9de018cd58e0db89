"""The pages: a layout, plain functions for its callbacks, and their registration."""
