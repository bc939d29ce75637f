"""What differs between any two scores: parts and measures paired, then compared."""
