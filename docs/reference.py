"""Make the reference pages from the code, or check that they are not stale.

python -m docs.reference            write docs/reference/*.md
python -m docs.reference --check    exit 1 where a page is stale
"""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import click

from pullproof.channels import CHANNELS
from pullproof.cli.main import COMMANDS, main
from pullproof.measures import MEASURES

FOLDER = Path(__file__).parent / "reference"
NOTICE = "<!-- made from the code by `make docs`; do not edit -->\n\n"


def channels_page() -> str:
    """Canonical channels with units and plausible ranges."""
    lines = [
        "# Channels\n",
        "A column of a log that is recognised becomes one of these, in this unit.",
        "A value outside the plausible range speaks against a recognition; it is not changed or dropped.\n",
        "| name | unit | plausible | note |",
        "| --- | --- | --- | --- |",
    ]
    for channel in CHANNELS.values():
        low, high = channel.plausible
        lines.append(f"| `{channel.name}` | {channel.unit} | {low:g} to {high:g} | {channel.description} |")
    return "\n".join(lines) + "\n"


def measures_page() -> str:
    """Measures with their meaning."""
    lines = [
        "# Measures\n",
        "One number from one pull, within the window of engine speed.\n",
        "| id | unit | meaning |",
        "| --- | --- | --- |",
    ]
    lines += [f"| `{measure.id}` | {measure.unit} | {measure.meaning} |" for measure in MEASURES.values()]
    return "\n".join(lines) + "\n"


def commands_page() -> str:
    """Every command as it describes itself."""
    parts = ["# Commands\n", "What `--help` prints.\n"]
    context = click.Context(main, info_name="pullproof")
    for name in COMMANDS:
        command = main.get_command(context, name)
        if command is None:
            raise KeyError(name)
        parts += _described(command, click.Context(command, info_name=name, parent=context, max_content_width=100))
    return "\n".join(parts)


def _described(command: click.Command, context: click.Context) -> list[str]:
    """What a command says of itself, and what those below it say."""
    parts = [f"## `{context.command_path}`\n\n```text\n{command.get_help(context)}\n```\n"]
    for name in command.list_commands(context) if isinstance(command, click.Group) else ():
        below = command.get_command(context, name)
        if below is not None:
            parts += _described(below, click.Context(below, info_name=name, parent=context, max_content_width=100))
    return parts


PAGES: Mapping[str, Callable[[], str]] = {
    "channels.md": channels_page,
    "measures.md": measures_page,
    "commands.md": commands_page,
}


def stale_pages() -> list[str]:
    """Names of the pages that differ from what the code says now."""
    return [
        name
        for name, make in PAGES.items()
        if not (FOLDER / name).exists() or (FOLDER / name).read_text(encoding="utf-8") != NOTICE + make()
    ]


def write_pages() -> None:
    """Write all pages."""
    FOLDER.mkdir(exist_ok=True)
    for name, make in PAGES.items():
        (FOLDER / name).write_text(NOTICE + make(), encoding="utf-8")


if __name__ == "__main__":
    if "--check" in sys.argv[1:]:
        stale = stale_pages()
        if stale:
            sys.exit(f"stale: {', '.join(stale)} in {FOLDER}. Run `make docs`.")
    else:
        write_pages()
