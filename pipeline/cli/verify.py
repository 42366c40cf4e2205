"""``steelyard verify``: the main job."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import click

from pipeline.cli.common import (
    EXIT_FAIL_ON,
    EXIT_NOTHING,
    PATH,
    must_exist,
    progress_bar,
    quiet_option,
    say_all,
    settings_with,
    text_option,
)
from pipeline.expressions import kept_expressions
from pipeline.problems import failure
from pipeline.report import FORMATS

if TYPE_CHECKING:
    from pipeline.bulk.schedule import BulkSummary
    from pipeline.run import Result
    from pipeline.settings import Settings

_FAIL_ON = ("disagrees", "uncertain", "problems")


@click.command()
@click.argument(
    "paths",
    nargs=-1,
    required=True,
    help="Recipe files, folders (searched below), or - for standard input.",
)
@click.option("--out", type=PATH, help="Folder for report.html, CSV, JSON and Parquet.")
@click.option("--profile", help="Tolerance: eu (default), eu_label, us or percent.")
@click.option(
    "--percent",
    type=click.FloatRange(0.1, 100),
    help="Allowed difference for --profile percent.",
)
@click.option(
    "--fail-on",
    type=click.Choice(_FAIL_ON),
    multiple=True,
    help="End with exit code 1 when a recipe disagrees, is uncertain, or input has problems.",
)
@click.option("--pantry", type=PATH, help="Label foods; default pantry.csv beside the recipes.")
@click.option("--decisions", type=PATH, help="Answers; default decisions.csv beside the recipes.")
@click.option("--spoons", help="Cups and spoons: us, metric, uk or au.")
@click.option(
    "--format",
    type=click.Choice(FORMATS),
    multiple=True,
    help="What --out writes; may be repeated. Default: csv, parquet, json, html.",
)
@click.option(
    "--by", type=click.Choice(["creator"]), help="Also one report a creator, in out/creators/."
)
@click.option("--publish", help="Rounding of the numbers to publish: whole, eu or us.")
@click.option(
    "--write-corrected",
    type=PATH,
    help="Folder for copies of disagreeing recipes with corrected numbers.",
)
@click.option(
    "--bulk", is_flag=True, help="Read and write in parts; taken by itself for very large tables."
)
@click.option("--resume", is_flag=True, help="Go on with a bulk run that was stopped.")
@click.option(
    "--workers",
    type=click.IntRange(1),
    help="Processes of a bulk run; fewer need less memory. Default: one a core.",
)
@text_option("--cluster", 'Scheduler of a Dask cluster, or "local"; needs the extra "cluster".')
@click.option(
    "--show",
    type=click.IntRange(0),
    help="Recipes in the table here, those that differ most first. Default: all of up to 40,"
    " else 20.",
)
@quiet_option("No table; files and exit code only.")
@kept_expressions()
def verify(
    profile: str | None,
    percent: float | None,
    spoons: str | None,
    publish: str | None,
    **given: Any,
) -> None:
    """Check what recipes state against what their ingredients add up to.

    steelyard verify my-recipes/ --out out
    """
    from pipeline.intake import collection_root
    from pipeline.settings import load_settings

    options = SimpleNamespace(**given)  # by the names of the options above
    changes = {"profile": profile, "percent": percent, "spoons": spoons, "publish": publish}
    settings = settings_with(
        load_settings(collection_root(list(options.paths))),
        **{k: v for k, v in changes.items() if v is not None},
    )
    must_exist(options.pantry, "pantry")
    must_exist(options.decisions, "decisions")
    parts = bool(options.bulk or options.resume or options.cluster)
    if options.out is not None and not parts:
        from pipeline.bulk.source import should_stream  # here: a run without files never asks

        parts = should_stream(list(options.paths))
    if parts:
        _in_parts(options, settings)
    else:
        _at_once(options, settings)


def _at_once(options: SimpleNamespace, settings: Settings) -> None:
    """The whole collection in memory."""
    from pipeline.run import verify as run

    stdin = sys.stdin.buffer.read() if "-" in options.paths else None
    with progress_bar(options.quiet) as progress:
        result = run(
            list(options.paths), settings=settings, stdin=stdin, progress=progress,
            pantry=options.pantry, decisions=options.decisions,
            brief=options.out is None and options.write_corrected is None,
        )  # fmt: skip
        written = []
        if options.out is not None:
            from pipeline.report import DEFAULT_FORMATS, write

            progress("writing the report", 0, 1)
            chosen = options.format or DEFAULT_FORMATS
            written = write(result, options.out, formats=chosen, by_creator=bool(options.by))
    if options.write_corrected is not None:
        _write_copies(result, options)
    if not options.quiet:
        from pipeline.report.terminal import print_result

        print_result(
            result, written, options.out, paths=options.paths, corrected=options.write_corrected,
            show=options.show,
        )  # fmt: skip
    if result.recipes.empty:
        say_all(result.collection.problems[:20] if options.quiet else [])
        raise click.exceptions.Exit(EXIT_NOTHING)
    counts = result.standing()  # accepted differences fail nothing
    errors = bool((result.problems["severity"] == "error").any())
    _fail_on(options.fail_on, counts["disagrees"], counts["uncertain"], errors)


def _in_parts(options: SimpleNamespace, settings: Settings) -> None:
    """A bulk run: its results are files alone."""
    from pipeline.bulk.schedule import verify_bulk

    if options.out is None:
        raise failure("option-missing")
    with progress_bar(options.quiet) as progress:
        done = verify_bulk(
            list(options.paths), options.out, settings=settings, resume=options.resume,
            workers=options.workers, cluster=options.cluster, progress=progress,
            pantry=options.pantry, decisions=options.decisions,
        )  # fmt: skip
    if not options.quiet:
        _print_parts(done, options.show)
    if not done.recipes:
        raise click.exceptions.Exit(EXIT_NOTHING)
    wrong, unsure = (
        done.verdicts.get(v, 0) - done.accepted.get(v, 0) for v in ("disagrees", "uncertain")
    )
    _fail_on(options.fail_on, wrong, unsure)


def _fail_on(chosen: tuple[str, ...], wrong: int, unsure: int, errors: bool = False) -> None:
    """End with exit code 1 when ``--fail-on`` asks for it."""
    found = {"disagrees": wrong > 0, "uncertain": wrong + unsure > 0, "problems": errors}
    if any(found[name] for name in chosen):
        raise click.exceptions.Exit(EXIT_FAIL_ON)


def _print_parts(done: BulkSummary, show: int | None) -> None:
    """What a run in parts found: the largest differences, counts, problems, where the results are."""
    from pipeline.report.terminal import biggest_table, not_shown, print_table, shown_rows
    from pipeline.report.words import plural, standing_counts

    most = shown_rows(done.recipes, show)
    if done.biggest[:most]:
        print_table(biggest_table(done.biggest[:most]))
    more = not_shown(done.recipes, len(done.biggest[:most]), "the report")
    counts = standing_counts(done.verdicts)
    recipes, lines = plural(done.recipes, "recipe"), plural(done.lines, "line")
    for text in [more] if more else []:
        click.echo(text)
    click.echo(f"{recipes}, {lines} ({done.texts:,} distinct): {counts}.")
    for code, count in list(done.problems.items())[:8]:
        click.echo(f"  {count:,} x {code}")
    click.echo(f"Results: {done.folder}")
    click.echo(f"Report: {done.folder}/report.html")


def _write_copies(result: Result, options: SimpleNamespace) -> None:
    from pipeline.publish.beside import write_beside
    from pipeline.publish.correct import write_corrected
    from pipeline.result import corrected_numbers

    folder: Path = options.write_corrected
    copies = write_corrected(result.collection, corrected_numbers(result), folder)
    say_all(copies.problems)
    if copies.paths:
        write_beside(
            result, copies.recipes, folder, pantry=options.pantry, decisions=options.decisions
        )
    if not options.quiet:
        from pipeline.report.words import plural

        made = plural(len(copies.paths), "file")
        click.echo(f"{made} with corrected numbers in {folder}; the originals are untouched.")
