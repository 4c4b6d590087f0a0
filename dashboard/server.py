"""Serving the page on this machine with waitress."""

from __future__ import annotations

import logging

import waitress

from dashboard.app import create_app
from dashboard.security import LARGEST_UPLOAD
from spread.errors import Problem, SettingsError
from spread.session import Session

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")
THREADS = 4


def serve(session: Session, host: str = "127.0.0.1", port: int = 8050) -> None:
    """Serve ``session`` until interrupted.

    Parameters
    ----------
    session
        An open building.
    host
        A loopback name; any other is refused, for there is no login yet.
    port
        1 to 65535.

    Raises
    ------
    SettingsError
        One sentence: a host that others could reach, a port that is no port or is taken.
    """
    check_address(host, port)
    app = create_app(session)
    try:
        server = waitress.create_server(
            app.server,
            host=host,
            port=port,
            threads=THREADS,
            ident=None,
            max_request_body_size=LARGEST_UPLOAD,
        )
    except OSError as error:
        raise SettingsError(
            Problem(
                "spread serve",
                "--port",
                f"port {port} cannot be used ({error.strerror or error})",
                "choose another port, such as 8051",
            )
        ) from error
    logging.getLogger("waitress").setLevel(logging.ERROR)
    shown = f"[{host}]" if ":" in host else host
    print(f"{session.plan.name} is open at http://{shown}:{port}/  (Ctrl+C closes it)", flush=True)
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()


def check_address(host: str, port: int) -> None:
    """Raise SettingsError unless the address is loopback and the port a port."""
    if host not in LOOPBACK_NAMES:
        raise SettingsError(
            Problem(
                "spread serve",
                "--host",
                f"{host!r} would show the building's records to others without a login",
                "leave it at 127.0.0.1 and share by a tunnel or a proxy with its own login",
            )
        )
    if not 1 <= port <= 65535:
        raise SettingsError(
            Problem("spread serve", "--port", f"{port} is no port", "choose one from 1024 to 65535")
        )
