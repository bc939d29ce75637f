"""The rules that ship, one a module; ``ORDER`` is their table of contents."""
