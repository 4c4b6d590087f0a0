"""From where a served building may be reached: which addresses are ours, by --host and --public."""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass
from urllib.parse import urlsplit

from spread.errors import SettingsError

LOOPBACK = ("localhost", "127.0.0.1", "::1")
_NAME = re.compile(r"(?=.{1,253}$)[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*")


@dataclass(frozen=True, slots=True)
class Reach:
    """Which names in a request are ours.

    ``hosts``: names and addresses, without port or brackets, that may stand in the Host header. ``origin``:
    Scheme and host of the public address, such as ``https://spread.example.org``; empty if none.
    ``any_address``: whether a bare IP address is trusted as well: the server listens on all of the machine's.
    A page elsewhere can have its own *name* point here, but never a bare address.
    """

    hosts: tuple[str, ...] = LOOPBACK
    origin: str = ""
    any_address: bool = False

    @property
    def secure(self) -> bool:
        """Whether people come by https, so that the cookie may travel by nothing else."""
        return self.origin.startswith("https://")

    def trusts(self, host: str) -> bool:
        """Say whether a Host header is ours."""
        try:
            name = "" if set(host) & set("@/?#\\") else urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        return name in self.hosts or (self.any_address and _is_address(name))

    def came_from_here(self, origin: str, host: str) -> bool:
        """Say whether a page of this server sent a request: by its Origin (scheme too) and its Host.

        This server itself speaks http; what comes by https came to the public address.
        """
        if bool(self.origin) and origin == self.origin:
            return True
        public = bool(self.origin) and host == urlsplit(self.origin).netloc
        return origin == f"http://{host}" and not (public and self.secure)


LOCAL = Reach()


def reach_of(host: str, public: str = "") -> Reach:
    """Return what ``--host`` and ``--public`` trust.

    Raises SettingsError if the public address is none, or the host is empty.
    """
    origin = _origin(public) if public else ""
    hosts = list(LOOPBACK)
    if origin:
        hosts.append(urlsplit(origin).hostname or "")
    if not host:
        raise _wrong("--host", "it is empty", "leave it out, or name an address of this machine")
    everywhere = _is_address(host) and ipaddress.ip_address(host).is_unspecified
    if host not in LOOPBACK and not everywhere:
        hosts.append(host.lower())
    return Reach(tuple(hosts), origin, everywhere)


def check_port(port: int) -> None:
    """Raise SettingsError unless the port is one."""
    if not 1 <= port <= 65535:
        raise _wrong("--port", f"{port} is no port", "choose one from 1024 to 65535")


def is_open_to_others(host: str, public: str) -> bool:
    """Say whether anybody but this machine can reach the server."""
    return host not in LOOPBACK or bool(public)


def _origin(public: str) -> str:
    fix = "write it as https://spread.example.org"
    try:
        parts = urlsplit(public)
        port = parts.port
    except ValueError:
        raise _wrong("--public", f"{public[:60]!r} is no address", fix) from None
    name = (parts.hostname or "").lower()
    rest = (parts.path.rstrip("/"), parts.query, parts.fragment, parts.username or parts.password)
    if parts.scheme not in ("http", "https") or not (_NAME.fullmatch(name) or _is_address(name)):
        raise _wrong("--public", f"{public[:60]!r} is no address", fix)
    if any(rest):
        raise _wrong("--public", f"{public[:60]!r} has more than a scheme, a host and a port", fix)
    usual = {"http": 80, "https": 443}[parts.scheme]
    return f"{parts.scheme}://{_bare(name)}" + (f":{port}" if port and port != usual else "")


def _bare(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _wrong(where: str, what: str, fix: str) -> SettingsError:
    return SettingsError.at("spread serve", where, what, fix)
