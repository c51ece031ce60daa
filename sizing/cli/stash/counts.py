"""`strandgauge stash use` and `recount`: how many beads there are."""

import click

from sizing.cli.options import WholeNumberType
from sizing.cli.stash.options import entry_argument, size_option
from sizing.report.sentences.stash import entry_sentence
from sizing.stash.book import writing
from sizing.stash.counts import recount as recount_entry
from sizing.stash.counts import use as use_entry
from sizing.stash.entries import find


class _CountCommand(click.Command):
    """A command whose last argument is a number; one with a minus is none of its options."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Parse what was typed; of a number below 0 say what is said of any that is out of reason."""
        typed = list(args)  # which click empties
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as error:
            if error.option_name[1:].isdecimal():
                number = [param for param in self.params if isinstance(param, click.Argument)][-1]
                shown = next(word for word in typed if word.startswith(error.option_name))
                number.type_cast_value(ctx, shown)
            raise


@click.command(cls=_CountCommand)
@entry_argument
@click.argument("beads", type=WholeNumberType("number of beads to take", least=1))
@size_option
@click.option("--why", default="used", metavar="TEXT", help="What for: the piece that they went into.")
def use(wanted: str, beads: int, *, size: int | None, why: str) -> None:
    """Take BEADS out of ENTRY (its number or name), as for a piece."""
    with writing() as book:
        entry = use_entry(book, find(book, wanted), beads, size=size, why=why)
    click.echo(f"Now {entry_sentence(entry)}")


@click.command(cls=_CountCommand)
@entry_argument
@click.argument("count", type=WholeNumberType("number of beads", least=0))
@size_option
@click.option("--why", default="counted", metavar="TEXT", help="Why it was not right.")
def recount(wanted: str, count: int, *, size: int | None, why: str) -> None:
    """Put the count of ENTRY (its number or name) right: there are COUNT."""
    with writing() as book:
        entry = recount_entry(book, find(book, wanted), count, size=size, why=why)
    click.echo(f"Now {entry_sentence(entry)}")
