"""Belongs to a release: a lock with hashes, a list of components, and why each library is used."""
