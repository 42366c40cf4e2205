"""The run: intake → lines → match → weigh → compute → habits → reconcile, over tables.

``verify`` is what the command line, the page and the Python interface call. It reads files and the
snapshot, and returns a ``Result`` of pandas frames; writing is the report stage's work.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from pipeline import habits
from pipeline.compute import compute, settle_servings
from pipeline.compute.convention import TABLE, Convention
from pipeline.compute.subrecipes import PREFIX
from pipeline.copies import find_copies, recipes_of, with_copies, without_copies
from pipeline.habits import Known
from pipeline.intake import collection_root, read_collection
from pipeline.kept import collecting_seldom
from pipeline.memory import load_decisions, load_pantry
from pipeline.nutrients import BY_COLUMN
from pipeline.problems import (
    Problem,
    SteelyardError,
    input_problem,
    is_of_the_input,
    problems_frame,
)
from pipeline.progress import Clock, Progress, no_progress
from pipeline.reading import Tools, load_tools, read_all, with_cells
from pipeline.reconcile import (
    claims,
    convention_of,
    internal_checks,
    judge,
    profiles,
    publish,
    recipe_table,
)
from pipeline.result import Result as Result
from pipeline.result import no_habits
from pipeline.settings import Settings, load_settings, unused_percent
from pipeline.snapshot import facts_of, open_snapshot, source_names
from pipeline.tables import FOOD_NUTRIENT, TO_REVIEW

if TYPE_CHECKING:
    import duckdb

    from pipeline.compute import Computation
    from pipeline.habits import Habit
    from pipeline.intake import Collection
    from pipeline.memory import Pantry
    from pipeline.reconcile import Judgement
    from pipeline.snapshot import Snapshot


@collecting_seldom()
def verify(
    paths: Sequence[str | Path] | str | Path,
    *,
    settings: Settings | None = None,
    profile: str | None = None,
    pantry: str | Path | None = None,
    decisions: str | Path | None = None,
    snapshot: Snapshot | None = None,
    tools: Tools | None = None,
    stdin: str | bytes | None = None,
    brief: bool = False,
    progress: Progress = no_progress,
) -> Result:
    """Check a collection: what its recipes state against what their lines add up to.

    Args:
        paths: files, folders, or ``-`` for ``stdin``; any mix.
        settings: ``steelyard.toml`` of the collection's root when not given.
        profile: tolerance profile, over the one of the settings.
        pantry: label foods; ``pantry.csv`` beside the recipes when not given.
        decisions: remembered answers; ``decisions.csv`` beside the recipes when not given.
        snapshot: nutrient table; the live one when not given.
        tools: loaded before (a page that asks again and again); else loaded here.
        stdin: the text that ``-`` stands for.
        brief: leave out what files and reports alone show, see ``judge_read``.
        progress: called as the stages advance.

    Returns:
        A ``Result``; faults of the input are rows of its ``problems``, never exceptions.

    Raises:
        SteelyardError: the settings or the snapshot cannot be used.

    Example:
        >>> import pipeline
        >>> pipeline.verify("my-recipes/").recipes[["title", "verdict"]]  # doctest: +SKIP
    """
    from pipeline.intake.spoken.composition import weighed_by
    from pipeline.memory.unused import unused

    clock = Clock()
    given = [paths] if isinstance(paths, (str, Path)) else list(paths)
    settings = run_settings(collection_root(given), settings, profile)
    progress("reading files", 0, 1)
    with weighed_by(snapshot if tools is None else tools.snapshot):
        collection = read_collection(given, settings=settings, stdin=stdin)
    held = None
    problems = list(collection.problems)
    clock.lap("intake")
    if tools is None:
        own, pantry_problems = load_pantry(Path(pantry) if pantry else collection.pantry_path)
        answers, decision_problems = load_decisions(
            Path(decisions) if decisions else collection.decisions_path
        )
        problems += [*pantry_problems, *decision_problems]
        snapshot = snapshot or open_snapshot(progress=_building(progress))
        problems += snapshot.notes
        held = snapshot.connect()  # while one is open, the others of this run cost nothing
        tools = load_tools(snapshot, pantry=own, decisions=answers, settings=settings)
        problems += [*tools.problems, *unused_percent(settings)]
        clock.lap("load")
    line_result, runners_up, read_problems = read_all(collection, tools, progress)
    problems += read_problems
    clock.lap("lines, match, weigh")
    progress("adding up", 0, 1)
    result = judge_read(collection, line_result, runners_up, tools, settings, problems, brief=brief)
    result.snapshot = facts_of(tools.snapshot)
    if decisions is None and is_whole(given):
        told = unused(
            tools.decisions, settings, result.recipes, result.findings, result.lines,
            collection.recipe["creator"].fillna(""),
        )  # fmt: skip
        result.problems = frames_together([result.problems, problems_frame(told)])
    clock.lap("compute, reconcile")
    result.seconds = clock.laps
    if held is not None:
        held.close()
    progress("done", 1, 1)
    return result


def is_whole(given: Sequence[str | Path]) -> bool:
    """Whether a run sees all of a collection, so that what touches nothing of it can be reported."""
    return len(given) == 1 and Path(given[0]).is_dir()


def _building(progress: Progress) -> Callable[[str, float], None]:
    return lambda text, share: progress(text, int(100 * share), 100)


def run_settings(root: Path, settings: Settings | None, profile: str | None) -> Settings:
    """The settings of a run: those given or of the collection's root, ``profile`` above them.

    Raises:
        SteelyardError: they cannot be read, or name a tolerance profile that does not exist.
    """
    settings = settings or load_settings(root)
    if profile is not None:
        settings = replace(settings, profile=profile)
    if settings.profile not in profiles():
        known = ", ".join(profiles())
        raise SteelyardError(
            input_problem("profile-unknown", profile=settings.profile, known=known)
        )
    return settings


#: Given the convention by a collection's own recipes, the one to judge them by.
Agreed = Callable[[Callable[[], Convention]], Convention]


def _its_own(own: Callable[[], Convention]) -> Convention:
    return own()


def judge_read(
    collection: Collection,
    line_result: pd.DataFrame,
    runners_up: pd.DataFrame,
    tools: Tools,
    settings: Settings,
    problems: list[Problem],
    *,
    convention: Convention | None = None,
    agreed: Agreed = _its_own,
    brief: bool = False,
    habits: bool | frozenset[str] = True,
) -> Result:
    """Add up and judge lines that were read.

    Recipes whose values a stage cannot reckon with stay unjudged, each with a problem; the others
    are judged as if they were not there.

    Args:
        line_result: LINE_RESULT.
        runners_up: RUNNER_UP.
        problems: of the stages before; those of this one are added.
        convention: of energy and carbohydrate, where it is known already; else set or detected,
            see ``reconcile.convention_of``.
        agreed: for a part of a larger collection, which takes the convention of all.
        brief: leave out what files and reports alone show: checks, numbers to publish and claims.
        habits: look for habits, which needs all recipes of a creator; of some creators alone when
            their names are given.
    """
    from pipeline.memory.accepted import with_accepted

    copies = find_copies(collection, line_result)
    part, lines = without_copies(collection, line_result, copies)
    stages = _Stages(
        tools, settings, runners_up, convention, brief, _looked_at(part.recipe, habits), agreed
    )
    once = _judge_all(stages, part, lines)
    result = with_copies(once, collection, line_result, copies)
    result.to_review = _to_review(result.lines, runners_up)
    result.recipes, no_longer = with_accepted(result.recipes, result.findings, tools.decisions)
    told = (still_open(problems, result), no_longer)
    before, after = (problems_frame(some) for some in told)
    result.problems = frames_together([before, result.problems, after])
    return result


#: Recipes of which nobody is named are one creator's as long as they are no more than this.
MOST_NAMELESS = 1_000


def _looked_at(recipe: pd.DataFrame, habits: bool | frozenset[str]) -> bool | frozenset[str]:
    """Whose habits are looked for: not those of the many who share no name."""
    names = recipe["creator"].fillna("")
    if not habits or (names == "").sum() <= MOST_NAMELESS:
        return habits
    wanted = frozenset(names) if habits is True else habits
    return wanted - {""}


def _judge_all(stages: _Stages, collection: Collection, line_result: pd.DataFrame) -> Result:
    """Judge all recipes but those on which a stage fails; these are reported as problems."""
    bad: list[str] = []
    why: dict[str, str] = {}
    while True:
        try:
            return _judge_read(
                *_set_aside(collection, line_result, set(bad)),
                [_not_reckoned(collection, r, why[r]) for r in bad],
                stages,
            )
        except Exception as fault:
            if not is_of_the_input(fault):
                raise
            ids = [r for r in collection.recipe["recipe_id"].tolist() if r not in why]
            found = stages.stumbling(collection, line_result, ids)
            if not found:
                raise
            why |= found
            bad += found


def frames_together(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Tables of the same columns below one another; the types of the first that has rows."""
    found = [f for f in frames if len(f)]
    return pd.concat(found, ignore_index=True) if found else frames[0]


@dataclass(frozen=True, slots=True)
class _Stages:
    """The stages behind reading, over some or all recipes."""

    tools: Tools
    settings: Settings
    runners_up: pd.DataFrame
    convention: Convention | None = None
    brief: bool = False
    habits: bool | frozenset[str] = True
    agreed: Agreed = _its_own

    def stumbling(
        self, collection: Collection, line_result: pd.DataFrame, ids: list[str]
    ) -> dict[str, str]:
        """Recipes that cannot be judged even alone, and why, by halves."""
        try:
            _judge_read(*recipes_of(collection, line_result, set(ids)), [], self)
        except Exception as fault:
            if not is_of_the_input(fault):
                raise
            if len(ids) < 2:  # none: no recipe is at fault
                return dict.fromkeys(ids, f"{type(fault).__name__}: {str(fault)[:100]}")
            half = len(ids) // 2
            return self.stumbling(collection, line_result, ids[:half]) | self.stumbling(
                collection, line_result, ids[half:]
            )
        return {}


def _set_aside(
    collection: Collection, line_result: pd.DataFrame, ids: set[str]
) -> tuple[Collection, pd.DataFrame]:
    """The same with nothing known of some recipes: neither numbers nor foods."""
    if not ids:
        return collection, line_result
    nan = float("nan")
    recipe = collection.recipe.copy()
    recipe.loc[recipe["recipe_id"].isin(ids), ["servings", "yield_g"]] = nan
    stated = collection.stated[~collection.stated["recipe_id"].isin(ids)]
    unknown = {
        "food_id": None, "description": "", "status": "unmatched", "origin": "none", "grams": nan,
        "grams_low": nan, "grams_high": nan, "basis": "none", "amount": nan,
    }  # fmt: skip
    at = line_result.index[line_result["recipe_id"].isin(ids)]
    return replace(collection, recipe=recipe, stated=stated), with_cells(
        line_result, {place: dict(unknown) for place in at}
    )


def _not_reckoned(collection: Collection, recipe_id: str, why: str) -> Problem:
    row = collection.recipe[collection.recipe["recipe_id"] == recipe_id].iloc[0]
    line = row["source_line"]
    return input_problem(
        "recipe-not-reckoned", source=str(row["source"]),
        source_line=None if pd.isna(line) else int(line), recipe_id=recipe_id, title=row["title"],
        why=why,
    )  # fmt: skip


def _judge_read(
    collection: Collection, line_result: pd.DataFrame, problems: list[Problem], stages: _Stages
) -> Result:
    tools, settings, runners_up = stages.tools, stages.settings, stages.runners_up
    brief, habits, none = stages.brief, stages.habits, pd.DataFrame()
    own = pantry_nutrients(tools.pantry)
    collection = _as_meant(collection, settings)
    with tools.snapshot.connect() as con:
        con.execute("set threads = 1")  # sums of several threads differ in their last digit
        told = (stages.convention, stages.agreed)
        sums = add_up(con, collection, line_result, runners_up, tools, settings, *told)
        computation, collection, line_result = sums.computation, sums.collection, sums.lines
        computation = _as_counted(computation, collection, settings)
        causes: list[Habit] = []
        known = Known(
            con, line_result, runners_up, collection.recipe, collection.stated, computation, own
        )
        if habits:
            wanted = None if habits is True else habits
            causes, known = _shared_causes(known, collection, tools, settings, wanted)
            line_result, computation = known.lines, known.computation
            collection = replace(collection, stated=known.stated)
        judged = judge(
            con, computation, collection.stated, runners_up, profile=settings.profile,
            percent=settings.percent, pantry_nutrient=pantry_nutrients(tools.pantry),
        )  # fmt: skip
        found, explanation = no_habits(), judged.explanation
        if habits:
            found, explanation = _with_habits(known, causes, judged, settings)
        recipes = recipe_table(collection.recipe, computation, collection.stated, judged.verdict)
        checks = none if brief else internal_checks(con, collection.stated, computation.recipe)
    problems = [*problems, *computation.problems, *sums.notes]
    lines = _with_values(line_result, computation.line_value)
    lines["food_source"] = source_names(tools.snapshot).column(lines["food_id"])
    return Result(
        recipes=recipes,
        findings=judged.finding,
        lines=lines,
        computed=computation.computed,
        explanations=explanation,
        to_review=none,
        checks=checks,
        corrected=(
            none if brief else publish(computation, rule=settings.publish, stated=collection.stated)
        ),
        claims=none if brief else claims(computation, collection.recipe),
        doubt=computation.doubt,
        problems=problems_frame(problems),
        collection=collection,
        settings=settings,
        snapshot={},
        per_recipe=computation.recipe,
        runners_up=runners_up,
        convention=computation.convention,
        habits=found,
    )


def _as_meant(collection: Collection, settings: Settings) -> Collection:
    """The collection with carbohydrate under the tag its creators mean by it."""
    from pipeline.habits.apply import net_carbohydrate

    if not settings.has_conventions:
        return collection
    recipe = collection.recipe
    net = recipe["creator"].fillna("").map(lambda c: settings.carbohydrate_of(c) == "available")
    ids = recipe.loc[net.astype(bool), "recipe_id"]
    stated = collection.stated
    return replace(collection, stated=net_carbohydrate(stated, stated["recipe_id"].isin(ids)))


def _as_counted(
    computation: Computation, collection: Collection, settings: Settings
) -> Computation:
    """The sums with energy counted as each creator does."""
    from pipeline.habits.apply import counted_energy

    if not settings.has_conventions:
        return computation
    recipe = collection.recipe
    way = recipe["creator"].fillna("").map(settings.energy_of)
    return counted_energy(
        computation,
        factors=set(recipe.loc[way == "atwater", "recipe_id"]),
        without_fibre=set(recipe.loc[way == "without fibre", "recipe_id"]),
    )


def _shared_causes(
    known: Known, collection: Collection, tools: Tools, settings: Settings,
    creators: frozenset[str] | None,
) -> tuple[list[Habit], Known]:  # fmt: skip
    """What recipes of a creator share; lines, numbers and sums with the readings it settles."""
    asked = known.recipe
    if creators is not None:
        asked = asked[asked["creator"].fillna("").isin(creators)]
    if not habits.enough_recipes(asked, known.stated):
        return [], known
    found = habits.find_habits(known, asked, tools.decisions.refused_habits)
    return found, habits.settled(known, found, lambda sums: _as_counted(sums, collection, settings))


def _with_habits(
    known: Known, found: list[Habit], judged: Judgement, settings: Settings
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """HABIT, and the explanations with the habits known."""
    if not habits.enough_recipes(known.recipe, known.stated):
        return no_habits(), judged.explanation
    given = habits.habits_given(known, found, settings)
    table = habits.habit_table(found, given, judged.verdict, known.foods)
    convention = known.computation.convention
    read = (
        settings.carbohydrate == "detect" if convention.available else settings.energy == "detect"
    )
    if not convention.plain and read:
        table = habits.detected(table, convention, known.stated, judged.verdict)
    return table, habits.with_habits(judged.explanation, given, judged.verdict)


@dataclass(frozen=True, slots=True)
class Sums:
    """A collection added up: its sums, the recipes with their servings settled, the lines as they
    count in their dishes, and notes on servings that the words left open."""

    computation: Computation
    collection: Collection
    lines: pd.DataFrame
    notes: list[Problem]


def add_up(
    con: duckdb.DuckDBPyConnection,
    collection: Collection,
    line_result: pd.DataFrame,
    runners_up: pd.DataFrame,
    tools: Tools,
    settings: Settings,
    convention: Convention | None = None,
    agreed: Agreed = _its_own,
) -> Sums:
    """Sums in the collection's convention; the table's own come first, to read it from them."""
    from pipeline.dish import in_the_dish

    lines = in_the_dish(con, collection.recipe, line_result, tools, collection.stated)
    total = partial(compute, con, lines, runners_up, pantry_nutrient=pantry_nutrients(tools.pantry))
    computation = total(collection.recipe, convention=convention or TABLE)
    computation, recipe, stated, notes = settle_servings(
        con, computation, collection.recipe, collection.reading, collection.stated
    )
    if _shares_settled(lines, collection.recipe, recipe):  # "one box of the base" has its size now
        computation, recipe, stated, more = settle_servings(
            con, total(recipe, convention=convention or TABLE), recipe, collection.reading, stated
        )
        notes = list(dict.fromkeys([*notes, *more]))
    collection = replace(collection, recipe=recipe, stated=stated)
    if convention is None:
        convention = agreed(
            partial(
                convention_of, computation, collection.stated, energy=settings.energy,
                carbohydrate=settings.carbohydrate,
            )
        )  # fmt: skip
        computation = (
            replace(computation, convention=convention)
            if convention.plain
            else total(recipe, convention=convention)
        )
    return Sums(computation, collection, lines, notes)


def _shares_settled(lines: pd.DataFrame, before: pd.DataFrame, after: pd.DataFrame) -> bool:
    """Whether the number of servings of a recipe that lines use was not known before, and is now."""
    told = after.loc[before["servings"].isna() & after["servings"].notna(), "recipe_id"]
    return bool(lines["food_id"].isin(PREFIX + told).any())


def still_open(problems: Sequence[Problem], result: Result) -> list[Problem]:
    """Problems without those that later stages have settled: lines made of others, open amounts,
    servings that the stated numbers tell."""
    lines = result.lines
    made, opened = lines["use"] == "made", (lines["basis"] == "open") & lines["grams"].notna()
    settled: dict[str, set[tuple[str, int | None]]] = {
        code: set(zip(lines["recipe_id"][rows], lines["line_no"][rows], strict=True))
        for code, rows in (("food-unknown", made), ("grams-unknown", made | opened))
    }
    known = result.collection.recipe.dropna(subset="servings")["recipe_id"]
    settled["servings-missing"] = {(recipe_id, None) for recipe_id in known}
    return [p for p in problems if (p.recipe_id, p.line_no) not in settled.get(p.code, ())]


def pantry_nutrients(pantry: Pantry) -> pd.DataFrame:
    nan = float("nan")
    return pd.DataFrame(
        [
            (food.food_id, tag, amount, nan, nan)
            for food in pantry.foods
            for tag, amount in food.per_100g.items()
        ],
        columns=FOOD_NUTRIENT,
    )


def _with_values(line_result: pd.DataFrame, line_value: pd.DataFrame) -> pd.DataFrame:
    """Lines with what each brings to the whole recipe: role and one column per nutrient."""
    values = ["recipe_id", "line_no", "role", *(c for c in BY_COLUMN if c in line_value)]
    return line_result.merge(line_value[values], on=["recipe_id", "line_no"], how="left")


def _to_review(lines: pd.DataFrame, runners_up: pd.DataFrame) -> pd.DataFrame:
    """Lines worth a look: not accepted or not weighed, the most energy first."""
    food = lines["names_food"].astype(bool) & (lines["use"] != "made")
    unweighed = lines["grams"].isna() & ~lines["basis"].isin(["open", "recipe"])
    asked = food & ((lines["status"] != "accepted") | unweighed)
    picked = lines.loc[asked, ["reason", "weigh_reason", *(c for c in TO_REVIEW if c != "why")]]
    why = picked["reason"].fillna("")
    both = why + "; " + picked["weigh_reason"].fillna("")
    order = picked["kcal"].fillna(picked["kcal"].max() + 1 if len(picked) else 0)
    return (
        picked.assign(why=why.where(~unweighed[asked], both), _order=order)
        .sort_values(["_order", "recipe_id", "line_no"], ascending=[False, True, True])
        .loc[:, TO_REVIEW]
        .reset_index(drop=True)
    )
