"""Out again: editable cards, a starter collection, and exports with verified nutrition."""

from __future__ import annotations

import json
import math
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pipeline.foods import singular
from pipeline.intake.collect import Collection
from pipeline.nutrients import NET_CARBS_TAG, NUTRIENTS
from pipeline.problems import Problem, input_problem
from pipeline.publish.numbers import NET_CARBS_COLUMN, numbers_in
from pipeline.publish.restate import shown, stated_sentence, with_unit
from pipeline.resources import data_path
from pipeline.settings import DESCRIPTIONS, FILE_NAME, Settings

if TYPE_CHECKING:
    import pandas as pd

Form = Literal["json-ld", "parquet", "csv"]


@dataclass(slots=True)
class Made:
    """Files written, and what could not be, or was left alone because it was there already.

    Attributes:
        recipes: of copies, the recipe_ids that stand in them.
    """

    paths: list[Path] = field(default_factory=list)
    recipes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def slug(title: str, empty: str = "recipe") -> str:
    """A file name from a title: lower case, hyphens, no path in it; ``empty`` where nothing is left."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or empty


def unused(name: str, used: set[str]) -> str:
    """A name that no file has yet, which is then used."""
    unique, again = name, 1
    while unique in used:
        again += 1
        unique = f"{name}-{again}"
    used.add(unique)
    return unique


def _records(collection: Collection) -> Iterator[tuple[Any, pd.DataFrame, pd.DataFrame]]:
    """Each recipe row with its lines and its stated numbers."""
    lines = dict(iter(collection.line.groupby("recipe_id", sort=False)))
    stated = dict(iter(collection.stated.groupby("recipe_id", sort=False)))
    recipes: Any = collection.recipe.itertuples(index=False)
    for recipe in recipes:
        own = lines.get(recipe.recipe_id, collection.line.iloc[:0])
        yield recipe, own, stated.get(recipe.recipe_id, collection.stated.iloc[:0])


def write_cards(collection: Collection, folder: Path) -> Made:
    """Write each recipe as an editable text card; no file is replaced.

    A recipe of a spoken script keeps, after each line, the time or the line of the file it was
    said at, in square brackets, so that it can be checked; the reader of cards passes over them.

    Returns:
        The cards, one file per recipe, named by title; files that were there already are problems.
    """
    made = Made()
    folder.mkdir(parents=True, exist_ok=True)
    used: set[str] = set()
    for recipe, lines, stated in _records(collection):
        unique = unused(slug(recipe.title), used)
        text = _card(collection, recipe, lines, stated)
        method = _method(recipe).strip()
        if method and recipe.format != "script":
            text = _with_method(text, method, f"{unique}.txt", made)
        _write_new(folder / f"{unique}.txt", text, made)
    return made


def card_texts(collection: Collection, source: str) -> Iterator[tuple[str, str]]:
    """Each recipe of one file as the text of a card: recipe_id and text, in their order."""
    for recipe, lines, stated in _records(collection):
        if recipe.source == source:
            yield recipe.recipe_id, _card(collection, recipe, lines, stated)


def _makes(recipe: Any) -> str:
    """ "4 servings", "1 square"."""
    word = recipe.serving_word or "servings"
    one = recipe.servings == 1 and " " not in word
    return f"{shown(recipe.servings)} {singular(word) if one else word}"


def _with_method(card: str, method: str, name: str, made: Made) -> str:
    """A card with its method, unless that would be read as something else."""
    from pipeline.intake.reading import read_text

    whole = f"{card.rstrip()}\n\nMethod\n{method}\n"
    before, after = (
        [
            (r.title, str(r.servings), [one.text for one in r.lines],
             [(s.nutrient, s.amount, s.basis) for s in r.stated])
            for r in read_text(text, name).recipes
        ]
        for text in (card, whole)
    )  # fmt: skip
    if before == after:
        return whole
    made.problems.append(input_problem("method-left-out", source=name, name=name))
    return card


def _card(collection: Collection, recipe: Any, lines: pd.DataFrame, stated: pd.DataFrame) -> str:
    spoken = recipe.format == "script"
    numbered = spoken and not on_one_line(collection, recipe.source)
    out = [recipe.title]
    if recipe.creator:
        out.append(f"by {recipe.creator}")
    if not math.isnan(recipe.servings):
        word, count = recipe.serving_word or "servings", shown(recipe.servings)
        plain = word in ("servings", "serving")
        out.append(f"Serves {count}" if plain else f"Makes {_makes(recipe)}")
    if not math.isnan(recipe.yield_g):
        out.append(f"Cooked weight: {shown(recipe.yield_g)} g")
    if recipe.description:
        out += ["", f"Description: {recipe.description}"]
    out += ["", "Ingredients"]
    rows: Any = lines.itertuples(index=False)
    section = ""
    for line in rows:
        if spoken and line.section and line.section != section:
            out.append(f"{line.section}:")
        section = line.section
        place = _place(collection.said_at.get((recipe.recipe_id, line.line_no), ""), line, numbered)
        heading = line.text.endswith(":") and not line.section
        out.append(f"{line.text}{place}" if heading else f"- {line.text}{place}")
    for basis, group in stated.groupby("basis", sort=False):
        values = dict(zip(group["nutrient"], group["amount"], strict=True))
        first = int(group.index[0]) - int(stated.index[0]) + 1
        time = collection.said_at.get((recipe.recipe_id, -first), "")
        out += ["", stated_sentence(values, str(basis)) + (f" [{time}]" if time else "")]
    if spoken:
        said = f"Written out from {recipe.source}; in brackets, where each line was said."
        out += ["", "Notes", said]
    return "\n".join(out) + "\n"


def on_one_line(collection: Collection, source: str) -> bool:
    """Whether a file is one line of text: then the number of the line says nothing."""
    mine = collection.recipe.loc[collection.recipe["source"] == source, "recipe_id"]
    line = collection.line
    return bool(line.loc[line["recipe_id"].isin(mine), "source_line"].nunique() <= 1)


def _place(time: str, line: Any, numbered: bool) -> str:
    if time:
        return f"  [{time}]"
    if not numbered:
        return ""
    return f"  [line {line.source_line}]" if line.source_line == line.source_line else ""


def _write_new(path: Path, text: str, made: Made) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="") as handle:
            handle.write(text)
    except FileExistsError:
        made.problems.append(input_problem("file-exists", source=str(path), name=path.name))
        return
    made.paths.append(path)


# --- a starter collection -----------------------------------------------------------------------

#: Files of ``data/starter/`` that begin a collection.
_STARTER = ("recipes/lemon-lentil-soup.txt", "pantry.csv", "decisions.csv")


def new_collection(folder: Path) -> Made:
    """Write a starter collection: a card, a pantry, decisions and settings, each explained.

    Nothing that is there already is touched; what was left alone is reported.
    """
    made = Made()
    (folder / "recipes").mkdir(parents=True, exist_ok=True)
    for name in _STARTER:
        _write_new(folder / name, data_path(f"starter/{name}").read_text(encoding="utf-8"), made)
    _write_new(folder / FILE_NAME, _starter_settings(), made)
    return made


def _starter_settings() -> str:
    out = [
        "# Choices of this collection. Take the # away to change one; the value shown is the default.",
        "# Energy and carbohydrate: sums are as the food table gives them, carbohydrate with its",
        "# fibre; how the energy of numbers to publish is worked out is chosen by publish.",
        "",
    ]
    for name, default in asdict(Settings()).items():
        value = str(default).lower() if isinstance(default, bool) else json.dumps(default)
        out += [f"# {DESCRIPTIONS[name]}", f"# {name} = {value}", ""]
    return "\n".join(out)


# --- exports ------------------------------------------------------------------------------------


def export(
    collection: Collection, target: Path, form: Form, verified: pd.DataFrame | None = None
) -> list[Path]:
    """Write the collection for other programs.

    Args:
        target: a folder for ``json-ld`` (one file per recipe), a file for ``parquet`` and ``csv``.
        form: ``json-ld`` is schema.org/Recipe; ``parquet`` is tidy, one row per line, and is read
            back as the same collection; ``csv`` has one row per recipe, for a website of one's own.
        verified: ``recipe_id`` and one column per nutrient, per serving, rounded as it shall be
            shown; None writes what the recipes state.

    Returns:
        The files written.
    """
    if form == "json-ld":
        return _export_json_ld(collection, target, verified)
    frame = _frame(collection, verified, tidy=form == "parquet")
    target.parent.mkdir(parents=True, exist_ok=True)
    if form == "csv":
        frame.to_csv(target, index=False, lineterminator="\n")
    else:
        import duckdb

        with duckdb.connect() as con:
            con.from_df(frame).write_parquet(str(target))
    return [target]


def _method(recipe: Any) -> str:
    """A recipe's method, one line per step and without its heading; "" where its file has none."""
    from pipeline.intake.text.line_kinds import METHOD

    steps = recipe.method.splitlines() if isinstance(recipe.method, str) else []
    return "\n".join(steps[1:] if steps and METHOD.fullmatch(steps[0].strip()) else steps)


def _numbers(
    collection: Collection, verified: pd.DataFrame | None
) -> dict[str, tuple[dict[str, float], str]]:
    """Numbers by tag, and their basis, of each recipe that has any: the verified before the stated."""
    found: dict[str, tuple[dict[str, float], str]] = {}
    for recipe_id, stated in collection.stated.groupby("recipe_id", sort=False):
        basis = str(stated["basis"].iloc[0])
        same = stated[stated["basis"] == basis]
        values = dict(zip(same["nutrient"], same["amount"], strict=True))
        found[str(recipe_id)] = values, basis
    for row in [] if verified is None else verified.to_dict("records"):
        found[str(row["recipe_id"])] = numbers_in(row), "per_serving"
    return found


def _export_json_ld(
    collection: Collection, folder: Path, verified: pd.DataFrame | None
) -> list[Path]:
    folder.mkdir(parents=True, exist_ok=True)
    paths: list[Path] = []
    used: set[str] = set()
    numbers = _numbers(collection, verified)
    for recipe, lines, _ in _records(collection):
        node: dict[str, Any] = {"@context": "https://schema.org", "@type": "Recipe"}
        node |= {"identifier": recipe.recipe_id, "name": recipe.title}
        if recipe.creator:
            node["author"] = {"@type": "Person", "name": recipe.creator}
        if recipe.description:
            node["description"] = recipe.description
        if not math.isnan(recipe.servings):
            node["recipeYield"] = _makes(recipe)
        node["recipeIngredient"] = lines["text"].tolist()
        if steps := [step for step in _method(recipe).splitlines() if step.strip()]:
            node["recipeInstructions"] = [{"@type": "HowToStep", "text": step} for step in steps]
        values, basis = numbers.get(recipe.recipe_id, ({}, ""))
        if values:
            node["nutrition"] = _nutrition(values, basis)
        path = folder / f"{unused(slug(recipe.title), used)}.json"
        path.write_text(json.dumps(node, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
        paths.append(path)
    return paths


def _nutrition(values: Mapping[str, float], basis: str) -> dict[str, str]:
    size = {"per_serving": "1 serving", "per_recipe": "whole recipe", "per_100g": "100 g"}[basis]
    node = {"@type": "NutritionInformation", "servingSize": size}
    for nutrient in NUTRIENTS:
        if nutrient.schema_org and nutrient.tag in values:
            node[nutrient.schema_org] = with_unit(values[nutrient.tag], nutrient.tag)
    return node


def _numbers_frame(collection: Collection, verified: pd.DataFrame | None) -> pd.DataFrame:
    """One row per recipe: recipe_id, basis, and one column per nutrient that any recipe has."""
    import pandas as pd

    numbers = _numbers(collection, verified)
    tags = {tag for values, _ in numbers.values() for tag in values}
    columns = {n.tag: n.column for n in NUTRIENTS if n.tag in tags}
    columns |= dict.fromkeys(tags & {NET_CARBS_TAG}, NET_CARBS_COLUMN)
    rows = [
        {"recipe_id": recipe_id, "basis": basis, **values}
        for recipe_id in collection.recipe["recipe_id"]
        for values, basis in [numbers.get(recipe_id, ({}, "per_serving"))]
    ]
    frame = pd.DataFrame(rows, columns=["recipe_id", "basis", *columns])
    return frame.rename(columns=columns)


def _frame(collection: Collection, verified: pd.DataFrame | None, *, tidy: bool) -> pd.DataFrame:
    """Recipes with their numbers: one row per line, or one row per recipe with its lines in one cell."""
    recipe = collection.recipe[
        [
            "recipe_id", "title", "servings", "serving_word", "yield_g", "creator", "description",
            "method",
        ]
    ]  # fmt: skip
    if tidy:
        lines = collection.line[["recipe_id", "line_no", "section", "text"]]
        recipe = recipe.merge(lines.rename(columns={"text": "line"}), on="recipe_id", how="left")
    else:
        texts = collection.line.groupby("recipe_id", sort=False)["text"].agg("\n".join)
        recipe = recipe.assign(ingredients=recipe["recipe_id"].map(texts).fillna(""))
    return recipe.merge(_numbers_frame(collection, verified), on="recipe_id", how="left")
