"""Migrations of the accounts database to the present format; one file per step, never changed."""
