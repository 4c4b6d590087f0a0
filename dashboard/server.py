"""Serving the pages with waitress: on this machine, or to people who sign in."""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import waitress
from flask import Flask

from dashboard.first import Switch, create_first_app, show_session
from dashboard.reach import check_port, is_open_to_others, reach_of
from dashboard.security import LARGEST_UPLOAD
from dashboard.setup.page import PLACE
from spread.errors import SettingsError
from spread.people.folder import read_roll
from spread.session import Session

if TYPE_CHECKING:
    from dashboard.office.many import Many

PROXY = "127.0.0.1"
THREADS = 8
CONNECTIONS = 1000
"""Open at one time; a browser holds half a dozen."""
SLOWEST = 20
"""Seconds that a connection may stand still before it is closed. A request that trickles in waits in a buffer
and holds up no thread."""
IN_THE_CLEAR = (
    "Caution: without TLS, pass phrases and records cross the network readable to others on it, and phones "
    "cannot open the round without a connection. Put a TLS proxy before it and name it with --public."
)


def serve(
    session: Session,
    host: str = "127.0.0.1",
    port: int = 8050,
    *,
    public: str = "",
    new_buildings: Path | None = None,
) -> None:
    """Serve ``session`` until interrupted.

    ``host``: the address to listen on; one that others can reach needs people who sign in. ``port``: 1 to
    65535. ``public``: the address, such as ``https://spread.example.org``, that a TLS proxy passes on to this
    server. ``new_buildings``: where the set-up page makes new buildings; beside the open one if None. Raises
    SettingsError, one sentence: an address or port that cannot be used, or others could reach a building that
    nobody signs in to.
    """
    check_address(host, port, public, session.building.folder)
    reach = reach_of(host, public)
    switch = Switch()
    show_session(switch, session, reach, **({PLACE: new_buildings} if new_buildings is not None else {}))
    shown = reach.origin or _url("127.0.0.1" if reach.any_address else host, port)
    line = f"{session.plan.name} is open at {shown}/  (Ctrl+C closes it)"
    if reach.any_address and not public:
        line += f"\nOthers reach it at the addresses of this machine, port {port}."
    if is_open_to_others(host, public) and not reach.secure:
        line += f"\n{IN_THE_CLEAR}"
    run(switch, host, port, line, behind=bool(public))


def serve_office(
    url: str,
    open_session: Callable[[str], Session],
    host: str = "127.0.0.1",
    port: int = 8050,
    *,
    public: str = "",
) -> None:
    """Serve every building of an office until interrupted.

    ``open_session``: opens a building by its key; each is opened when somebody first asks for it. ``host``,
    ``port``, ``public``: as for :func:`serve`. Raises SettingsError, one sentence: no such office, nobody in
    it, or an address or port that cannot be used.
    """
    from dashboard.office.front import Office  # noqa: PLC0415 - an office needs packages of its own
    from spread.office.connecting import open_office, shown  # noqa: PLC0415

    reach = reach_of(host, public)
    check_port(port)
    office = Office(open_office(url), open_session, reach)
    if not office.people.everyone():
        fix = f"add somebody: spread office people {shown(url)} --add CODE --role administrator"
        raise SettingsError.at(shown(url), "", "nobody can sign in", fix)
    at = reach.origin or _url("127.0.0.1" if reach.any_address else host, port)
    line = f"The office {shown(url)} is open at {at}/  (Ctrl+C closes it)"
    if is_open_to_others(host, public) and not reach.secure:
        line += f"\n{IN_THE_CLEAR}"
    run(office, host, port, line, behind=bool(public))


def serve_folders(
    folder: Path, open_building: Callable[[Path], Session], host: str = "127.0.0.1", port: int = 8050
) -> None:
    """Serve every building of a folder until interrupted, to this machine alone: nobody signs in.

    ``folder``: holds the buildings' folders. ``open_building``: opens one of them, when somebody first asks
    for it. ``host``, ``port``: as for :func:`serve`. Raises SettingsError, one sentence on the folder, the
    address or the port.
    """
    from dashboard.office.folders import Folders  # noqa: PLC0415

    check_address(host, port)
    many = Folders(folder, open_building)
    line = f"The buildings in {folder.name} are open at {_url(host, port)}/  (Ctrl+C closes them)"
    run(many, host, port, line)


def serve_first(
    folder: Path, open_building: Callable[[Path], Session], host: str = "127.0.0.1", port: int = 8050
) -> None:
    """Serve the set-up page until a building has been made, then that building, until interrupted.

    ``folder``: where the new building goes. ``open_building``: opens a building's folder. ``host``, ``port``:
    as for :func:`serve`, but loopback only: there are no people before there is a building. Raises
    SettingsError, one sentence on the folder, the address or the port.
    """
    check_address(host, port)
    if not folder.is_dir():
        raise SettingsError.at(
            "spread serve", "--folder", f"there is no folder {str(folder)!r}", "make it first"
        )
    switch = Switch()
    switch.show(create_first_app(folder, lambda made: show_session(switch, open_building(made))))
    line = f"No building is open yet. Set one up at {_url(host, port)}/setup  (Ctrl+C closes it)"
    run(switch, host, port, f"{line}\nIts folder is made in {folder.resolve()}")


def run(server: Flask | Switch | Many, host: str, port: int, line: str, *, behind: bool = False) -> None:
    """Listen, say ``line``, and answer until interrupted; ``behind`` a TLS proxy of this machine."""
    listening = listener(server, host, port, behind=behind)
    logging.getLogger("waitress").setLevel(logging.ERROR)
    print(line, flush=True)
    try:
        listening.run()
    except KeyboardInterrupt:
        pass
    finally:
        listening.close()


def listener(
    server: Flask | Switch | Many, host: str, port: int, *, behind: bool = False
) -> waitress.server.BaseWSGIServer:
    """Return the server that listens, ready to run.

    Raises
    ------
    SettingsError
        When the port cannot be used.
    """
    try:
        return waitress.create_server(
            server,
            host=host,
            port=port,
            threads=THREADS,
            ident=None,
            connection_limit=CONNECTIONS,
            channel_timeout=SLOWEST,
            cleanup_interval=5,
            asyncore_use_poll=True,
            # The address that a proxy on this machine passes on counts for the limit of tries.
            trusted_proxy=PROXY if behind else None,
            trusted_proxy_headers={"x-forwarded-for"} if behind else set(),
            clear_untrusted_proxy_headers=True,
            max_request_body_size=LARGEST_UPLOAD,
        )
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SettingsError.at(
            "spread serve",
            "--port",
            f"port {port} of {host} cannot be used ({reason})",
            "choose another port, such as 8051, and an address of this machine",
        ) from error


def check_address(host: str, port: int, public: str = "", folder: Path | None = None) -> None:
    """Raise SettingsError unless the address may be served.

    ``host``, ``port``, ``public``: as for :func:`serve`. ``folder``: the building's; None where there is no
    building yet.
    """
    reach_of(host, public)
    check_port(port)
    roll = read_roll(folder) if folder is not None else None
    if roll is not None and not roll.people:
        what = "there is a people file, but nobody can sign in"
        fix = "add somebody with spread people BUILDING --add CODE, or take people.json out of the folder"
        raise SettingsError.at("spread serve", "people.json", what, fix)
    if roll is None and is_open_to_others(host, public):
        option, asked = ("--host", host) if not public else ("--public", public)
        fix = "add people with spread people BUILDING --add CODE, or leave it at 127.0.0.1"
        if folder is None:
            fix = "make the building on this machine first, add people to it, and serve it by its folder"
        what = f"{asked!r} would show the building's records to others, and nobody has to sign in"
        raise SettingsError.at("spread serve", option, what, fix)


def _url(host: str, port: int) -> str:
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
