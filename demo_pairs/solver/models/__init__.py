"""One file a load case: the lumped model, its constants, and what it reports."""
