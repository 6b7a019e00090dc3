"""Serve web, due work and docs from one process."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.core.wsgi import get_wsgi_application

from contractor.queue import Ticker


def serve(host: str, port: int, ready: Callable[[str], None]) -> None:
    """Serve until interrupted. With no broker the due work runs in a thread of this process.

    Raises OSError when the port is taken.
    """
    from waitress.server import create_server

    server = create_server(get_wsgi_application(), host=host, port=port, threads=8)
    ticker = Ticker() if settings.QUEUE_MODE == "ticker" else None
    if ticker:
        ticker.start()
    ready(f"http://{host}:{port}")
    try:
        server.run()
    finally:
        server.close()
        if ticker:
            ticker.stop()
