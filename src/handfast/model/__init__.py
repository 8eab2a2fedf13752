"""The nouns: immutable records, one file each, with no logic beyond their own invariants."""
