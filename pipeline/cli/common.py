"""What the commands share: exit codes, settings, memory, progress, messages."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.exit_codes import Exit
from pipeline.problems import failure

if TYPE_CHECKING:
    from click.decorators import FC

    from pipeline.problems import Problem
    from pipeline.progress import Progress
    from pipeline.run import Result
    from pipeline.settings import Settings
    from pipeline.snapshot import Snapshot

EXIT_FAIL_ON, EXIT_NOTHING = Exit.FAIL_ON, Exit.NOTHING

#: A file or folder, as pathlib takes it.
PATH = click.Path(path_type=Path)


class Group(click.Group):
    """Commands are listed in the order in which they were added."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


def quiet_option(help: str) -> Callable[[FC], FC]:
    """``--quiet``; what it leaves out differs by command."""
    return click.option("--quiet", "-q", is_flag=True, help=help)


def text_option(name: str, help: str) -> Callable[[FC], FC]:
    """A text, "" unless given."""
    return click.option(name, default="", help=help)


def number_option(
    name: str, least: int, most: int | None, default: int, help: str
) -> Callable[[FC], FC]:
    """A whole number between two bounds, both allowed."""
    return click.option(
        name, type=click.IntRange(least, most), default=default, show_default=True, help=help
    )


def form_option(name: str, *forms: str, help: str) -> Callable[[FC], FC]:
    """``form``: what is written; the first of the forms unless chosen."""
    return click.option(
        name, "form", type=click.Choice(forms), default=forms[0], show_default=True, help=help
    )


def paths_argument(help: str = "Files and folders of the collection.") -> Callable[[FC], FC]:
    """One path or more."""
    return click.argument("paths", type=PATH, nargs=-1, required=True, help=help)


path_argument = click.argument("path", type=PATH, help="The collection, as for verify.")


def say(text: str) -> None:
    click.echo(text, err=True)


def say_all(problems: Iterable[Problem]) -> None:
    for problem in problems:
        say(problem.render())


def run_on(paths: Path | Sequence[Path]) -> Result:
    """A collection run in memory, with a progress bar and nothing printed."""
    from pipeline.run import verify

    with progress_bar(False) as progress:
        return verify(paths, progress=progress)


def live_snapshot() -> Snapshot:
    from pipeline.snapshot import open_snapshot

    with share_bar(False) as progress:
        found = open_snapshot(progress=progress)
    say_all(found.notes)
    return found


def settings_with(base: Settings | None = None, **changes: object) -> Settings:
    """Settings with changes of the command line.

    Raises:
        SteelyardError: a value is impossible; the message names the option.
    """
    from pipeline.settings import InvalidSettings, Settings, checked  # here: not every command asks

    try:
        return checked({**asdict(base or Settings()), **changes})
    except InvalidSettings as fault:
        name, why = fault.faults[0]
        raise failure(
            "option-invalid", name=name.replace("_", "-"), value=changes.get(name), why=why
        ) from None


def must_exist(path: Path | None, what: str) -> None:
    if path is not None and not path.is_file():
        raise failure("file-missing", source=str(path), kind=what, path=path)


def load_memory(pantry: Path | None, decisions: Path | None) -> dict[str, Any]:
    from pipeline.memory import load_decisions, load_pantry

    must_exist(pantry, "pantry")
    must_exist(decisions, "decisions")
    own, problems = load_pantry(pantry)
    answers, more = load_decisions(decisions)
    say_all([*problems, *more])
    return {"pantry": own, "decisions": answers}


@contextlib.contextmanager
def progress_bar(quiet: bool) -> Iterator[Progress]:
    """A progress bar on a screen; nothing in a pipe or when quiet."""
    if quiet or not sys.stderr.isatty():
        yield lambda _stage, _done, _total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bars

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
    )
    with Bars(*columns, console=Console(stderr=True), transient=True) as bars:
        task = bars.add_task("starting", total=1)
        yield lambda stage, done, total: bars.update(
            task, description=stage, completed=done, total=max(total, 1)
        )


@contextlib.contextmanager
def share_bar(quiet: bool) -> Iterator[Callable[[str, float], None]]:
    """The same for work that tells what it does and which share of it is done, 0 to 1."""
    with progress_bar(quiet) as progress:
        yield lambda what, share: progress(what, int(100 * share), 100)
