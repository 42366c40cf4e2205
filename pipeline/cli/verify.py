"""``steelyard verify``: the main job."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.common import (
    EXIT_FAIL_ON,
    EXIT_NOTHING,
    must_exist,
    progress_bar,
    say,
    settings_with,
)
from pipeline.problems import Problem, SteelyardError

if TYPE_CHECKING:
    from pipeline.bulk import BulkSummary
    from pipeline.run import Result
    from pipeline.settings import Settings


class FailOn(StrEnum):
    """What makes `verify` end with exit code 1."""

    disagrees = "disagrees"
    uncertain = "uncertain"
    problems = "problems"


class OutFormat(StrEnum):
    """What ``--out`` can write."""

    csv = "csv"
    parquet = "parquet"
    json = "json"
    html = "html"
    markdown = "markdown"
    junit = "junit"
    sarif = "sarif"


class By(StrEnum):
    """How reports are split."""

    creator = "creator"


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
    format: Annotated[
        list[OutFormat] | None,
        typer.Option(help="What --out writes; may be repeated. Default: csv, parquet, json, html."),
    ] = None,
    by: Annotated[
        By | None, typer.Option(help="Also one report a creator, in out/creators/.")
    ] = None,
    publish: Annotated[
        str | None, typer.Option(help="Rounding of the numbers to publish: whole, eu or us.")
    ] = None,
    write_corrected: Annotated[
        Path | None,
        typer.Option(help="Folder for copies of disagreeing recipes with corrected numbers."),
    ] = None,
    bulk: Annotated[
        bool,
        typer.Option(
            "--bulk", help="Read and write in parts; taken by itself for very large tables."
        ),
    ] = False,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on with a bulk run that was stopped.")
    ] = False,
    cluster: Annotated[
        str,
        typer.Option(help='Scheduler of a Dask cluster, or "local"; needs the extra "cluster".'),
    ] = "",
    show: Annotated[
        int | None,
        typer.Option(
            help="Recipes in the table here, those that differ most first. Default: all of up to 40,"
            " else 20.",
            min=0,
        ),
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
    changes = {"profile": profile, "percent": percent, "spoons": spoons, "publish": publish}
    settings = settings_with(settings, **{k: v for k, v in changes.items() if v is not None})
    for given, what in ((pantry, "pantry"), (decisions, "decisions")):
        must_exist(given, what)
    if bulk or resume or cluster or (out is not None and _large(paths)):
        _in_parts(
            paths, out, settings, pantry, decisions, resume, cluster, fail_on or [], quiet, show
        )
        return
    stdin = sys.stdin.buffer.read() if "-" in paths else None
    with progress_bar(quiet) as progress:
        result = run(
            list(paths), settings=settings, pantry=pantry, decisions=decisions, stdin=stdin,
            progress=progress,
        )  # fmt: skip
        written = []
        if out is not None:
            from pipeline.report import DEFAULT_FORMATS, write

            progress("writing the report", 0, 1)
            chosen = [f.value for f in format] if format else list(DEFAULT_FORMATS)
            written = write(result, out, formats=chosen, by_creator=by is By.creator)
    if write_corrected is not None:
        _write_copies(result, write_corrected, quiet)
    if not quiet:
        from pipeline.report.terminal import print_result

        print_result(result, written, out, paths=paths, corrected=write_corrected, show=show)
    if result.recipes.empty:
        for problem in result.collection.problems[:20] if quiet else []:
            say(problem.render())
        raise typer.Exit(EXIT_NOTHING)
    if _fails(result, fail_on or []):
        raise typer.Exit(EXIT_FAIL_ON)


def _large(paths: list[str]) -> bool:
    from pipeline.bulk import should_stream

    return should_stream(list(paths))


def _in_parts(
    paths: list[str], out: Path | None, settings: Settings, pantry: Path | None,
    decisions: Path | None, resume: bool, cluster: str, fail_on: list[FailOn], quiet: bool,
    show: int | None,
) -> None:  # fmt: skip
    from pipeline.bulk import verify_bulk

    if out is None:
        raise SteelyardError(
            Problem(
                "option-missing",
                "a run in parts needs --out",
                "its results are files, one a part",
                "add --out FOLDER",
            )
        )
    with progress_bar(quiet) as progress:
        done = verify_bulk(
            list(paths), out, settings=settings, pantry=pantry, decisions=decisions, resume=resume,
            cluster=cluster, progress=progress,
        )  # fmt: skip
    if not quiet:
        _print_parts(done, show)
    if not done.recipes:
        raise typer.Exit(EXIT_NOTHING)
    wrong, open_ = (
        done.verdicts.get(v, 0) - done.accepted.get(v, 0) for v in ("disagrees", "uncertain")
    )
    if (FailOn.disagrees in fail_on and wrong) or (FailOn.uncertain in fail_on and wrong + open_):
        raise typer.Exit(EXIT_FAIL_ON)


def _print_parts(done: BulkSummary, show: int | None) -> None:
    """What a run in parts found: the largest differences, counts, problems, where the results are."""
    from pipeline.report.terminal import biggest_table, not_shown, print_table, shown_rows
    from pipeline.report.words import plural

    most = shown_rows(done.recipes, show)
    if done.biggest[:most]:
        print_table(biggest_table(done.biggest[:most]))
    more = not_shown(done.recipes, len(done.biggest[:most]), "the report")
    counts = ", ".join(f"{n:,} {v.replace('_', ' ')}" for v, n in done.verdicts.items() if n)
    recipes, lines = plural(done.recipes, "recipe"), plural(done.lines, "line")
    for text in [more] if more else []:
        typer.echo(text)
    typer.echo(f"{recipes}, {lines} ({done.texts:,} distinct): {counts}.")
    for code, count in list(done.problems.items())[:8]:
        typer.echo(f"  {count:,} x {code}")
    typer.echo(f"Results: {done.folder}")
    typer.echo(f"Report: {done.folder}/report.html")


def _write_copies(result: Result, folder: Path, quiet: bool) -> None:
    from pipeline.publish.correct import write_corrected
    from pipeline.result import corrected_numbers

    copies = write_corrected(result.collection, corrected_numbers(result), folder)
    for problem in copies.problems:
        say(problem.render())
    if not quiet:
        from pipeline.report.words import plural

        made = plural(len(copies.paths), "file")
        typer.echo(f"{made} with corrected numbers in {folder}; the originals are untouched.")


def _fails(result: Result, fail_on: list[FailOn]) -> bool:
    counts = result.standing()  # accepted differences fail nothing
    return (
        (FailOn.disagrees in fail_on and counts["disagrees"] > 0)
        or (FailOn.uncertain in fail_on and counts["disagrees"] + counts["uncertain"] > 0)
        or (FailOn.problems in fail_on and bool((result.problems["severity"] == "error").any()))
    )
