"""Strings, tunings and levers."""
