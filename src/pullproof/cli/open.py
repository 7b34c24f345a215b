"""`pullproof open`: the same job in the browser, with a library that remembers."""

import webbrowser
from pathlib import Path

import click

from pullproof.cli.library import database_option, library_option
from pullproof.library import default_folder, open_library
from pullproof.web.serving import serve

__all__ = ["command"]


@click.command("open")
@library_option
@database_option
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen at; others need accounts.")
@click.option("--port", type=click.IntRange(1, 65_535), metavar="N", help="Port; without it one that is free.")
@click.option("--name", "names", multiple=True, help="Host name under which others on the network reach this machine.")
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
def command(
    folder: str | None,
    database: str | None,
    host: str,
    port: int | None,
    names: tuple[str, ...],
    no_browser: bool,
) -> int:
    """Open a library in the browser: logs, pulls, comparisons and reports without typing a command."""
    library = open_library(Path(folder) if folder else default_folder(), database)

    def ready(address: str, first: bool) -> None:
        click.echo(address)
        click.echo(f"Library: {library.folder}. Stop with Ctrl-C.")
        if first:
            click.echo("Nobody has an account yet: whoever opens this address first makes the first one.")
        if not no_browser:
            webbrowser.open(address)

    try:
        serve(library, host, port, ready, frozenset(names))
    finally:
        library.close()
    click.echo("\nStopped.")
    return 0
