"""``steelyard pantry``: the creator's own label foods, typed in or looked up."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.common import APP_OPTIONS, EXIT_NOTHING, say

pantry_app = typer.Typer(help="Label foods of your own: pantry.csv.", **APP_OPTIONS)


@pantry_app.command("add")
def add(
    name: Annotated[str, typer.Argument(help="What your recipes call it.")],
    serving_g: Annotated[float, typer.Option(help="Grams of one serving on the pack.")],
    kcal: Annotated[float, typer.Option(help="Energy of that serving.")],
    protein: Annotated[float | None, typer.Option(help="g a serving.")] = None,
    carbs: Annotated[float | None, typer.Option(help="g a serving.")] = None,
    fat: Annotated[float | None, typer.Option(help="g a serving.")] = None,
    fiber: Annotated[float | None, typer.Option("--fiber", "--fibre", help="g a serving.")] = None,
    sugar: Annotated[float | None, typer.Option(help="g a serving.")] = None,
    satfat: Annotated[float | None, typer.Option(help="g a serving.")] = None,
    sodium: Annotated[float | None, typer.Option(help="mg a serving.")] = None,
    serving_name: Annotated[str, typer.Option(help='e.g. "1 scoop".')] = "",
    aliases: Annotated[str, typer.Option(help="Other names, ; between.")] = "",
    to: Annotated[Path, typer.Option(help="The pantry file.")] = Path("pantry.csv"),
    force: Annotated[
        bool, typer.Option("--force", help="Write values that contradict one another.")
    ] = False,
) -> None:
    """Add a food with the values of its pack; they are checked against one another first.

    steelyard pantry add "Pea powder" --serving-g 30 --kcal 117 --protein 24 --carbs 2 --fat 1.5
    """
    from pipeline.refresh.pantry_add import add_to_pantry

    values = {
        "food_name": name, "aliases": aliases, "serving_name": serving_name, "serving_g": serving_g,
        "kcal": kcal, "protein_g": protein, "carbs_g": carbs, "fat_g": fat, "fiber_g": fiber,
        "sugar_g": sugar, "satfat_g": satfat, "sodium_mg": sodium,
    }  # fmt: skip
    food = add_to_pantry(to, values, force=force)
    typer.echo(f"{food.food_id} is in {to}")


@pantry_app.command("look-up")
def look_up(
    query: Annotated[
        list[str], typer.Argument(help="What stands on the pack, or its barcode number.")
    ],
    branded: Annotated[
        bool, typer.Option("--branded/--generic", help="Which foods to search.")
    ] = True,
    most: Annotated[int, typer.Option(help="How many to show.", min=1, max=50)] = 10,
) -> None:
    """Search the official FoodData Central with your own key (STEELYARD_FDC_KEY).

    steelyard pantry look-up pea protein powder
    """
    from pipeline.refresh.lookup import look_up as search

    found = search(" ".join(query), branded=branded, most=most)
    if found.problem is not None:
        say(found.problem.render())
    for food in found.foods:
        values = ", ".join(f"{k} {v:g}" for k, v in food.per_100g.items())
        typer.echo(f"{food.fdc_id}  {food.description} ({food.kind}); per 100 g: {values}")
    if not found.foods and found.problem is None:
        say("Nothing found.")
        raise typer.Exit(EXIT_NOTHING)
