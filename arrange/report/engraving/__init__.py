"""Scores as printed pages: a marked copy for the engraver, its pages as ink, and a PDF of them."""
