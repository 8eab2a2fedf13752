"""Records on disk: canonical JSON with its sha256; measured times beside it, outside the hash."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from handfast import __version__
from handfast.files.errors import (
    NewerSchemaError,
    TamperedRecordError,
    UnreadableRecordError,
    WrongKindError,
)
from handfast.files.record_kinds import KINDS, kind_of
from handfast.files.typed_json import from_json, to_json
from handfast.model.project import InputFile
from handfast.model.record import Record

B = TypeVar("B")
RECORDS_FOLDER = "records"
"""In the project folder; it is not among the inputs."""
_RECORD, _END = b'\n"record":', b"}\n"  # around the text of a record in its file


def make_record(body: B, inputs: tuple[InputFile, ...], seed: int) -> Record[B]:
    """A record of that body, made now by this version. Raises KeyError for a body that is not saved."""
    kind = kind_of(type(body))
    return Record(kind, KINDS[kind][1], __version__, inputs, seed, body)


def canonical_json(record: Record[Any]) -> str:
    """The one text of a record. Raises UnwritableValueError."""
    return _canonical(_Itself(record))


class _Itself:
    """A record as a key: the same one, not one that is equal, which would take as long to find out."""

    def __init__(self, record: Record[Any]) -> None:
        self.record = record

    def __hash__(self) -> int:
        return id(self.record)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Itself) and self.record is other.record


@lru_cache(maxsize=2)  # a chart is hashed, then saved; its text is as long as a thousand others
def _canonical(given: _Itself) -> str:
    record = given.record
    plain = to_json(record, Record[type(record.body)])  # type: ignore[misc]  # a type made at run time
    return _text(plain)


def sha256(record: Record[Any]) -> str:
    """sha256 of a record's canonical text. Raises UnwritableValueError."""
    return hashlib.sha256(canonical_json(record).encode()).hexdigest()


def save(record: Record[Any], path: str | Path, run_info: Mapping[str, Any] | None = None) -> str:
    """Write a record, whole or not at all; returns its sha256.

    run_info: measured times and the like, not hashed. Makes the folder if there is none.
    Raises UnwritableValueError and OSError.
    """
    text = canonical_json(record)
    digest = hashlib.sha256(text.encode()).hexdigest()
    beside = json.dumps(dict(run_info or {}), sort_keys=True, ensure_ascii=False, allow_nan=False)
    whole = f'{{"sha256":"{digest}",\n"run_info":{beside},\n"record":{text}}}\n'
    _write_at_once(Path(path), whole)
    return digest


def load(path: str | Path, body_type: type[B]) -> Record[B]:
    """Read a record back. Raises RecordError of one kind or another (see errors.py)."""
    shown = str(path)
    data = _bytes(shown)
    given = _parsed(shown, data)
    plain = given["record"]
    kind, (_, newest) = kind_of(body_type), KINDS[kind_of(body_type)]
    if plain.get("kind") != kind:
        raise WrongKindError(shown, f"a {kind}", f"a {plain.get('kind')}", "name the file of the right kind")
    schema, version = plain.get("schema"), plain.get("tool_version")
    if not isinstance(schema, int) or schema > newest:
        fix = f"read it with version {version} or later, or make it anew"
        raise NewerSchemaError(shown, f"a {kind} of schema {newest} or older", f"schema {schema}", fix)
    found = _hash_of(data, plain, str(given.get("sha256")))
    if found != given.get("sha256"):
        fix = "restore it, or make it anew"
        raise TamperedRecordError(shown, f"content with sha256 {given.get('sha256')}", found, fix)
    try:
        record: Record[B] = from_json(plain, Record[body_type])  # type: ignore[valid-type]  # made at run time
    except UnreadableRecordError as error:
        raise UnreadableRecordError(shown, error.expected, error.found) from error
    return record


def stored_sha256(path: str | Path) -> str:
    """The sha256 that a record was saved with, which `load` compares with what it reads. Raises
    UnreadableRecordError."""
    head = re.match(rb'{"sha256":"([0-9a-f]{64})",\n', _bytes(str(path)))
    return head[1].decode() if head else str(_read(str(path)).get("sha256"))


def load_run_info(path: str | Path) -> dict[str, Any]:
    """What was saved beside a record, outside its hash. Raises UnreadableRecordError."""
    info = _read(str(path)).get("run_info")
    return dict(info) if isinstance(info, dict) else {}


def _hash_of(data: bytes, plain: Any, saved: str) -> str:
    """sha256 of the canonical text of a record read from `data`. Mostly that stands there to the byte, and
    need not be written once more: what follows the last key is then all hashed, and of two equal keys the
    later one is read."""
    at = data.find(_RECORD)
    if at >= 0 and hashlib.sha256(data[at + len(_RECORD) : -len(_END)]).hexdigest() == saved:
        return saved
    return hashlib.sha256(_text(plain).encode("utf-8", "surrogatepass")).hexdigest()


def _read(shown: str) -> dict[str, Any]:
    return _parsed(shown, _bytes(shown))


def _bytes(shown: str) -> bytes:
    try:
        return Path(shown).read_bytes()
    except OSError as error:
        raise UnreadableRecordError(shown, "a saved record", error.strerror or "none") from error


def _parsed(shown: str, data: bytes) -> dict[str, Any]:
    try:
        given = json.loads(data, parse_constant=_refuse)
    except (ValueError, RecursionError) as error:
        raise UnreadableRecordError(shown, "a saved record in JSON", str(error)[:80]) from error
    if not isinstance(given, dict) or not isinstance(given.get("record"), dict):
        raise UnreadableRecordError(shown, "a saved record", "JSON that is none")
    return given


def _refuse(constant: str) -> None:
    raise ValueError(f"the value {constant}")


def _text(plain: Any) -> str:
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _write_at_once(path: Path, text: str) -> None:
    """Into a file beside it, then moved over: a reader never sees half a record."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        with beside.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
