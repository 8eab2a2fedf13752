"""What can go wrong with saved records.

RecordError
+-- UnreadableRecordError   no such file, not JSON, not a record, or a value of the wrong type
+-- WrongKindError          a record, but of another kind than asked for
+-- NewerSchemaError        written by a later version of this program
+-- TamperedRecordError     the content does not match its sha256
+-- UnwritableValueError    NaN or infinity, or a type that records do not have
"""

from __future__ import annotations


class RecordError(Exception):
    """Base of the family. path: of the record's file, "" if none is involved yet."""

    def __init__(self, path: str, expected: str, found: str, fix: str = "") -> None:
        advice = f"; {fix}" if fix else ""
        super().__init__(f"{path or 'record'}: expected {expected}, found {found}{advice}")
        self.path, self.expected, self.found, self.fix = path, expected, found, fix


class UnreadableRecordError(RecordError):
    """No such file, not JSON, not a record, or a value of the wrong type."""


class WrongKindError(RecordError):
    """A record of another kind than asked for."""


class NewerSchemaError(RecordError):
    """A record that a later version of this program wrote."""


class TamperedRecordError(RecordError):
    """A record whose content does not match its sha256."""


class UnwritableValueError(RecordError):
    """A value that records do not have: NaN, infinity, or a type that is none of theirs."""
