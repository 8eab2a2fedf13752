"""The page's own tests read the JSON that is written here, by the schema that its types are made from.

After a change of the records: `python -m tests.page.test_golden_sheet` writes the file anew, and `make page`.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from tests.page.example_records import example_ledger, example_proof, example_reliability, example_trial
from tests.page.first_fit_chart import first_fit_chart

from handfast.files.record_json import make_record
from handfast.files.typed_json import from_json
from handfast.model.finding import Finding
from handfast.model.ledger import Ledger, Spread
from handfast.page.built_page import BUILT, HASH_FILE, sources_sha256
from handfast.page.make_sheet import empty_sheet, sheet_json, with_records
from handfast.page.page_input import PageInput, Saved
from handfast.page.sheet import Sheet
from handfast.page.type_schema import type_schema

CHART = first_fit_chart()
GOLDEN = Path(__file__).with_name("golden_sheet.json")
WEB = Path(__file__).parents[2] / "web"
SCHEMA = json.loads((WEB / "src" / "generated" / "sheet.schema.json").read_text())


def golden() -> Sheet:
    """Everything but a project, which names files and their hashes."""
    finding = Finding("units", "error", "cell.yaml", 3, 7, "arms.left.base", "a length", "3", "write 3 mm")
    sha256 = "3f" * 32
    records = PageInput(
        None,  # type: ignore[arg-type]  # not read by with_records
        make_record(CHART, (), 7),
        sha256,
        example_proof(),
        _spread_out(example_ledger(sha256)),
        (example_trial(True, sha256),),
        (example_reliability(True),),
        (Saved("chart", sha256),),
    )
    return replace(with_records(empty_sheet((finding,)), records), version="golden")


def _spread_out(ledger: Ledger) -> Ledger:
    """With covariances that differ before and after, and a touch of the chart."""
    touch = next(e.id for e in CHART.elements if e.kind == "locate")

    def of(sigma: float) -> Spread:
        diagonal = tuple(tuple(sigma**2 if i == j else 0.0 for j in range(6)) for i in range(6))
        return Spread((0.0,) * 6, diagonal, sigma, sigma, sigma)

    row = replace(ledger.rows[0], before=of(3e-4), after=of(6e-5), touches=(touch,))
    return replace(ledger, rows=(row,))


def test_the_golden_file_says_what_is_written_now() -> None:
    """Fields that came since have their defaults."""
    assert from_json(json.loads(GOLDEN.read_text(encoding="utf-8")), Sheet) == golden()


def test_it_is_as_the_schema_of_the_page_says() -> None:
    jsonschema.Draft7Validator(SCHEMA).validate(json.loads(GOLDEN.read_text(encoding="utf-8")))


def test_what_is_written_is_as_the_schema_says() -> None:
    jsonschema.Draft7Validator(type_schema(Sheet)).validate(json.loads(sheet_json(golden())))


def test_what_the_page_knows_of_the_records_is_still_so() -> None:
    """Fields may have come since the page's types were made; none may have gone or changed."""
    now = type_schema(Sheet)
    for name, known in {**SCHEMA["definitions"], "Sheet": SCHEMA}.items():
        record = {**now["definitions"], "Sheet": now}.get(name)
        assert record is not None, f"{name} has gone: `make page`"
        for field, kind in known["properties"].items():
            own = record["properties"].get(field)
            assert own == kind or set(kind.get("enum", [()])) <= set((own or {}).get("enum", [])), (
                f"{name}.{field} was {kind}, is {own}: `make page`"
            )


def test_the_schema_refuses_what_the_records_refuse() -> None:
    plain = json.loads(sheet_json(golden()))
    plain["chart"]["elements"][0]["kind"] = "dance"
    with pytest.raises(jsonschema.ValidationError, match="dance"):
        jsonschema.Draft7Validator(type_schema(Sheet)).validate(plain)


def test_the_built_page_is_of_the_sources_beside_it() -> None:
    assert (BUILT / HASH_FILE).read_text() == sources_sha256(WEB) + "\n", "web/ has changed: `make page`"


if __name__ == "__main__":
    GOLDEN.write_text(sheet_json(golden()) + "\n", encoding="utf-8")
