"""The review page: a score before and after, engraved, heard, and decided on."""
