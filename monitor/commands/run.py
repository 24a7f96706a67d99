"""`ebbwatch run`: the watch and its dashboard, until it is stopped."""

import asyncio
import contextlib
import logging
import signal
import socket
from collections.abc import Callable, Collection, Mapping
from functools import partial
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import uvicorn
from sse_starlette.sse import AppStatus

from monitor.commands.understand import understood
from monitor.daemon import Daemon, kernel_boot_id
from monitor.errors import SettingsError
from monitor.rights.password import read_password
from monitor.rights.private_file import password_file, server_file
from monitor.settings import Settings
from monitor.settings_writer import unset
from monitor.survey.ear import Ear
from monitor.survey.guide import Guide, first_settings
from monitor.system_clock import SystemClock
from web.app import create_app
from web.rights import Rights
from web.setup_pages import setup_pages

LOG = logging.getLogger("ebbwatch")
GOODBYE_S = 2
"""Browsers with an open stream are given this long at the end."""


def run_watch(settings_path: Path, listen: str, *, tls: bool = False) -> None:
    """Run until SIGTERM or SIGINT. Raises SettingsError and RightsError before anything starts."""
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(name)s: %(message)s")
    given = unset(settings_path)
    settings = understood(settings_path) if given is None else None
    with listening_socket(listen) as line:
        if settings is None:
            if not guided(settings_path, given or {}, line, tls=tls):
                return
            settings = understood(settings_path)
        watched(settings, settings_path, line, tls=tls)


def guided(path: Path, given: Mapping[str, Any], line: socket.socket, *, tls: bool) -> bool:
    """The first-run guide, on a watch that listens to nothing, until the settings are written; False where it
    is told to stop before."""
    LOG.info("%s has no source yet: the guide is on the dashboard", path)
    with contextlib.suppress(OSError):  # Where it cannot be made the pages say so.
        path.parent.mkdir(parents=True, exist_ok=True)
    guide = Guide(path, given, Ear(SystemClock()))
    try:
        watched(first_settings(guide), path, line, tls=tls, guide=guide)
    finally:
        guide.close()
    return guide.finished


def watched(
    settings: Settings, path: Path, line: socket.socket, *, tls: bool, guide: Guide | None = None
) -> None:
    """One watch and its dashboard. The line stays open: what asks between two watches waits for the next."""
    rights = rights_for(settings, path, line)
    names = certified_names(settings) if tls else ()
    daemon = Daemon(settings, SystemClock(), kernel_boot_id())
    try:
        asyncio.run(serve(server_for(daemon, rights, names, guide), line.dup(), daemon.start))
    finally:
        daemon.stop()


async def serve(server: uvicorn.Server, line: socket.socket, begin: Callable[[], None]) -> None:
    """Serve until SIGTERM or SIGINT, then return: uvicorn's own way would end the process at once. `begin` is
    called as soon as a signal would be heeded: whoever says that he is ready can be told to stop."""
    AppStatus.should_exit = False
    loop = asyncio.get_running_loop()
    for sign in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(sign, leave, server)
    begin()
    await server._serve([line])


def leave(server: uvicorn.Server) -> None:
    """Streams are told, which would hold the server up; another server in this process begins anew."""
    AppStatus.should_exit = True
    server.should_exit = True


def rights_for(settings: Settings, settings_path: Path, line: socket.socket) -> Rights:
    """Who may act. Raises SettingsError where others than this computer can ask and no password is set,
    and RightsError where its file cannot be used."""
    address = line.getsockname()[0]
    beyond = not ip_address(address.partition("%")[0]).is_loopback
    file = password_file(settings.store.path)
    if read_password(file) is None and beyond:
        raise SettingsError(
            [
                f"--listen: others than this computer reach {address}, and no password is set: whoever is on"
                f" that network could act aboard. Set one with `ebbwatch password {settings_path}`, or listen"
                " on 127.0.0.1"
            ]
        )
    return Rights(file, needed=beyond)


def certified_names(settings: Settings) -> tuple[str, ...]:
    """Whom the certificate vouches for, renewed where it is due. Raises RightsError where there is none."""
    from monitor.rights.certificate import served_with, utc  # Costs memory that only --tls needs.

    leaf, renewed = served_with(settings.store.path, utc(SystemClock().wall_s()))
    if renewed:
        LOG.info("the certificate was renewed: good until %s", f"{leaf.until:%Y-%m-%d}")
    return leaf.names


def server_for(
    daemon: Daemon, rights: Rights | None = None, names: Collection[str] = (), guide: Guide | None = None
) -> uvicorn.Server:
    """The dashboard's server, not yet running; with the names of a certificate it serves encrypted. With a
    guide every page leads to it, and the server ends when the settings are written."""
    certificate = server_file(daemon.settings.store.path) if names else None
    app = create_app(daemon, names, rights)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,  # An address is whose it is: nobody says so in a header of his own.
        timeout_graceful_shutdown=GOODBYE_S,
        ssl_certfile=certificate,
    )
    server = uvicorn.Server(config)
    if guide is not None:
        setup_pages(app, daemon, guide, partial(leave, server))
    return server


def listening_socket(listen: str) -> socket.socket:
    """A socket bound to HOST:PORT. Raises SettingsError, naming what was expected, if it cannot be."""
    host, _, port = listen.rpartition(":")
    host = host.strip("[]")
    if not host or not (port.isascii() and port.isdigit()) or not 0 < int(port) < 65536:
        raise SettingsError([f"--listen: expected HOST:PORT like 127.0.0.1:8470, got {listen!r}"])
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    line = socket.socket(family, socket.SOCK_STREAM)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        line.bind((host, int(port)))
    except (OSError, UnicodeError) as error:
        line.close()
        why = error.strerror if isinstance(error, OSError) else "not the name of a host"
        raise SettingsError([f"--listen: cannot listen on {listen}: {why}"]) from error
    return line
