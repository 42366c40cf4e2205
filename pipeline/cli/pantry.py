"""``steelyard pantry``: the creator's own label foods, typed in or looked up."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli.common import EXIT_NOTHING, PATH, Group, number_option, say, text_option
from pipeline.exit_codes import Exit

if TYPE_CHECKING:
    from click.decorators import FC

pantry_app = Group("pantry", help="Label foods of your own: pantry.csv.")
#: What a pack states of one serving beside its weight and energy: columns of pantry.csv.
_ON_THE_PACK = ("protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g", "satfat_g", "sodium_mg")


def _pack_options(command: FC) -> FC:
    for column in reversed(_ON_THE_PACK):
        name, _, unit = column.partition("_")
        names = [f"--{name}", *(["--fibre"] if name == "fiber" else [])]
        command = click.option(*names, column, type=float, help=f"{unit} a serving.")(command)
    return command


@pantry_app.command("add")
@click.argument("food_name", metavar="NAME", help="What your recipes call it.")
@click.option("--serving-g", type=float, required=True, help="Grams of one serving on the pack.")
@click.option("--kcal", type=float, required=True, help="Energy of that serving.")
@_pack_options
@text_option("--serving-name", 'e.g. "1 scoop".')
@text_option("--aliases", "Other names, ; between.")
@click.option(
    "--to", type=PATH, default=Path("pantry.csv"), show_default=True, help="The pantry file."
)
@click.option("--force", is_flag=True, help="Write values that contradict one another.")
def add(to: Path, force: bool, **values: str | float | None) -> None:
    """Add a food with the values of its pack; they are checked against one another first.

    steelyard pantry add "Pea powder" --serving-g 30 --kcal 117 --protein 24 --carbs 2 --fat 1.5
    """
    from pipeline.refresh.pantry_add import add_to_pantry

    food = add_to_pantry(to, values, force=force)
    click.echo(f"{food.food_id} is in {to}")


@pantry_app.command("look-up")
@click.argument(
    "query", nargs=-1, required=True, help="What stands on the pack, or its barcode number."
)
@click.option("--branded/--generic", default=True, show_default=True, help="Which foods to search.")
@number_option("--most", 1, 50, 10, "How many to show.")
def look_up(query: tuple[str, ...], branded: bool, most: int) -> None:
    """Search the official FoodData Central with your own key (STEELYARD_FDC_KEY).

    steelyard pantry look-up pea protein powder
    """
    from pipeline.refresh.lookup import look_up as search

    found = search(" ".join(query), branded=branded, most=most)
    if found.problem is not None:
        say(found.problem.render())
    for food in found.foods:
        values = ", ".join(f"{k} {v:g}" for k, v in food.per_100g.items())
        click.echo(f"{food.fdc_id}  {food.description} ({food.kind}); per 100 g: {values}")
    if found.problem is not None and not found.foods:
        unreachable = found.problem.code in ("lookup-offline", "lookup-limit")
        raise click.exceptions.Exit(Exit.UNREACHABLE if unreachable else Exit.USAGE)
    if not found.foods:
        say("Nothing found.")
        raise click.exceptions.Exit(EXIT_NOTHING)
