"""A whole folder of scores: found, converted by workers, written by one, kept in a ledger."""
