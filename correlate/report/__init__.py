"""Reports: results in, text, JSON or a page out."""
