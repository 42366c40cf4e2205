"""``steelyard snapshot``, ``refresh``, ``drift`` and ``schedule``: the nutrient table over time."""

from __future__ import annotations

from pathlib import Path

import click

from pipeline.cli.common import (
    EXIT_NOTHING,
    PATH,
    Group,
    number_option,
    paths_argument,
    progress_bar,
    quiet_option,
    say,
    share_bar,
    text_option,
)
from pipeline.exit_codes import Exit

snapshot_app = Group("snapshot", help="The nutrient table: build it, look at it, check it again.")


@snapshot_app.command("build")
@click.option("--force", is_flag=True, help="Build again even when nothing changed.")
def snapshot_build(force: bool) -> None:
    """Build the nutrient table from the embedded source; checks gate it.

    steelyard snapshot build
    """
    from pipeline.snapshot import build

    with share_bar(False) as progress:
        made = build(force=force, progress=progress)
    click.echo(
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
                click.echo(f"{'source:':<14}{source['title']}, release {source['release']}{use}")
                click.echo(f"{'':<14}{source['publisher']}; {source['licence']}")
        elif isinstance(value, dict):
            click.echo(f"{key + ':':<14}" + ", ".join(f"{v} {k}" for k, v in value.items()))
        else:
            click.echo(f"{key + ':':<14}{value}")


@snapshot_app.command("check")
@click.option("--pages", type=PATH, help="Folder for the result of every check as pages.")
def snapshot_check(pages: Path | None) -> None:
    """Compare the live table with its checksum and run its checks again.

    Exit codes: 4 when a check fails, 65 when the file is broken.

    steelyard snapshot check
    """
    from pipeline.snapshot import check

    result = check(pages=pages)
    click.echo(f"{len(result.checks)} checks, {len(result.broken)} broken")
    for broken in result.broken:
        click.echo(f"  {broken}")
    if pages is not None:
        click.echo(f"Pages: {pages / 'index.html'}")
    if not result.passed:
        raise click.exceptions.Exit(Exit.REFUSED)


@snapshot_app.command("list")
def snapshot_list() -> None:
    """List the snapshots kept, the newest first; * marks the live one.

    steelyard snapshot list
    """
    from pipeline.snapshot import list_snapshots

    found = list_snapshots()
    if not found:
        say("There is no snapshot yet. Build one: steelyard snapshot build")
        raise click.exceptions.Exit(EXIT_NOTHING)
    for row in found:
        mark = "*" if row.get("live") else " "
        click.echo(
            f"{mark} {row['snapshot_id']:<36} {str(row.get('built_at', ''))[:16]}  {row.get('release', '')}"
        )


@snapshot_app.command("use")
@click.argument("snapshot_id", help="As `steelyard snapshot list` shows it.")
def snapshot_use(snapshot_id: str) -> None:
    """Make a kept snapshot the live one; a refresh leaves the choice alone.

    steelyard snapshot use sr28-2016-05-9bb61d2c
    """
    from pipeline.snapshot import use

    click.echo(f"{use(snapshot_id).snapshot_id} is live")


@snapshot_app.command("rollback")
def snapshot_rollback() -> None:
    """Go back to the snapshot that was live before.

    steelyard snapshot rollback
    """
    from pipeline.snapshot import rollback

    click.echo(f"{rollback().snapshot_id} is live")


@snapshot_app.command("prune")
@number_option("--keep", 1, None, 3, "How many to keep; the live one always stays.")
def snapshot_prune(keep: int) -> None:
    """Remove old snapshots.

    steelyard snapshot prune --keep 3
    """
    from pipeline.snapshot import prune

    removed = prune(keep)
    click.echo("removed " + ", ".join(removed) if removed else "nothing to remove")


@click.command()
@click.option(
    "--source",
    multiple=True,
    help="Key of shared/sources.toml; may be repeated, preferred first.",
)
@click.option(
    "--from",
    "from_",
    default="",
    help="A zip, a folder of CSV files, a mapping (.toml) or an https address.",
)
@text_option("--sha256", "Expected SHA-256 checksum of the archive of --from.")
@click.option(
    "--only",
    is_flag=True,
    help="Answer from this table alone; the embedded one only supplies measures.",
)
@number_option("--keep", 1, None, 3, "Snapshots to keep afterwards.")
@click.option(
    "--wait",
    type=click.FloatRange(0),
    default=0.0,
    show_default=True,
    help="Seconds to wait for another run; 0 leaves at once.",
)
@click.option(
    "--collection", type=PATH, help="Recipes whose verdicts are compared when a new table is live."
)
@quiet_option("Silent when nothing changed.")
def refresh(
    source: tuple[str, ...],
    from_: str,
    sha256: str,
    only: bool,
    keep: int,
    wait: float,
    collection: Path | None,
    quiet: bool,
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

    with share_bar(quiet) as progress:
        done = run(
            source, from_, sha256=sha256, only=only, keep=keep, wait_s=wait, progress=progress
        )
    if done.changed or not quiet:
        click.echo(done.message)
    for note in done.notes:
        say(f"  {note}")
    if done.changed and collection is not None and done.previous:
        _drift([collection], done.previous, "", None, quiet)


@click.command()
@paths_argument("The collection, as for verify.")
@click.option("--from", "from_", default="", help="Earlier snapshot; default the one live before.")
@text_option("--to", "Later snapshot; default the live one.")
@click.option("--out", type=PATH, help="Folder for drift.html and the CSV files.")
@quiet_option("Silent when nothing moved.")
def drift(paths: tuple[Path, ...], from_: str, to: str, out: Path | None, quiet: bool) -> None:
    """Say which published numbers move with the nutrient table. Exit code 5: a verdict flipped.

    steelyard drift my-recipes/ --out out
    """
    _drift(list(paths), from_, to, out, quiet)


def _drift(paths: list[Path], from_: str, to: str, out: Path | None, quiet: bool) -> None:
    from pipeline.refresh.drift import drift as run
    from pipeline.refresh.drift import say as in_words
    from pipeline.refresh.drift import write_drift

    with progress_bar(quiet) as progress:
        found = run(list(paths), from_=from_, to=to, progress=progress)
    if not (quiet and found.nothing):
        for line in in_words(found):
            click.echo(line)
    if out is not None:
        written = write_drift(found, out)
        click.echo(f"Page: {written[-1]}")
    if found.exit_code:
        raise click.exceptions.Exit(found.exit_code)


@click.command()
@click.option(
    "--print",
    "kind",
    required=True,
    type=click.Choice(["systemd", "cron", "launchd", "github-actions"]),
    help="Which kind of unit.",
)
@click.option("--day", default="sun", show_default=True, help="mon ... sun, or daily.")
@number_option("--hour", 0, 23, 9, "0 to 23.")
@click.option(
    "--quiet-hours", default="22-07", show_default=True, help='Hours that stay free, e.g. "22-07".'
)
@click.option("--source", multiple=True, help="Keys of shared/sources.toml.")
@click.option("--collection", type=PATH, help="Recipes whose verdicts are compared.")
def schedule(
    kind: str,
    day: str,
    hour: int,
    quiet_hours: str,
    source: tuple[str, ...],
    collection: Path | None,
) -> None:
    """Print a ready unit that refreshes the table on a schedule; nothing is installed.

    steelyard schedule --print systemd --collection my-recipes
    """
    from pipeline.refresh.schedule import Schedule, unit

    recipes = str(collection.absolute()) if collection else ""
    click.echo(unit(kind, Schedule(day, hour, quiet_hours, source, recipes)), nl=False)
