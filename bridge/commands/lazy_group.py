"""Group of commands whose modules are imported when a command is used.

The help of the whole program needs only names and one-line texts, so a table holds these.

Takes: the table of commands.  Gives: `LazyGroup`, which loads a command when its name is looked up.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, MutableMapping
from importlib import import_module
from typing import Any, NamedTuple

import typer
from typer.core import TyperCommand, TyperGroup


class CommandRef(NamedTuple):
    """A command that is not imported yet.

    Attributes:
        name: the word on the command line.
        target: `MODULE:NAME` of its function, or of a `typer.Typer` with commands of its own.
        summary: the first sentence of its help, for the help of the program.
    """

    name: str
    target: str
    summary: str

    def load(self) -> Any:  # noqa: ANN401 - the base class of commands is private to Typer
        """Import the module and build the command."""
        module, _, attribute = self.target.partition(":")
        found = getattr(import_module(module), attribute)
        holder = typer.Typer(rich_markup_mode=None)
        if isinstance(found, typer.Typer):
            holder.add_typer(found, name=self.name)
        else:
            holder.command(self.name)(found)
        return typer.main.get_group(holder).commands[self.name]


class LazyCommands(MutableMapping[str, Any]):
    """Commands by name; each is loaded when it is first looked up."""

    def __init__(self, refs: Iterable[CommandRef]) -> None:
        """Store the table."""
        self.refs = {ref.name: ref for ref in refs}
        self._loaded: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401 - as above
        """Give a command; load it at the first time."""
        if name not in self._loaded:
            self._loaded[name] = self.refs[name].load()
        return self._loaded[name]

    def __setitem__(self, name: str, command: Any) -> None:  # noqa: ANN401 - as above
        """Refuse: the table is complete from the start."""
        raise TypeError("the table of commands does not change")

    def __delitem__(self, name: str) -> None:
        """Refuse: the table is complete from the start."""
        raise TypeError("the table of commands does not change")

    def __contains__(self, name: object) -> bool:
        """Check a name without loading its command."""
        return name in self.refs

    def __iter__(self) -> Iterator[str]:
        """Give the names in the order of the table."""
        return iter(self.refs)

    def __len__(self) -> int:
        """Count the commands."""
        return len(self.refs)


class LazyGroup(TyperGroup):
    """Group that lists its commands from their table, and loads the one that is used."""

    refs: tuple[CommandRef, ...] = ()

    def __init__(self, **options: Any) -> None:  # noqa: ANN401 - Typer's own
        """Replace Typer's commands, which would be complete, by those of the table."""
        super().__init__(**options | {"commands": None})
        self.commands = LazyCommands(self.refs)

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ANN401, ARG002 - private types of Typer
        """Write names and summaries, without loading a command."""
        limit = formatter.width - 6 - max(len(ref.name) for ref in self.refs)
        rows = [
            (ref.name, TyperCommand(ref.name, help=ref.summary).get_short_help_str(limit))
            for ref in self.refs
        ]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


def lazy_group(refs: Iterable[CommandRef]) -> type[LazyGroup]:
    """Make a group class for Typer's `cls`, which passes no arguments of its own.

    Args:
        refs: the commands, in the order of the help.
    """
    return type("LazyGroupOfTable", (LazyGroup,), {"refs": tuple(refs)})
