"""What the server answers, and to whom: by requests as a stranger would send them."""

from __future__ import annotations

import gzip
import http.client
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.page.live.served import SHEET, Served, serving

from handfast.page.built_page import BUILT

FIRST_FIT = Path(__file__).parents[3] / "projects" / "first-fit"
MOVE = {"kind": "move holder", "target": "tray", "value": [0.01, 0.0, 0.0]}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("served") / "first-fit"
    return Path(shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records")))


@pytest.fixture(scope="module")
def page(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(folder, tmp_path_factory.mktemp("out")) as served:
        yield served


def test_the_page_and_its_sheet(page: Served) -> None:
    assert page.asked("/")[1] == (BUILT / "index.html").read_text()
    assert page.asked("/page.js")[2]["content-type"].startswith("text/javascript")
    assert page.asked("/api/sheet")[:2] == (200, SHEET.decode())
    assert page.asked("/api/geometry")[:2] == (200, "glTF")


def test_every_answer_forbids_what_the_page_does_not_need(page: Served) -> None:
    for path in ("/", "/api/sheet", "/nothing-here"):
        headers = page.asked(path)[2]
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert headers["cache-control"] == "no-store"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil:80", ""])
def test_a_foreign_host_is_refused(page: Served, host: str) -> None:
    status, text, _ = page.asked("/api/sheet", host=host)
    assert status == 421
    assert "no_plan" not in text


def test_its_other_name_is_answered(page: Served) -> None:
    assert page.asked("/api/sheet", host=f"localhost:{page.port}")[0] == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1"])
def test_a_foreign_origin_is_refused(page: Served, origin: str) -> None:
    assert page.asked("/api/sheet", origin=origin)[0] == 403
    assert page.asked("/api/propose", "POST", MOVE, origin=origin)[0] == 403
    assert page.asked("/api/sheet", sec_fetch_site="cross-site")[0] == 403


def test_a_post_needs_an_origin_and_json(page: Served) -> None:
    assert page.asked("/api/propose", "POST", MOVE)[0] == 200
    assert page.asked("/api/propose", "POST", MOVE, origin=None)[0] == 403
    assert page.asked("/api/propose", "POST", MOVE, content_type="text/plain")[0] == 415
    assert page.asked("/api/propose", "POST", {"kind": "x" * 70_000})[0] == 413
    assert page.asked("/api/propose")[0] == 405


@pytest.mark.parametrize(
    "path",
    [
        "/../../pyproject.toml", "/..%2f..%2fpyproject.toml", "/%2e%2e/%2e%2e/etc/passwd",
        "/page.js/../guard.py", "//etc/passwd", "/project.yaml", "/records/chart.json", "/built/../guard.py",
        "/..\\..\\pyproject.toml", "/page.js%00", "/api/../project.yaml",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_the_page(page: Served, path: str) -> None:
    status, text, _ = page.asked(path)
    assert status == 404
    assert text == "Not Found"


def test_with_a_host_the_token_is_asked_for(folder: Path, tmp_path: Path) -> None:
    with serving(folder, tmp_path, host="127.0.0.1", token="s3cret") as page:
        for path in ("/", "/page.js", "/api/sheet", "/api/events"):
            assert page.asked(path)[0] == 401
        assert page.asked("/?token=wrong")[0] == 401
        assert page.asked("/", cookie="handfast_token=wrong")[0] == 401
        status, _, headers = page.asked("/?token=s3cret")
        assert status == 200
        cookie = headers["set-cookie"]
        assert {"HttpOnly", "SameSite=Strict"} <= {part.strip() for part in cookie.split(";")}
        assert page.asked("/api/sheet", cookie=cookie.split(";")[0])[0] == 200
        assert page.asked("/api/propose", "POST", MOVE)[0] == 401
        assert page.asked("/api/sheet", host="evil.example", cookie=cookie.split(";")[0])[0] == 421


def test_a_build_needs_the_page_and_says_what_is_lacking(page: Served) -> None:
    assert page.asked("/api/stop", "POST", {})[:2] == (200, '{"stopped":false}')


def test_what_must_be_where_is_told_of_an_element_only(page: Served) -> None:
    wrong: list[object] = [{}, {"number": 0}, {"number": "3"}, {"number": True}, [3]]
    for body in wrong:
        assert page.asked("/api/must-be", "POST", body)[0] == 422
    status, text, _ = page.asked("/api/must-be", "POST", {"number": 3})
    assert (status, text) == (409, "there is no chart of the files as they are")


def test_a_build_begins_where_an_element_is(page: Served) -> None:
    wrong: list[object] = [
        [], {"from": -1, "looked": []}, {"from": 2}, {"from": 2, "looked": [1]}, {"from": "2", "looked": []}
    ]  # fmt: skip
    for body in wrong:
        assert page.asked("/api/run", "POST", body)[0] == 422


def test_what_is_large_goes_packed_to_who_asks_for_it(page: Served) -> None:
    script = (BUILT / "page.js").read_bytes()
    connection = http.client.HTTPConnection("127.0.0.1", page.port, timeout=10)
    for asked, size in (("gzip, br", len(script) // 3), ("identity", None)):
        connection.request("GET", "/page.js", headers={"Accept-Encoding": asked})
        answer = connection.getresponse()
        body = answer.read()
        packed = answer.headers.get("content-encoding") == "gzip"
        assert packed == (size is not None)
        assert (gzip.decompress(body) if packed else body) == script
        assert size is None or len(body) < size
    connection.close()
