"""The web application: what is answered to whom. Files of the page, the sheet, news; proposals and builds."""

from __future__ import annotations

import asyncio
import gzip
import json
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from handfast.files.project_reader import read_folder
from handfast.model.change import Change
from handfast.page.built_page import BUILT
from handfast.page.live.board import Board
from handfast.page.live.guard import COOKIE, HEADERS, Guard
from handfast.page.live.proposal import Proposal, ProposalError, accept, propose
from handfast.page.live.workers import Live
from handfast.page.sheet import Sheet
from handfast.page.type_schema import type_schema

FILES = {
    "/": ("index.html", "text/html"),
    "/page.js": ("page.js", "text/javascript"),
    "/page.css": ("page.css", "text/css"),
}
SMALL = 2000  # not worth packing [bytes]
BEAT = 2.0  # so often something is sent, so that a lost line is noticed [s]


class Desk:
    """Answers the requests. folder: the project's; proposals wait here until they are accepted."""

    def __init__(self, folder: Path, board: Board, live: Live) -> None:
        self._folder, self._board, self._live = folder, board, live
        self._proposals: dict[str, Proposal] = {}
        self._gzipped: dict[str, tuple[bytes, bytes]] = {}  # by kind of content: as it is, packed

    def routes(self) -> list[Route]:
        """Every address there is."""
        return [
            *(Route(path, self._file, methods=["GET"]) for path in FILES),
            Route("/api/sheet", self._sheet, methods=["GET"]),
            Route("/api/schema", self._schema, methods=["GET"]),
            Route("/api/geometry", self._geometry, methods=["GET"]),
            Route("/api/events", self._events, methods=["GET"]),
            Route("/api/propose", self._propose, methods=["POST"]),
            Route("/api/accept", self._accept, methods=["POST"]),
            Route("/api/must-be", self._must_be, methods=["POST"]),
            Route("/api/run", self._run, methods=["POST"]),
            Route("/api/stop", self._stop, methods=["POST"]),
        ]

    async def _file(self, request: Request) -> Response:
        name, kind = FILES[request.url.path]
        return self._packed(request, (BUILT / name).read_bytes(), kind)

    async def _sheet(self, request: Request) -> Response:
        return self._packed(request, self._board.sheet, "application/json")

    async def _schema(self, _request: Request) -> Response:
        return JSONResponse(type_schema(Sheet))

    async def _geometry(self, request: Request) -> Response:
        return self._packed(request, self._board.geometry, "model/gltf-binary")

    def _packed(self, request: Request, data: bytes, kind: str) -> Response:
        """Packed for whoever asks for it; once for all who do."""
        if "gzip" not in request.headers.get("accept-encoding", "") or len(data) < SMALL:
            return Response(data, media_type=kind)
        known = self._gzipped.get(kind)
        if known is None or known[0] != data:
            known = self._gzipped[kind] = (data, gzip.compress(data, 5))
        return Response(known[1], media_type=kind, headers={"content-encoding": "gzip"})

    async def _events(self, _request: Request) -> Response:
        return StreamingResponse(self._news(), media_type="text/event-stream")

    async def _news(self) -> AsyncIterator[str]:
        queue = self._board.listen()
        try:
            yield "retry: 1000\n\n"
            while True:
                try:
                    yield f"data: {await asyncio.wait_for(queue.get(), BEAT)}\n\n"
                except TimeoutError:
                    yield "event: beat\ndata: 1\n\n"
        finally:
            self._board.leave(queue)

    async def _propose(self, request: Request) -> Response:
        try:
            wanted = await request.json()
            proposal = propose(self._folder, *self._read(), self._change(wanted))
        except (ValueError, TypeError, KeyError) as error:
            said = error if isinstance(error, ProposalError) else "expected kind, target and value in metres"
            return PlainTextResponse(f"{said}", status_code=422)
        self._proposals[proposal.id] = proposal
        return JSONResponse(
            {"id": proposal.id, "file": proposal.file, "text": proposal.text, "diff": proposal.diff}
        )

    async def _accept(self, request: Request) -> Response:
        try:
            proposal = self._proposals[str((await request.json())["id"])]
            accept(self._folder, proposal)
        except (KeyError, ValueError, TypeError) as error:
            said = error if isinstance(error, ProposalError) else "expected the id of a proposal made here"
            return PlainTextResponse(f"{said}", status_code=409)
        return JSONResponse({"written": proposal.file})

    async def _must_be(self, request: Request) -> Response:
        try:
            number = _number((await request.json())["number"])
        except (ValueError, TypeError, KeyError):
            return PlainTextResponse("expected the number of an element", status_code=422)
        found = await asyncio.to_thread(self._live.must_be, number)
        if "must_be" not in found:
            return PlainTextResponse(str(found.get("text")), status_code=409)
        return JSONResponse({"number": number, "items": found["must_be"]})

    async def _run(self, request: Request) -> Response:
        try:
            what = _wanted(await request.json())
        except (ValueError, TypeError, KeyError):
            said = "expected {}, or from: the number of an element and looked: names of items"
            return PlainTextResponse(said, status_code=422)
        if self._live.build.going:
            return PlainTextResponse("a build is going already; stop it first", status_code=409)
        self._live.start_build(what)
        return JSONResponse({"going": True})

    async def _stop(self, _request: Request) -> Response:
        return JSONResponse({"stopped": await asyncio.to_thread(self._live.stop_build)})

    def _read(self) -> tuple[Any, Any]:
        reading = read_folder(self._folder)
        if reading.project is None:
            raise ProposalError("the project files cannot be read as they are: see Why")
        return reading.project, reading.sources

    def _change(self, wanted: Any) -> Change:
        if not isinstance(wanted, dict):
            raise ProposalError("expected a JSON object")
        if "tried" in wanted:
            no_plan = json.loads(self._board.sheet)["no_plan"] or {"changes": []}
            changes = no_plan["changes"]
            index = wanted["tried"]
            if not isinstance(index, int) or not 0 <= index < len(changes):
                raise ProposalError("expected the number of a change that was tried")
            wanted = changes[index]
        value = tuple(float(v) for v in wanted["value"])
        kind, target = str(wanted["kind"]), str(wanted["target"])
        return Change(kind, target, value, "", str(wanted.get("text") or _words(kind, target, value)))  # type: ignore[arg-type]  # a word from outside; propose() refuses those it does not know


def _number(given: Any) -> int:
    """Raises ValueError."""
    if isinstance(given, bool) or not isinstance(given, int) or given < 1:
        raise ValueError("expected a whole number from 1 on")
    return given


def _wanted(given: Any) -> dict[str, Any]:
    """Raises ValueError, TypeError, KeyError."""
    if not isinstance(given, dict):
        raise TypeError("expected a JSON object")
    if "from" not in given:
        return {}
    if not all(isinstance(item, str) for item in given["looked"]):
        raise TypeError("expected names")
    return {"from": _number(given["from"]), "looked": list(given["looked"])}


def _words(kind: str, target: str, value: tuple[float, ...]) -> str:
    if kind == "move holder" and len(value) == 3:
        return f"{target}: moved by x {value[0] * 1e3:+g} mm, y {value[1] * 1e3:+g} mm"
    return f"{target}: {kind}" + "".join(f" {v * 1e3:g} mm" for v in value)


def make_app(folder: Path, board: Board, live: Live, guard: Guard) -> ASGIApp:
    """The application behind its guard (ASGI)."""
    inner = Starlette(routes=Desk(folder, board, live).routes())

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await inner(scope, receive, send)
            return
        headers = {k.decode("latin-1").lower(): v.decode("latin-1") for k, v in scope["headers"]}
        query = scope.get("query_string", b"").decode("latin-1")
        refused = guard.refusal(scope["method"], headers, query)
        extra = [(k.encode(), v.encode()) for k, v in HEADERS.items()]
        if refused is None and guard.token_in(query):
            extra.append(
                (b"set-cookie", f"{COOKIE}={guard.token}; HttpOnly; SameSite=Strict; Path=/".encode())
            )

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                kept = [(k, v) for k, v in message["headers"] if k.lower() != b"server"]
                message = {**message, "headers": [*kept, *extra]}
            await send(message)

        if refused is not None:
            status, words = refused
            await PlainTextResponse(words, status_code=status)(scope, receive, send_guarded)
            return
        await inner(scope, receive, send_guarded)

    return app
