"""Bytes in, an immutable score to read, bytes out."""
