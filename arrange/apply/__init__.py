"""Changes carried out on the document."""
