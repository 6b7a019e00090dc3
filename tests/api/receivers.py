"""Receivers of webhooks on 127.0.0.1: good, failing, slow, dripping, redirecting."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass
class Hit:
    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Receiver:
    port: int = 0
    hits: list[Hit] = field(default_factory=list)
    answer: Callable[[Any], None] = lambda handler: plain(handler, 204)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/hook"


def plain(handler: Any, status: int, **headers: str) -> None:
    handler.send_response(status)
    for name, value in headers.items():
        handler.send_header(name.replace("_", "-"), value)
    handler.send_header("Content-Length", "0")
    handler.end_headers()


def status(code: int, **headers: str) -> Callable[[Any], None]:
    return lambda handler: plain(handler, code, **headers)


def hang(handler: Any) -> None:
    """Accept the request and never answer."""
    time.sleep(3)


def drip(handler: Any) -> None:
    """Send one header byte after the other, each soon enough for a per-read timeout."""
    try:
        for _ in range(60):
            handler.wfile.write(b"H")
            handler.wfile.flush()
            time.sleep(0.05)
    except OSError:
        return


def reset(handler: Any) -> None:
    handler.connection.close()


@contextmanager
def receiver(answer: Callable[[Any], None] | None = None) -> Iterator[Receiver]:
    made = Receiver()
    if answer is not None:
        made.answer = answer

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            headers = {name.lower(): value for name, value in self.headers.items()}
            made.hits.append(Hit(self.path, headers, body))
            made.answer(self)

        def log_message(self, *_: Any) -> None:
            return

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, *_: Any) -> None:
            return

    server = Server(("127.0.0.1", 0), Handler)
    made.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield made
    finally:
        server.shutdown()
        server.server_close()
