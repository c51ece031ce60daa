"""A group of commands of which each is imported only when it is called."""

import importlib
from collections.abc import Mapping
from typing import Any

import click


class LazyGroup(click.Group):
    """A group that lists its commands, in the order of use, without importing any.

    Parameters
    ----------
    table : mapping
        For each name, the module and name of the command, as `module:name`, and its short help.
    """

    def __init__(self, *args: Any, table: Mapping[str, tuple[str, str]] | None = None, **extra: Any) -> None:  # noqa: ANN401 - click's signature
        super().__init__(*args, **extra)
        self._table = table or {}

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names in the order of the help."""
        return list(self._table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import and return a command; None for an unknown name."""
        if cmd_name not in self._table:
            return None
        module, _, name = self._table[cmd_name][0].partition(":")
        command = getattr(importlib.import_module(module), name)
        if not isinstance(command, click.Command):
            raise TypeError(f"{module}:{name} must be a click command, got {command!r}")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, short_help) for name, (_, short_help) in self._table.items()])
