"""Open the page of a project folder and keep it open until it is interrupted."""

from __future__ import annotations

import secrets
import socket
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from handfast.page.live.board import Board
from handfast.page.live.current import current_sheet, look
from handfast.page.live.guard import Guard
from handfast.page.live.work import RECORDS, SHEET, put
from handfast.page.live.workers import Live
from handfast.page.make_sheet import sheet_json

LOOPBACK = "127.0.0.1"


class ServeError(RuntimeError):
    """The page cannot be served; the message says why."""


def serve(
    folder: Path, *, host: str | None = None, port: int = 0, seed: int = 0, opened: Callable[[str], None]
) -> None:
    """Serve until interrupted. host: None: this machine alone; an address: others too, who need the token.

    port: 0 takes a free one. opened: called with the address, token included, once it answers. Raises
    ServeError if it cannot be listened there, RecordError if a saved record is damaged.
    """
    import uvicorn

    from handfast.page.live.app import make_app

    token = "" if host is None else secrets.token_urlsafe(24)
    with (
        tempfile.TemporaryDirectory(prefix="handfast-page-") as made,
        closing(bound(host or LOOPBACK, port)) as where,
    ):
        out = Path(made)
        sheet, geometry = current_sheet(look(folder, out / RECORDS))
        put(out / SHEET, sheet_json(sheet).encode())
        board = Board((out / SHEET).read_bytes(), geometry)
        live = Live(folder, out, seed if sheet.chart is None else sheet.seed, board)
        port = where.getsockname()[1]
        guard = Guard(hosts(host, port), token)
        config = uvicorn.Config(
            make_app(folder, board, live, guard), log_level="error", lifespan="off", server_header=False,
            timeout_graceful_shutdown=1, access_log=False,
        )  # fmt: skip
        live.start()
        opened(f"http://{_named(host, port)}/" + (f"?token={token}" if token else ""))
        try:
            uvicorn.Server(config).run(sockets=[where])
        finally:
            live.close()


def bound(host: str, port: int) -> socket.socket:
    """A socket that listens there. Raises ServeError."""
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        listening = socket.socket(family[0], socket.SOCK_STREAM)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(family[4])
        listening.listen(64)
    except OSError as error:
        raise ServeError(f"{host}, port {port}: cannot be listened at: {error.strerror or error}") from error
    return listening


def hosts(host: str | None, port: int) -> frozenset[str]:
    """By what names the page may be asked for."""
    names = {LOOPBACK, "localhost"} if host is None else {host}
    if host in ("0.0.0.0", "::"):
        names |= {LOOPBACK, "localhost", socket.gethostname(), *_addresses()}
    return frozenset(f"{f'[{n}]' if ':' in n else n}:{port}".lower() for n in names)


def _addresses() -> list[str]:
    try:
        return [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)]
    except OSError:
        return []


def _named(host: str | None, port: int) -> str:
    name = LOOPBACK if host is None else socket.gethostname() if host in ("0.0.0.0", "::") else host
    return f"{f'[{name}]' if ':' in name else name}:{port}"
