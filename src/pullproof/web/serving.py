"""Run the application until somebody stops it."""

import os
import secrets
import socket
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Final

import uvicorn

from pullproof.errors import WrongUse
from pullproof.library import Library
from pullproof.web.accounts import Accounts
from pullproof.web.app import create_app
from pullproof.web.imports import Imports
from pullproof.web.security import LOOPBACK_NAMES, Access, is_loopback

__all__ = ["Server", "kept_key", "listen", "serve"]

USUAL_PORT: Final = 8517
TRIED_PORTS: Final = 20

IN_HAND_S: Final = 15.0
"""How long the end waits for a file that is being read. [s]"""

ACCOUNTS, KEY = "accounts.sqlite", "browser-key"
"""Files of ours in the folder of the library."""


class Server(uvicorn.Server):
    """A server that tells the imports when it is about to end."""

    def __init__(self, config: uvicorn.Config, imports: Imports) -> None:
        super().__init__(config)
        self._imports = imports

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Somebody wants the process to end."""
        self._imports.stop()
        super().handle_exit(sig, frame)


def serve(
    library: Library,
    host: str,
    port: int | None,
    ready: Callable[[str, bool], None],
    names: frozenset[str] = frozenset(),
) -> None:
    """Serve a library; comes back when the process is told to stop.

    Parameters
    ----------
    library : Library
        What is served.
    host : str
        Address to listen at. Any but a loopback one demands accounts.
    port : int, optional
        Port to listen at; without it the usual one, or the next that is free.
    ready : callable
        Called once it listens, with the address to open and whether that is the way to the first account.
    names : frozenset of str
        Host names under which others on the network know this machine.

    Raises
    ------
    WrongUse
        Nothing can listen at that address.
    """
    listener = listen(host, port)
    actual: int = listener.getsockname()[1]
    if is_loopback(host):
        access = Access(actual, token=kept_key(library.folder / KEY))
        address, first = f"http://{_in_address(host)}:{actual}/?token={access.token}", False
    else:
        accounts = Accounts(library.folder / ACCOUNTS)
        here = {host, socket.gethostname(), f"{socket.gethostname()}.local"}
        access = Access(actual, accounts=accounts, names=LOOPBACK_NAMES | {name.casefold() for name in here | names})
        shown = socket.gethostname() if host in ("0.0.0.0", "::") else _in_address(host)  # noqa: S104  (asked for)
        first = not accounts.people()
        address = f"http://{shown}:{actual}/" + (f"first-account?key={accounts.first_key}" if first else "")
    with listener:
        app = create_app(library, access)
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            lifespan="off",
            timeout_graceful_shutdown=2,
        )
        ready(address, first)
        server = Server(config, app.state.desk.imports)
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            pass  # the usual way to stop; everything that was acknowledged is kept
        finally:
            app.state.desk.imports.wait(IN_HAND_S)


def listen(host: str, port: int | None) -> socket.socket:
    """A socket that listens at a port, or at the first one that is free.

    Raises
    ------
    WrongUse
        Nothing can listen there.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    wanted = [port] if port is not None else [*range(USUAL_PORT, USUAL_PORT + TRIED_PORTS), 0]
    for number in wanted:
        listener = socket.socket(family, socket.SOCK_STREAM)
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, number))
            listener.listen(128)
        except (OSError, OverflowError) as error:
            listener.close()
            reason = getattr(error, "strerror", None) or str(error)
        else:
            return listener
    raise WrongUse(
        f"nothing can listen there ({reason})",
        where=f"{host}:{wanted[0]}",
        advice="Name another port with --port, or stop the program that uses this one.",
    )


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def kept_key(file: Path) -> str:
    """The key of this library, kept so that a bookmark works after a restart; nobody else may read the file."""
    try:
        kept = file.read_text("ascii").strip()
        if len(kept) >= 32:
            return kept
    except (OSError, UnicodeDecodeError):
        pass
    made = secrets.token_urlsafe(32)
    file.unlink(missing_ok=True)
    file.touch(mode=0o600, exist_ok=False)
    file.write_text(made, "ascii")
    return made
