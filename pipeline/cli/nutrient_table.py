"""``steelyard snapshot``, ``refresh``, ``drift`` and ``schedule``: the nutrient table over time."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.common import (
    APP_OPTIONS,
    EXIT_NOTHING,
    progress_bar,
    say,
)
from pipeline.exit_codes import Exit

snapshot_app = typer.Typer(
    help="The nutrient table: build it, look at it, check it again.", **APP_OPTIONS
)


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

    with progress_bar(False) as progress:
        made = build(
            force=force, progress=lambda text, share: progress(text, int(100 * share), 100)
        )
    typer.echo(
        f"{made.snapshot_id} ({made.release}) {'built' if made.just_built else 'is current'}: {made.path}"
    )


@snapshot_app.command("show")
def snapshot_show() -> None:
    """Show which table is live, where it comes from and what it holds.

    steelyard snapshot show
    """
    from pipeline.snapshot import show

    facts = show()
    for key, value in facts.items():
        if key == "sources":
            for source in value:
                use = "; for reference only" if source.get("reference") else ""
                typer.echo(f"{'source:':<14}{source['title']}, release {source['release']}{use}")
                typer.echo(f"{'':<14}{source['publisher']}; {source['licence']}")
        elif isinstance(value, dict):
            typer.echo(f"{key + ':':<14}" + ", ".join(f"{v} {k}" for k, v in value.items()))
        else:
            typer.echo(f"{key + ':':<14}{value}")


@snapshot_app.command("check")
def snapshot_check() -> None:
    """Compare the live table with its checksum and run its checks again.

    Exit codes: 4 when a check fails, 65 when the file is broken.

    steelyard snapshot check
    """
    from pipeline.snapshot import check

    result = check()
    typer.echo(f"{len(result.checks)} checks, {len(result.broken)} broken")
    for broken in result.broken:
        typer.echo(f"  {broken}")
    if not result.passed:
        raise typer.Exit(Exit.REFUSED)


@snapshot_app.command("list")
def snapshot_list() -> None:
    """List the snapshots kept, the newest first; * marks the live one.

    steelyard snapshot list
    """
    from pipeline.snapshot import list_snapshots

    found = list_snapshots()
    if not found:
        say("There is no snapshot yet. Build one: steelyard snapshot build")
        raise typer.Exit(EXIT_NOTHING)
    for row in found:
        mark = "*" if row.get("live") else " "
        typer.echo(
            f"{mark} {row['snapshot_id']:<36} {str(row.get('built_at', ''))[:16]}  {row.get('release', '')}"
        )


@snapshot_app.command("use")
def snapshot_use(
    snapshot_id: Annotated[str, typer.Argument(help="As `steelyard snapshot list` shows it.")],
) -> None:
    """Make a kept snapshot the live one; a refresh leaves the choice alone.

    steelyard snapshot use sr28-2016-05-9bb61d2c
    """
    from pipeline.snapshot import use

    typer.echo(f"{use(snapshot_id).snapshot_id} is live")


@snapshot_app.command("rollback")
def snapshot_rollback() -> None:
    """Go back to the snapshot that was live before.

    steelyard snapshot rollback
    """
    from pipeline.snapshot import rollback

    typer.echo(f"{rollback().snapshot_id} is live")


@snapshot_app.command("prune")
def snapshot_prune(
    keep: Annotated[
        int, typer.Option(help="How many to keep; the live one always stays.", min=1)
    ] = 3,
) -> None:
    """Remove old snapshots.

    steelyard snapshot prune --keep 3
    """
    from pipeline.snapshot import prune

    removed = prune(keep)
    typer.echo("removed " + ", ".join(removed) if removed else "nothing to remove")


def refresh(
    source: Annotated[
        list[str] | None,
        typer.Option(help="Key of shared/sources.toml; may be repeated, preferred first."),
    ] = None,
    from_: Annotated[
        str,
        typer.Option(
            "--from", help="A zip, a folder of CSV files, a mapping (.toml) or an https address."
        ),
    ] = "",
    sha256: Annotated[
        str, typer.Option(help="Expected SHA-256 checksum of the archive of --from.")
    ] = "",
    only: Annotated[
        bool,
        typer.Option(
            "--only",
            help="Answer from this table alone; the embedded one only supplies measures.",
        ),
    ] = False,
    keep: Annotated[int, typer.Option(help="Snapshots to keep afterwards.", min=1)] = 3,
    wait: Annotated[
        float, typer.Option(help="Seconds to wait for another run; 0 leaves at once.", min=0)
    ] = 0.0,
    collection: Annotated[
        Path | None,
        typer.Option(help="Recipes whose verdicts are compared when a new table is live."),
    ] = None,
    quiet: Annotated[
        bool, typer.Option("--quiet", "-q", help="Silent when nothing changed.")
    ] = False,
) -> None:
    """Look for a newer release of the nutrient table, check it, and switch to it.

    What --from or --source names is preferred to the tables that are live already; the embedded
    table comes last. Without either, the live tables are brought up to date, in their order.

    Exit codes: 0 nothing new, or published; 4 the release was refused; 5 verdicts of --collection
    changed; 69 the publisher could not be reached; 75 another run is at work. Whatever goes wrong,
    the old table stays live.

    steelyard refresh --source fdc_foundation
    """
    from pipeline.refresh import refresh as run

    with progress_bar(quiet) as progress:
        done = run(
            tuple(source or ()), from_, sha256=sha256, only=only, keep=keep, wait_s=wait,
            progress=lambda what, share: progress(what, int(100 * share), 100),
        )  # fmt: skip
    if done.changed or not quiet:
        typer.echo(done.message)
    for note in done.notes:
        say(f"  {note}")
    if done.changed and collection is not None and done.previous:
        _drift([collection], done.previous, "", None, quiet)


def drift(
    paths: Annotated[list[Path], typer.Argument(help="The collection, as for verify.")],
    from_: Annotated[
        str, typer.Option("--from", help="Earlier snapshot; default the one live before.")
    ] = "",
    to: Annotated[str, typer.Option(help="Later snapshot; default the live one.")] = "",
    out: Annotated[
        Path | None, typer.Option(help="Folder for drift.html and the CSV files.")
    ] = None,
    quiet: Annotated[
        bool, typer.Option("--quiet", "-q", help="Silent when nothing moved.")
    ] = False,
) -> None:
    """Say which published numbers move with the nutrient table. Exit code 5: a verdict flipped.

    steelyard drift my-recipes/ --out out
    """
    _drift(paths, from_, to, out, quiet)


def _drift(paths: list[Path], from_: str, to: str, out: Path | None, quiet: bool) -> None:
    from pipeline.refresh.drift import drift as run
    from pipeline.refresh.drift import say as in_words
    from pipeline.refresh.drift import write_drift

    with progress_bar(quiet) as progress:
        found = run(list(paths), from_=from_, to=to, progress=progress)
    if not (quiet and found.nothing):
        for line in in_words(found):
            typer.echo(line)
    if out is not None:
        written = write_drift(found, out)
        typer.echo(f"Page: {written[-1]}")
    if found.exit_code:
        raise typer.Exit(found.exit_code)


class Scheduler(StrEnum):
    """Kinds of scheduler that units are printed for."""

    systemd = "systemd"
    cron = "cron"
    launchd = "launchd"
    github_actions = "github-actions"


def schedule(
    print_: Annotated[Scheduler, typer.Option("--print", help="Which kind of unit.")],
    day: Annotated[str, typer.Option(help="mon ... sun, or daily.")] = "sun",
    hour: Annotated[int, typer.Option(help="0 to 23.", min=0, max=23)] = 9,
    quiet_hours: Annotated[str, typer.Option(help='Hours that stay free, e.g. "22-07".')] = "22-07",
    source: Annotated[list[str] | None, typer.Option(help="Keys of shared/sources.toml.")] = None,
    collection: Annotated[
        Path | None, typer.Option(help="Recipes whose verdicts are compared.")
    ] = None,
) -> None:
    """Print a ready unit that refreshes the table on a schedule; nothing is installed.

    steelyard schedule --print systemd --collection my-recipes
    """
    from pipeline.refresh.schedule import Schedule, unit

    plan = Schedule(
        day,
        hour,
        quiet_hours,
        tuple(source or ()),
        str(collection.absolute()) if collection else "",
    )
    typer.echo(unit(print_.value, plan), nl=False)
