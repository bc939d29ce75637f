"""The document read as a score."""
