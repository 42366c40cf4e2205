"""What the commands share: exit codes, settings, memory, progress, messages."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from pipeline.exit_codes import Exit
from pipeline.problems import Problem, SteelyardError

if TYPE_CHECKING:
    from pipeline.reading import Progress
    from pipeline.settings import Settings
    from pipeline.snapshot import Snapshot

EXIT_OK, EXIT_FAIL_ON, EXIT_ERROR, EXIT_NOTHING = (
    Exit.OK, Exit.FAIL_ON, Exit.USAGE, Exit.NOTHING,
)  # fmt: skip

#: Options of every command group: plain help, no shell completion to install, no tracebacks.
APP_OPTIONS: dict[str, Any] = {
    "no_args_is_help": True,
    "pretty_exceptions_enable": False,
    "rich_markup_mode": None,
    "add_completion": False,
}


def say(text: str) -> None:
    typer.echo(text, err=True)


def live_snapshot() -> Snapshot:
    from pipeline.snapshot import open_snapshot

    with progress_bar(False) as progress:
        found = open_snapshot(progress=lambda text, share: progress(text, int(100 * share), 100))
    for note in found.notes:
        say(note.render())
    return found


def settings_with(base: Settings | None = None, **changes: object) -> Settings:
    """Settings with changes of the command line; an impossible value ends in a message, not a traceback."""
    from pydantic import ValidationError

    from pipeline.settings import Settings

    values = base.model_dump() if base is not None else {}
    try:
        return Settings.model_validate({**values, **changes})
    except ValidationError as fault:
        first = fault.errors()[0]
        name = str(first["loc"][0])
        what = f'--{name.replace("_", "-")} "{changes.get(name)}" cannot be used'
        raise SteelyardError(
            Problem("option-invalid", what, str(first["msg"]), "see steelyard COMMAND --help")
        ) from None


def must_exist(path: Path | None, what: str) -> None:
    if path is not None and not path.is_file():
        raise SteelyardError(
            Problem(
                "file-missing",
                f'the {what} file "{path}" does not exist',
                "nothing was run",
                "check the path",
                source=str(path),
            )
        )


def load_memory(pantry: Path | None, decisions: Path | None) -> dict[str, Any]:
    from pipeline.memory import load_decisions, load_pantry

    must_exist(pantry, "pantry")
    must_exist(decisions, "decisions")
    own, problems = load_pantry(pantry)
    answers, more = load_decisions(decisions)
    for problem in (*problems, *more):
        say(problem.render())
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
