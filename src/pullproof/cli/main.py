"""The one door of the command line: a known error becomes one sentence and an exit status.

Commands live in one module each and are loaded only when asked for, so that `--help` answers at once.
"""

import codecs
import importlib
import io
import os
import sys
from collections.abc import Sequence

import click

from pullproof.errors import PullproofError

__all__ = ["main", "run"]

COMMANDS = {
    "demo": "demo car, logs and report, from nothing",
    "read": "what is in the files: columns, channels, units, rates, doubts",
    "pulls": "pulls found; used or not, and why",
    "compare": "what a change did: difference, interval, fairness checks, report",
    "power": "power at the wheels over engine speed, with what is in doubt about it",
    "coastdown": "rolling resistance and drag area from coast-downs",
    "airpath": "pressure loss along a charge pipe, what a new one would change, cut list",
    "plan": "how many pulls, in which order, what to log and to hold equal; a run card to print",
    "watch": "where knock, mixture, pressures and temperatures passed a limit, and what was not watched",
    "history": "effect of every change over a season",
    "open": "the same in the browser, with a library that remembers",
    "library": "what a folder that remembers holds: list, check, backup, restore, import",
}


SPELLED = {"\u2212": "-", "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "λ": "lambda", "°": " deg"}
"""For consoles without these letters, such as a redirected one on Windows."""


class LazyCommands(click.Group):
    """A group that imports a command's module when the command is called, not before."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  (click's signature)
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"pullproof.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands from the table above: loading all of them only to show a line each would be slow."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=LazyCommands)
@click.version_option(package_name="pullproof", prog_name="pullproof")
def main() -> None:
    """Says whether a part changed a turbocharged car, by how much, and how sure that is."""


def _fail(sentence: str, status: int) -> int:
    print(f"pullproof: {sentence}", file=sys.stderr)  # noqa: T201  (the door's own voice)
    return status


def _give_up_output() -> None:
    """Let what could not be written go: tried again at exit, it would end in a traceback."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _spelled(error: UnicodeError) -> tuple[str, int]:
    """Spell out what the console has no letter for: above all, a minus must never be lost."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(SPELLED.get(letter, "?") for letter in error.object[error.start : error.end]), error.end


def _answer(arguments: Sequence[str] | None) -> int:
    try:
        status = main.main(args=arguments, prog_name="pullproof", standalone_mode=False)
        if sys.stdout is not None:
            sys.stdout.flush()
    except PullproofError as error:
        return _fail(str(error), error.exit_status)
    except click.ClickException as error:
        hint = f" Try `{error.ctx.command_path} --help`." if isinstance(error, click.UsageError) and error.ctx else ""
        return _fail(error.format_message() + hint, 2)
    except (click.Abort, KeyboardInterrupt):
        return _fail("stopped.", 130)
    except (BrokenPipeError, SystemExit):
        # Somebody closed the pipe (`| head`), for which click has an exit of its own: that is no error.
        _give_up_output()
        return 0
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _give_up_output()
        return _fail(f"{where}the system does not let us write ({error.strerror}). Check space and permissions.", 2)
    except MemoryError:
        return _fail("there is not enough memory for these files. Cut the logs into shorter ones and try again.", 3)
    except Exception as error:
        if os.environ.get("PULLPROOF_TRACEBACK"):
            raise
        return _fail(
            f"this is a fault in pullproof, not in your files ({type(error).__name__}: {error}). "
            "Set PULLPROOF_TRACEBACK=1, run it again, and report what it prints.",
            1,
        )
    return status if isinstance(status, int) else 0


def run(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with the exit status of the contract."""
    # Our matrices are small: threads for linear algebra cost more than they give. Read when numpy is first loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    codecs.register_error("spelled", _spelled)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="spelled")
    sys.exit(_answer(arguments))
