"""The nouns: immutable records, one file each."""
