from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.model.any_record import any_of

from handfast.files import errors
from handfast.files.record_json import (
    canonical_json,
    load,
    load_run_info,
    make_record,
    save,
    sha256,
    stored_sha256,
)
from handfast.files.record_kinds import KINDS, body_type
from handfast.files.typed_json import from_json, to_json
from handfast.model.cell import Cell
from handfast.model.chart import Chart
from handfast.model.ledger import Band, Ledger
from handfast.model.product import Product
from handfast.model.project import InputFile, Project
from handfast.model.proof import Proof
from handfast.model.shape import Box, Solid, Sphere

LEDGER = Ledger("aa", (), Band(0.99, 1.0), Band(0.5, 0.75, True))
INPUTS = (InputFile("product.yaml", "ab" * 32),)


def any_record(kind: str, seed: int) -> Any:
    return make_record(any_of(body_type(kind), np.random.default_rng(seed)), INPUTS, seed)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(8))
def test_record_comes_back_equal_and_with_the_same_hash(tmp_path: Path, kind: str, seed: int) -> None:
    record = any_record(kind, seed)
    digest = save(record, tmp_path / "deep" / "record.json")
    back = load(tmp_path / "deep" / "record.json", body_type(kind))
    assert back == record
    assert sha256(back) == sha256(record) == digest


@pytest.mark.parametrize("kind", [Product, Cell, Project])
@pytest.mark.parametrize("seed", range(4))
def test_what_records_are_made_from_comes_back_too(kind: type[Any], seed: int) -> None:
    value = any_of(kind, np.random.default_rng(seed))
    assert from_json(json.loads(json.dumps(to_json(value, kind))), kind) == value


def test_random_records_take_every_form() -> None:
    # The set-up has achieved what it should: elements with and without each optional field.
    charts = [any_of(Chart, np.random.default_rng(seed)) for seed in range(40)]
    elements = [e for c in charts for e in c.elements]
    assert len(elements) > 20
    for name in ("grasp", "leaves", "touch", "torque"):
        assert {getattr(e, name) is None for e in elements} == {True, False}


def test_hash_is_sha256_of_the_sorted_compact_json_as_any_other_tool_computes_it(tmp_path: Path) -> None:
    # Outside the project: the standard library's json and hashlib, over the file alone.
    path = tmp_path / "chart.json"
    digest = save(any_record("chart", 3), path)
    given = json.loads(path.read_text())
    text = json.dumps(given["record"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hashlib.sha256(text.encode()).hexdigest() == given["sha256"] == digest


def test_one_text_is_written_out() -> None:
    text = canonical_json(make_record(LEDGER, (), 7))
    assert text == (
        '{"body":{"build_yield":{"high":1.0,"low":0.99,"model_dependent":false},"build_yield_untouched":'
        '{"high":0.75,"low":0.5,"model_dependent":true},"chart_sha256":"aa","not_budgeted":[],"rows":[],"taken_as_exact":[],'
        '"unknowns":[],"updates":[]},"inputs":[],"kind":"ledger","schema":6,"seed":7,"tool_version":"0.1.0"}'
    )


def test_run_info_is_kept_beside_and_outside_the_hash(tmp_path: Path) -> None:
    record = make_record(LEDGER, INPUTS, 7)
    first = save(record, tmp_path / "a.json", {"planning_s": 1.25, "host": "bench"})
    second = save(record, tmp_path / "b.json", {"planning_s": 9.0})
    assert first == second
    assert load_run_info(tmp_path / "a.json") == {"planning_s": 1.25, "host": "bench"}
    assert load(tmp_path / "b.json", Ledger) == record


def test_negative_zero_and_whole_numbers_do_not_change_the_hash() -> None:
    zero, minus = replace(LEDGER, build_yield=Band(0.0, 1.0)), replace(LEDGER, build_yield=Band(-0.0, 1))
    assert sha256(make_record(zero, (), 1)) == sha256(make_record(minus, (), 1))


@pytest.mark.parametrize("change", [{"chart_sha256": "ab"}, {"build_yield": Band(0.99, 1.0, True)}])
def test_any_change_changes_the_hash(change: dict[str, Any]) -> None:
    assert sha256(make_record(replace(LEDGER, **change), (), 1)) != sha256(make_record(LEDGER, (), 1))
    assert sha256(make_record(LEDGER, (), 2)) != sha256(make_record(LEDGER, (), 1))
    assert sha256(make_record(LEDGER, INPUTS, 1)) != sha256(make_record(LEDGER, (), 1))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_values_that_are_no_numbers_are_refused_with_their_place(value: float) -> None:
    ledger = replace(LEDGER, build_yield=Band(value, 1.0))
    with pytest.raises(errors.UnwritableValueError, match=r"record\.body\.build_yield\.low a finite number"):
        canonical_json(make_record(ledger, (), 1))


def test_values_of_another_type_are_refused() -> None:
    with pytest.raises(errors.UnwritableValueError, match=r"record\.rows"):
        to_json(replace(LEDGER, rows=[1]), Ledger)  # type: ignore[arg-type]  # the mistake under test


def test_a_union_says_which_one_it_is() -> None:
    assert to_json(Solid(Sphere(0.5)), Solid)["shape"] == {"is": "Sphere", "radius": 0.5}
    assert from_json({"shape": {"is": "Box", "size": [1, 2, 3]}}, Solid).shape == Box((1.0, 2.0, 3.0))
    with pytest.raises(errors.UnreadableRecordError, match="one of Box, Cylinder, Sphere, Mesh"):
        from_json({"shape": {"is": "Cone", "radius": 0.5}}, Solid)


def test_tampered_content_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "chart.json"
    record = any_record("chart", 5)
    save(record, path)
    given = json.loads(path.read_text())
    given["record"]["body"]["makespan_s"] += 1e-9
    path.write_text(json.dumps(given))
    with pytest.raises(errors.TamperedRecordError, match="sha256"):
        load(path, Chart)


def test_layout_of_the_file_is_no_tampering(tmp_path: Path) -> None:
    path = tmp_path / "chart.json"
    record = any_record("chart", 5)
    save(record, path)
    path.write_text(json.dumps(json.loads(path.read_text()), indent=4))
    assert load(path, Chart) == record


def test_of_two_records_in_a_file_only_the_hashed_one_is_read(tmp_path: Path) -> None:
    """Of equal keys JSON's last counts, wherever the text stands that was hashed."""
    path, record = tmp_path / "chart.json", any_record("chart", 5)
    digest = save(record, path)
    text, other = path.read_text(), canonical_json(any_record("chart", 6))
    assert stored_sha256(path) == digest
    path.write_text(text.replace('\n"record":', f'\n"record":{other},\n"record":', 1))
    assert load(path, Chart) == record
    path.write_text(f'{text[:-2]},"record":{other}}}\n')
    with pytest.raises(errors.TamperedRecordError, match="sha256"):
        load(path, Chart)


def test_newer_schema_is_refused_by_name(tmp_path: Path) -> None:
    path = tmp_path / "chart.json"
    record = any_record("chart", 5)
    save(replace(record, schema=record.schema + 1, tool_version="9.1"), path)
    with pytest.raises(
        errors.NewerSchemaError, match=r"chart of schema 3 or older, found schema 4.*version 9\.1"
    ):
        load(path, Chart)


def test_another_kind_is_refused(tmp_path: Path) -> None:
    save(make_record(LEDGER, (), 1), tmp_path / "ledger.json")
    with pytest.raises(errors.WrongKindError, match="expected a proof, found a ledger"):
        load(tmp_path / "ledger.json", Proof)


@pytest.mark.parametrize(
    "content", [b"", b"{}", b"[]", b"\xff\xfe", b'{"record": 1}', b'{"record": NaN}', b"[" * 100_000]
)
def test_files_that_are_no_record_are_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "chart.json").write_bytes(content)
    with pytest.raises(errors.UnreadableRecordError, match=r"chart\.json: expected a saved record"):
        load(tmp_path / "chart.json", Chart)


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(errors.UnreadableRecordError, match="No such file"):
        load(tmp_path / "chart.json", Chart)


def test_missing_and_unknown_fields_are_named(tmp_path: Path) -> None:
    path = tmp_path / "ledger.json"
    save(make_record(LEDGER, (), 1), path)
    given = json.loads(path.read_text())
    given["record"]["body"]["yield"] = given["record"]["body"].pop("build_yield")
    text = json.dumps(given["record"], sort_keys=True, separators=(",", ":"))
    given["sha256"] = hashlib.sha256(text.encode()).hexdigest()
    path.write_text(json.dumps(given))
    with pytest.raises(errors.UnreadableRecordError, match="an unknown 'yield', no 'build_yield'"):
        load(path, Ledger)


def test_a_record_that_cannot_be_written_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "ledger.json"
    digest = save(make_record(LEDGER, (), 1), path)
    with pytest.raises(errors.UnwritableValueError):
        save(make_record(replace(LEDGER, build_yield=Band(float("nan"), 1.0)), (), 1), path)
    assert sha256(load(path, Ledger)) == digest
    assert [p.name for p in tmp_path.iterdir()] == ["ledger.json"]


def test_errors_are_one_family() -> None:
    members = [e for e in vars(errors).values() if isinstance(e, type) and issubclass(e, Exception)]
    assert len(members) == 6
    assert all(issubclass(e, errors.RecordError) for e in members)


def test_rows_of_numbers_are_written_as_one_by_one_and_refused_with_their_place() -> None:
    kind = tuple[tuple[float, ...], ...]
    rows = ((0.0, -0.0, 1e-300), (), (1e16, 0.1, -2.5))
    assert json.dumps(to_json(rows, kind)) == "[[0.0, 0.0, 1e-300], [], [1e+16, 0.1, -2.5]]"
    with pytest.raises(errors.UnwritableValueError, match=r"record\[1\]\[0\]"):
        to_json(((0.5,), (float("nan"),)), kind)
    assert to_json(((1, 2.0),), kind) == [[1.0, 2.0]]  # a whole number in a field of decimals


def test_the_text_of_a_record_is_its_own_however_often_it_is_asked_for() -> None:
    first, other = any_record("chart", 1), any_record("chart", 1)
    assert canonical_json(first) == canonical_json(other) == canonical_json(first)
    texts = [canonical_json(replace(first, seed=n)) for n in range(5)]
    assert len(set(texts)) == 5
    assert [json.loads(t)["seed"] for t in texts] == list(range(5))
