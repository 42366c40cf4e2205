"""``steelyard new``, ``review``, ``accept``, ``plan``, ``watch``, ``export``: one collection."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Literal

import click

from pipeline.cli.common import (
    EXIT_NOTHING,
    PATH,
    form_option,
    number_option,
    path_argument,
    paths_argument,
    run_on,
    say,
    say_all,
    text_option,
)
from pipeline.nutrients import BY_COLUMN
from pipeline.problems import SteelyardError, failure


@click.command()
@path_argument
@click.option(
    "--make",
    multiple=True,
    required=True,
    help='What to make: "title or id = servings"; may be repeated.',
)
@click.option("--out", type=PATH, help="CSV file for the shopping list.")
def plan(path: Path, make: tuple[str, ...], out: Path | None) -> None:
    """Scale chosen recipes and write a shopping list: what to buy, and grams.

    steelyard plan my-recipes/ --make "Lentil soup = 6" --make "Base dressing = 4"
    """
    from pipeline.prep import bases, scaled_lines, shopping_list
    from pipeline.report.terminal import bases_lines, print_table, scaled_table, shopping_table

    wanted = dict(_wanted(text) for text in make)
    result = run_on(path)
    needed = shopping_list(result, wanted)
    recipe = result.collection.recipe
    titles = dict(zip(recipe["recipe_id"], recipe["title"], strict=True))
    for line in bases_lines(bases(result, wanted)):
        click.echo(line)
    print_table(scaled_table(scaled_lines(result, wanted)))
    click.echo()
    print_table(shopping_table(needed, titles))
    click.echo("Grams are of the edible part; buy more where peel, bone or shell is to come off.")
    if out is not None:
        from pipeline.report.data_files import neutral

        needed.assign(recipes=needed["recipes"].map(";".join)).map(
            lambda v: neutral(v) if isinstance(v, str) else v
        ).to_csv(out, index=False)
        click.echo(f"List: {out}")


def _wanted(text: str) -> tuple[str, float]:
    name, found, servings = text.rpartition("=")
    try:
        number = float(servings.strip().replace(",", "."))
    except ValueError:
        number = 0.0
    if not found or not name.strip() or not number > 0:
        raise failure("option-invalid/make", text_given=text)
    return name.strip(), number


@click.command()
@paths_argument()
@click.option("--out", type=PATH, help="Folder for the report, written anew each time.")
def watch(paths: tuple[Path, ...], out: Path | None) -> None:
    """Check again whenever a recipe, the pantry or a decision changes; Ctrl-C ends it.

    The first check prints the whole table, each later one what it moved.

    steelyard watch my-recipes/ --out out
    """
    from pipeline.cli.watching import follow
    from pipeline.report import write
    from pipeline.report.since import what_moved
    from pipeline.report.terminal import print_result
    from pipeline.run import Result

    missing = [p for p in paths if not p.exists()]
    if missing:
        say(f"{missing[0]} does not exist; there is nothing to watch.")
        raise click.exceptions.Exit(EXIT_NOTHING)
    last: Result | None = None

    def check(names: list[str]) -> None:
        nonlocal last
        if names:
            more = f" and {len(names) - 3} more" if len(names) > 3 else ""
            click.echo(f"\n{', '.join(names[:3])}{more} changed")
        try:
            result = run_on(paths)
            written = write(result, out) if out is not None else []
        except SteelyardError as fault:  # a file being edited; the next check reads it whole
            say(fault.problem.render())
            return
        if last is None:
            print_result(result, written, out)
        else:
            for line in what_moved(last, result) or ["No verdict and no number moved."]:
                click.echo(f"  {line}")
        last = result

    follow(paths, check)


@click.command()
@click.argument("folder", type=PATH, help="Folder to make.")
def new(folder: Path) -> None:
    """Make a starter folder: a commented card, a pantry and settings. Nothing is overwritten.

    steelyard new my-recipes
    """
    from pipeline.publish.write import new_collection

    made = new_collection(folder)
    say_all(made.problems)
    for path in made.paths:
        click.echo(f"made {path}")
    if made.paths:
        click.echo(f"Check it: steelyard verify {folder} --out {folder}/out")


@click.command()
@paths_argument()
@number_option("--port", 0, 65535, 0, "0 takes a free one.")
@click.option("--no-browser", is_flag=True, help="Print the address only.")
@text_option("--line", "Open at this line: its text, or its key as the report gives it.")
@click.option(
    "--report",
    type=PATH,
    help="Show this report too, written by verify --out, with links to the lines.",
)
def review(
    paths: tuple[Path, ...], port: int, no_browser: bool, line: str, report: Path | None
) -> None:
    """Settle uncertain lines on a local page; answers go to decisions.csv and pantry.csv at once.

    The page is served on this machine only, at an address that opens it once. Ctrl-C ends it.

    steelyard review my-recipes
    """
    from pipeline.web.server import serve

    labels = itertools.chain(["Review page"], itertools.repeat("For another browser"))
    serve(
        [str(path) for path in paths], port=port, open_browser=not no_browser, line=line, report=report,
        ready=lambda address: click.echo(f"{next(labels)}: {address}"),
    )  # fmt: skip


@click.command()
@path_argument
@click.argument("recipe", help="Title or id of a recipe.")
@text_option("--reason", "Why the difference is right, in your words.")
@click.option("--forget", is_flag=True, help="Take an acceptance back.")
def accept(path: Path, recipe: str, reason: str, forget: bool) -> None:
    """Keep a difference you know: it is shown as accepted and fails no check.

    It goes into decisions.csv with the numbers as they stand; when those change it is asked again.

    steelyard accept my-recipes "Harbour cinnamon buns" --reason "the glaze is left on the plate"
    """
    from pipeline.intake import collection_root
    from pipeline.memory.accepted import acceptance, acceptances, recipe_named
    from pipeline.memory.decisions import load_decisions, remove_decision, save_decision
    from pipeline.settings import load_settings

    root = collection_root([path])
    file = root / (load_settings(root).decisions or "decisions.csv")
    result = run_on(path)
    answers, _ = load_decisions(file)
    if forget and remove_decision(file, recipe, "recipe"):  # one that fits no recipe any more too
        click.echo(f'"{recipe}" is judged again')
        return
    tables = result.recipes, result.findings
    standing = acceptances(*tables, answers, recipe_named(result.recipes, recipe))
    decision = None if forget else acceptance(*tables, recipe, reason)
    gone = [remove_decision(file, d.text, "recipe") for d in standing]
    if decision is None:
        click.echo(f'"{recipe}" is judged again' if any(gone) else f'"{recipe}" was not accepted')
        return
    save_decision(file, decision)
    click.echo(f'"{recipe}" is accepted while its numbers stay ({decision.numbers}): {file}')


@click.command()
@path_argument
@click.option(
    "--to",
    type=PATH,
    required=True,
    help="Folder (json-ld, cards) or file (parquet, csv).",
)
@form_option(
    "--form", "json-ld", "parquet", "csv", "cards",
    help="json-ld, parquet, csv, or editable text cards.",
)  # fmt: skip
@click.option(
    "--as-stated", is_flag=True, help="Keep the stated numbers instead of the verified ones."
)
def export(
    path: Path, to: Path, form: Literal["json-ld", "parquet", "csv", "cards"], as_stated: bool
) -> None:
    """Write the collection for other programs, with verified numbers per serving.

    steelyard export my-recipes --to site/ --form json-ld
    """
    import pandas as pd

    from pipeline.publish.write import export as write
    from pipeline.publish.write import write_cards

    result = run_on(path)
    if result.recipes.empty:
        say_all(result.collection.problems)
        raise click.exceptions.Exit(EXIT_NOTHING)
    if form == "cards":
        made = write_cards(result.collection, to)
        say_all(made.problems)
        written = made.paths
    else:
        verified = None
        if not as_stated:
            shown = result.corrected[result.corrected["basis"] == "per_serving"]
            values = [c for c in shown.columns if c in BY_COLUMN]
            verified = shown[["recipe_id", *values]].copy()
            for column in values:
                text = verified[column].astype(str).str.replace(r"^<.*", "0", regex=True)
                verified[column] = pd.to_numeric(text, errors="coerce")
        written = write(result.collection, to, form, verified)
    from pipeline.report.words import plural

    click.echo(f"{plural(len(written), 'file')} written: {to}")
