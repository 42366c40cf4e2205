"""The command line: a door. Each command reads its arguments, calls a stage and prints.

Exit codes: 0 done; 1 the condition of ``--fail-on`` holds; 2 the command could not be carried out
(wrong usage, nothing readable); 3 no recipe could be found.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pipeline.problems import Problem, SteelyardError

if TYPE_CHECKING:
    from pipeline.run import Progress, Read, Result
    from pipeline.settings import Settings
    from pipeline.snapshot import Snapshot

EXIT_OK, EXIT_FAIL_ON, EXIT_ERROR, EXIT_NOTHING = 0, 1, 2, 3

app = typer.Typer(
    name="steelyard",
    help="Checks the calories and macros recipes state against what their ingredients add up to.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    add_completion=False,
    epilog="Values are estimates from average composition. No medical advice, and no food label.",
)


class LineFormat(StrEnum):
    """How `match` prints."""

    table = "table"
    jsonl = "jsonl"


class FailOn(StrEnum):
    """What makes `verify` end with exit code 1."""

    disagrees = "disagrees"
    uncertain = "uncertain"
    problems = "problems"


def _say(text: str) -> None:
    typer.echo(text, err=True)


def _utf8() -> None:
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")


@app.command()
def match(
    lines: Annotated[
        list[str] | None, typer.Argument(help="Ingredient lines; none: standard input.")
    ] = None,
    format: Annotated[
        LineFormat, typer.Option(help="table, or jsonl: one object a line.")
    ] = LineFormat.table,
    explain: Annotated[
        bool, typer.Option("--explain", help="Show candidates, features and measure.")
    ] = False,
    pantry: Annotated[
        Path | None, typer.Option(help="Pantry of label foods (CSV or YAML).")
    ] = None,
    decisions: Annotated[Path | None, typer.Option(help="Remembered answers (CSV).")] = None,
    spoons: Annotated[str, typer.Option(help="Cups and spoons: us, metric, uk or au.")] = "us",
) -> None:
    """Say which food each ingredient line means, and how many grams.

    steelyard match "2 large eggs" "1½ cups cooked brown rice"
    """
    from pipeline.run import load_tools, read_lines

    texts = list(lines) if lines else _lines_of_stdin()
    tools = load_tools(_snapshot(), settings=_settings(spoons=spoons), **_memory(pantry, decisions))
    distinct = list(dict.fromkeys(texts))
    read = dict(zip(distinct, read_lines(distinct, tools), strict=True))
    if format is LineFormat.jsonl:
        for text in texts:
            typer.echo(json.dumps(_as_object(text, read[text]), ensure_ascii=False))
        return
    from pipeline.report.terminal import lines_table, print_table

    print_table(lines_table([(text, read[text]) for text in texts]))
    if explain:
        from pipeline.match.explain import explain_line

        for text in texts:
            typer.echo(explain_line(read[text], tools.matcher))


def _as_object(text: str, read: Read) -> dict[str, object]:
    def figure(value: float | None) -> float | None:
        return None if value is None else round(value, 3)

    weight, chosen = read.weight, read.match
    reason = "; ".join(r for r in (chosen.reason, weight.reason) if r)
    return {
        "line": text,
        "food_id": chosen.food_id,
        "description": chosen.description,
        "confidence": round(chosen.confidence, 4),
        "status": chosen.status,
        "grams": figure(weight.grams),
        "grams_low": figure(weight.low),
        "grams_high": figure(weight.high),
        "basis": weight.basis,
        "reason": reason,
    }


def _lines_of_stdin() -> list[str]:
    if sys.stdin.isatty():
        _say("Reading ingredient lines from the keyboard; end with Ctrl-D.")
    raw = sys.stdin.buffer.read()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return [line for line in text.splitlines() if line.strip()]


@app.command()
def verify(
    paths: Annotated[
        list[str],
        typer.Argument(help="Recipe files, folders (searched below), or - for standard input."),
    ],
    out: Annotated[
        Path | None, typer.Option(help="Folder for report.html, CSV, JSON and Parquet.")
    ] = None,
    profile: Annotated[
        str | None, typer.Option(help="Tolerance: eu (default), eu_label, us or percent.")
    ] = None,
    percent: Annotated[
        float | None,
        typer.Option(help="Allowed difference for --profile percent.", min=0.1, max=100),
    ] = None,
    fail_on: Annotated[
        list[FailOn] | None,
        typer.Option(
            help="End with exit code 1 when a recipe disagrees, is uncertain, or input has problems."
        ),
    ] = None,
    pantry: Annotated[
        Path | None,
        typer.Option(help="Label foods; default pantry.csv beside the recipes."),
    ] = None,
    decisions: Annotated[
        Path | None,
        typer.Option(help="Answers; default decisions.csv beside the recipes."),
    ] = None,
    spoons: Annotated[
        str | None, typer.Option(help="Cups and spoons: us, metric, uk or au.")
    ] = None,
    quiet: Annotated[
        bool, typer.Option("--quiet", "-q", help="No table; files and exit code only.")
    ] = False,
) -> None:
    """Check what recipes state against what their ingredients add up to.

    steelyard verify my-recipes/ --out out
    """
    from pipeline.intake import collection_root
    from pipeline.run import verify as run
    from pipeline.settings import load_settings

    settings = load_settings(collection_root(list(paths)))
    changes = {"profile": profile, "percent": percent, "spoons": spoons}
    settings = _settings(settings, **{k: v for k, v in changes.items() if v is not None})
    for given, what in ((pantry, "pantry"), (decisions, "decisions")):
        _must_exist(given, what)
    stdin = sys.stdin.buffer.read() if "-" in paths else None
    with _progress(quiet) as progress:
        result = run(
            list(paths), settings=settings, pantry=pantry, decisions=decisions, stdin=stdin,
            progress=progress,
        )  # fmt: skip
        written = []
        if out is not None:
            from pipeline.report import write

            progress("writing the report", 0, 1)
            written = write(result, out)
    if not quiet:
        from pipeline.report.terminal import print_result

        print_result(result, written, out)
    if result.recipes.empty:
        for problem in result.collection.problems[:20] if quiet else []:
            _say(problem.render())
        raise typer.Exit(EXIT_NOTHING)
    if _fails(result, fail_on or []):
        raise typer.Exit(EXIT_FAIL_ON)


def _fails(result: Result, fail_on: list[FailOn]) -> bool:
    counts = result.counts()
    return (
        (FailOn.disagrees in fail_on and counts["disagrees"] > 0)
        or (FailOn.uncertain in fail_on and counts["disagrees"] + counts["uncertain"] > 0)
        or (FailOn.problems in fail_on and bool((result.problems["severity"] == "error").any()))
    )


@app.command()
def foods(
    query: Annotated[list[str], typer.Argument(help="Words to look for, e.g. greek yogurt.")],
    limit: Annotated[int, typer.Option(help="How many foods to show.", min=1, max=200)] = 15,
    state: Annotated[
        list[str] | None, typer.Option(help="raw, cooked, canned ...; may be repeated.")
    ] = None,
) -> None:
    """Search the food table by a cook's words; the likeliest first, values per 100 g.

    steelyard foods brown rice --state cooked
    """
    from pipeline.match import load_index
    from pipeline.match.search import search
    from pipeline.report.terminal import foods_table, print_table

    snapshot = _snapshot()
    with snapshot.connect() as con:
        found = search(
            load_index(con, snapshot.folder), " ".join(query), frozenset(state or ()), limit
        )
    if not found:
        _say(f'No food of the table is called anything like "{" ".join(query)}".')
        raise typer.Exit(EXIT_NOTHING)
    print_table(foods_table(found))


snapshot_app = typer.Typer(
    help="The nutrient table in force: build it, look at it, check it again.", no_args_is_help=True
)
app.add_typer(snapshot_app, name="snapshot")


@snapshot_app.command("build")
def snapshot_build(
    force: Annotated[
        bool, typer.Option("--force", help="Build again even when nothing changed.")
    ] = False,
) -> None:
    """Build the nutrient table from the embedded source; checks gate it.

    steelyard snapshot build
    """
    from pipeline.snapshot import build

    with _progress(False) as progress:
        made = build(
            force=force, progress=lambda text, share: progress(text, int(100 * share), 100)
        )
    typer.echo(
        f"{made.snapshot_id} ({made.release}) {'built' if made.just_built else 'is current'}: {made.path}"
    )


@snapshot_app.command("show")
def snapshot_show() -> None:
    """Say which table is in force, where it comes from and what it holds.

    steelyard snapshot show
    """
    from pipeline.snapshot import show

    facts = show()
    for key, value in facts.items():
        if key == "sources":
            for source in value:
                typer.echo(f"{'source:':<14}{source['title']}, release {source['release']}")
                typer.echo(f"{'':<14}{source['publisher']}; {source['licence']}")
        elif isinstance(value, dict):
            typer.echo(f"{key + ':':<14}" + ", ".join(f"{v} {k}" for k, v in value.items()))
        else:
            typer.echo(f"{key + ':':<14}{value}")


@snapshot_app.command("check")
def snapshot_check() -> None:
    """Run the checks on the table in force again; exit code 2 when one fails.

    steelyard snapshot check
    """
    from pipeline.snapshot import check

    result = check()
    typer.echo(f"{len(result.checks)} checks, {len(result.broken)} broken")
    for broken in result.broken:
        typer.echo(f"  {broken}")
    if not result.passed:
        raise typer.Exit(EXIT_ERROR)


# --- what the commands share ----------------------------------------------------------------


def _snapshot() -> Snapshot:
    from pipeline.snapshot import open_snapshot

    with _progress(False) as progress:
        return open_snapshot(progress=lambda text, share: progress(text, int(100 * share), 100))


def _settings(base: Settings | None = None, **changes: object) -> Settings:
    """Settings with changes of the command line; an impossible value is told, not raised."""
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


def _must_exist(path: Path | None, what: str) -> None:
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


def _memory(pantry: Path | None, decisions: Path | None) -> dict[str, Any]:
    from pipeline.memory import load_decisions, load_pantry

    _must_exist(pantry, "pantry")
    _must_exist(decisions, "decisions")
    own, problems = load_pantry(pantry)
    answers, more = load_decisions(decisions)
    for problem in (*problems, *more):
        _say(problem.render())
    return {"pantry": own, "decisions": answers}


@contextlib.contextmanager
def _progress(quiet: bool) -> Iterator[Progress]:
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


def main() -> None:
    """Run the command line; a user's mistake ends in a message and an exit code."""
    _utf8()
    try:
        app()
    except SteelyardError as fault:
        _say(fault.problem.render())
        raise SystemExit(fault.exit_code) from None
    except KeyboardInterrupt:
        _say("Stopped.")
        raise SystemExit(130) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
