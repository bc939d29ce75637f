"""Demo scores of our own making; ``manifest.toml`` says what is nasty about each."""
