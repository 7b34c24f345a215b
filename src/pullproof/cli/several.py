"""Options that take all file names up to the next option."""

from typing import ClassVar

import click

__all__ = ["SeveralValues"]


class SeveralValues(click.Command):
    """A command some of whose options take all file names up to the next option: `--before a.csv b.csv --after ...`."""

    several: ClassVar[tuple[str, ...]] = ("--before", "--after", "--logs")

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Repeat the option before each of its values, which is the form that click knows."""
        spelled: list[str] = []
        option = ""
        for argument in args:
            if argument.startswith("-") and argument != "-":
                option = argument if argument in self.several else ""
                if not option:
                    spelled.append(argument)
            elif option:
                spelled += [option, argument]
            else:
                spelled.append(argument)
        return super().parse_args(ctx, spelled)
