"""Tools for a release: lock file with hashes, list of components, and the reason for each library."""
