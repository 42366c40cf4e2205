"""The collection as it stands: what its files say, and how each recipe is judged now.

The files beside the collection are the truth. An answer is written there first, one row under a
lock; then the state is brought up to the files, as it is before every page, and only the recipes
that a changed row touches are judged again. So it makes no difference whether this page, another
tab, another process or a text editor changed them.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.habits import enough_recipes
from pipeline.intake import collection_root, read_collection
from pipeline.lines import split_lines
from pipeline.memory import load_decisions, load_pantry
from pipeline.problems import Problem, SteelyardError, failure
from pipeline.reading import load_tools, parts_as_read, read_lines
from pipeline.run import run_settings
from pipeline.safe_files import stamp
from pipeline.settings import FILE_NAME
from pipeline.snapshot import open_snapshot, source_names
from pipeline.web.food_list import FoodList
from pipeline.web.idle import IdleWorker
from pipeline.web.line_index import LineIndex
from pipeline.web.model import Reading, RecipeChange, recipe_key
from pipeline.web.reread import with_files_read_again
from pipeline.web.rerun import RecipeNow, run_again, run_all
from pipeline.web.touched import recipes_accepted, texts_answered, texts_of_pantry

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.intake import Collection
    from pipeline.match.matcher import Matcher
    from pipeline.memory.decisions import Decisions
    from pipeline.memory.pantry import Pantry
    from pipeline.reading import Tools
    from pipeline.settings import Settings
    from pipeline.snapshot import Snapshot

#: Files of recipes are looked at again no more often than this.
LOOK_EVERY_S = 1.0
#: Recipes judged before an answer shows; those it also touches follow by as many at a time.
AT_ONCE = 8
#: They follow when the page has not been asked for anything for so long.
IDLE_S = 0.8
#: Collections of more recipes open before their habits are looked for.
HABITS_AT_ONCE = 100

Stamp = tuple[int, int, int] | None


@dataclass(slots=True)
class OwnFiles:
    """The two files people own, and how they stood when they were read."""

    decisions_path: Path
    pantry_path: Path
    decisions: Decisions
    pantry: Pantry
    problems: list[Problem] = field(default_factory=list)
    stamps: tuple[Stamp, Stamp] = (None, None)


class ReviewState:
    """What the page shows; every public method may be called from any thread.

    Args:
        paths: files and folders of the collection; standard input cannot be reviewed.
        snapshot: nutrient table; the live one when not given.

    Attributes:
        lock: held while several things are read and written as one.
        collection, settings, tools: as read last.
        own: decisions and pantry.
        lines: where each line text stands.
        recipes: every recipe as it is judged now.
        pending: recipes still to be judged, in their order.
        habits: rows of ``habits.HABIT``; ``habits_outdated``: they will be looked for again.
        foods: every food a line may be given.
        own_matcher: reads lines as if no answer had been given.
        version: another one whenever the page has something new to show.
        changed_version: ``version`` when answers or recipes changed last.

    Raises:
        SteelyardError: settings or snapshot cannot be used, or there is no recipe.
    """

    def __init__(
        self,
        paths: Sequence[str | Path] | str | Path,
        snapshot: Snapshot | None = None,
    ) -> None:
        self.paths = [paths] if isinstance(paths, (str, Path)) else list(paths)
        if any(str(p) == "-" for p in self.paths):
            raise failure("review-needs-files")
        self.snapshot = snapshot or open_snapshot()
        self.lock = threading.RLock()
        self.con = self.snapshot.connect()  # kept open: the next connection costs nothing
        self.con.execute("set threads = 1")  # the queries of an answer are too small to share
        self._worker = IdleWorker(self._idle_step)
        self.pending: dict[str, None] = {}
        self.version = self.changed_version = 0
        self._search_took = 0.0
        self.settings: Settings
        self.habits_outdated = False
        self._loaded = False
        self._load()
        if not self.recipes:
            found = next(iter(self.collection.problems), None)
            raise SteelyardError(
                found or Problem("no-recipe", "no recipe was found", fix="name another folder"), 3
            )

    def close(self) -> None:
        """Stop the work in the background and let go of the snapshot."""
        self._worker.close()
        self.con.close()

    # -- reading ---------------------------------------------------------------------------

    def _load(self) -> None:
        """Read everything from the files."""
        before = (self.settings, self.own.stamps) if self._loaded else None
        self.settings = self._read_settings()
        self.collection: Collection = read_collection(self.paths, settings=self.settings)
        own = read_own_files(self.collection, self.settings)
        if before != (self.settings, own.stamps):
            self.own: OwnFiles = own
            self.tools: Tools = load_tools(
                self.snapshot, pantry=own.pantry, decisions=own.decisions, settings=self.settings
            )
            self._renew_foods()
        self._stamps = self._file_stamps()
        self.lines = LineIndex(self._split(self.collection.line))
        self._recipe_of = {recipe_key(str(r)): str(r) for r in self.collection.recipe["recipe_id"]}
        self._seeks_habits = enough_recipes(self.collection.recipe, self.collection.stated)
        at_once = len(self.collection.recipe) <= HABITS_AT_ONCE
        self.pending.clear()
        self.recipes: dict[str, RecipeNow]
        self.habits: list[dict[str, Any]]
        self.recipes, self.habits = run_all(
            self.collection, self.tools, self.settings, habits=at_once
        )
        self._looked = time.monotonic()
        self._loaded = True
        self.habits_outdated = False
        self._changed(habits_outdated=not at_once)

    def _read_settings(self) -> Settings:
        """The settings in force; those read before when the file cannot be used any more."""
        self._settings_problem: Problem | None = None
        try:
            return run_settings(collection_root(self.paths), None, None)
        except SteelyardError as fault:
            if not self._loaded:
                raise
            why = f"{fault.problem.why}; the settings read before are in force"
            self._settings_problem = replace(fault.problem, why=why)
            return self.settings

    def _renew_foods(self) -> None:
        """Matcher, weigher and list of foods over the pantry in force."""
        own, tools = self.own, self.tools
        if tools.pantry is not own.pantry:
            tools.pantry = own.pantry
            tools.matcher = tools.matcher.with_memory(own.pantry, own.decisions)
            tools.weigher = tools.weigher.with_pantry(own.pantry)
            tools.answer(own.decisions)  # one may name a food that is new
        self.own_matcher: Matcher = tools.matcher.with_memory(own.pantry)
        before = self.foods if self._loaded else None
        self.foods: FoodList = FoodList(self.own_matcher, before, source_names(self.snapshot))

    def refresh(self, *, now: bool = False) -> bool:
        """Take up what changed on disk since the last time.

        Args:
            now: look at the recipe files too, even when they were looked at a moment ago.

        Returns:
            Whether there was anything to take up.
        """
        with self.lock:
            found = False
            if now or time.monotonic() - self._looked > LOOK_EVERY_S:
                self._looked = time.monotonic()
                stamps = self._file_stamps()
                changed = {
                    p for p in stamps.keys() | self._stamps.keys()
                    if stamps.get(p) != self._stamps.get(p)
                }  # fmt: skip
                if changed:
                    found = True
                    self._stamps = stamps
                    if not self._read_again(changed):
                        self._load()
            if (stamp(self.own.decisions_path), stamp(self.own.pantry_path)) != self.own.stamps:
                found = True
                self._take_up_answers()
            return found

    def in_use(self) -> AbstractContextManager[None]:
        """While the page is used, work in the background waits."""
        return self._worker.waits()

    def written_after(self, moment: float) -> bool:
        """Whether recipes, answers, pantry or settings were written after a time, in seconds."""
        own = (self.own.decisions_path, self.own.pantry_path, self.root / FILE_NAME)
        for path in (*self.collection.files.values(), *own):
            with contextlib.suppress(OSError):
                if path.stat().st_mtime > moment:
                    return True
        return False

    def _file_stamps(self) -> dict[Path, Stamp]:
        """Files the collection was read from, and folders in which new ones may appear."""
        files = self.collection.files.values()
        stamps = {path: stamp(path) for path in {*files, self.root / FILE_NAME}}
        own = {self.own.decisions_path.name, self.own.pantry_path.name}
        for folder in {p.parent for p in files} | {self.root}:
            try:  # names only: our own writing touches times
                names = sorted(p.name for p in folder.iterdir() if not p.name.startswith("."))
            except OSError:
                names = []
            stamps[folder / "."] = (hash(tuple(n for n in names if n not in own)), 0, 0)
        return stamps

    def _read_again(self, paths: set[Path]) -> bool:
        """Take up recipe files that alone changed; False when everything has to be read."""
        read = with_files_read_again(self.collection, paths, self.settings)
        if read is None:
            return False
        self.collection, recipes = read
        self._index_again(recipes)
        self._judge([r for r in self.recipes if r in recipes])
        self._changed(habits_outdated=bool(recipes))
        return True

    def _take_up_answers(self) -> None:
        """Take up decisions and pantry, and judge the recipes they touch."""
        before = self.own
        self.own = after = read_own_files(self.collection, self.settings)
        texts = texts_answered(before.decisions, after.decisions, self.lines)
        self.tools.answer(after.decisions)
        if before.pantry.by_id != after.pantry.by_id:
            self._renew_foods()
            texts |= texts_of_pantry(
                before.pantry, after.pantry, self.lines, self.recipes, self.tools
            )
        else:
            after.pantry = before.pantry
        recipes = self.lines.recipes(texts)
        if any(self.lines.parsed[key].parts for key in texts):
            self._index_again(recipes)  # a line of several foods may mean one now
        recipes |= recipes_accepted(before.decisions, after.decisions, self.recipes)
        first = [r for r in self._first if r in recipes]
        order = list(dict.fromkeys([*first, *(r for r in self.recipes if r in recipes)]))
        self._judge(order[:AT_ONCE])
        self._put_off(order[AT_ONCE:], texts)
        refused = before.decisions.refused_habits != after.decisions.refused_habits
        self._changed(habits_outdated=bool(texts) or refused)

    def _index_again(self, recipes: set[str]) -> None:
        line = self.collection.line
        mine = line[line["recipe_id"].isin(recipes)]
        self.lines.replace(recipes, self._split(mine))

    def _split(self, line: pd.DataFrame) -> pd.DataFrame:
        """Lines with a row for each food of those that hold several."""
        return split_lines(line, parts_as_read(line["text"].unique(), self.tools))

    def _changed(self, *, habits_outdated: bool) -> None:
        """Something is new; habits are about all recipes of a creator and are looked for later."""
        self.habits_outdated = self._seeks_habits and (self.habits_outdated or habits_outdated)
        self.version += 1
        self.changed_version = self.version
        if self.habits_outdated:
            self._worker.wake()

    # -- judging ---------------------------------------------------------------------------

    def _judge(self, recipes: Sequence[str]) -> None:
        """Read and judge recipes, and those made with them, again."""
        changed = run_again(self.collection, self.tools, self.settings, self.recipes, recipes)
        self.recipes.update(changed)
        for recipe_id in (*recipes, *changed):
            self.pending.pop(recipe_id, None)

    def _put_off(self, recipes: Sequence[str], texts: set[str]) -> None:
        """Judge recipes soon; their lines of some texts stand as they are read now."""
        if not recipes:
            return
        self.pending.update(dict.fromkeys(recipes))
        keys = [key for key in texts if key in self.lines.texts]
        read = read_lines([self.lines.texts[key] for key in keys], self.tools)
        for key, one in zip(keys, read, strict=True):
            reading = Reading(one.parsed, one.match, one.weight)
            for recipe_id, line_no in self.lines.places(key):
                if recipe_id in self.pending:
                    _read_line_again(self.recipes[recipe_id], line_no, reading)
        self._worker.wake()

    def finish(self, recipes: Iterable[str] | None = None) -> None:
        """Judge recipes that were put off now: those named, else all, and look for habits."""
        with self.lock:
            named = self.pending if recipes is None else recipes
            wanted = [r for r in named if r in self.pending]
            if wanted:
                self._judge(wanted)
                self.version += not self.pending
            if recipes is None and self.habits_outdated:
                self._look_for_habits()

    def _idle_step(self, idle: float) -> bool:
        """One piece of what was put off; an answer never waits for more than that."""
        with self.lock:
            if self.pending:
                if idle >= IDLE_S:
                    self._judge(list(self.pending)[:AT_ONCE])
                    self.version += not self.pending
                return True
            if self.habits_outdated and idle < max(IDLE_S, self._search_took):
                return True
        if self.habits_outdated:
            self._look_for_habits()
        return bool(self.pending) or self.habits_outdated

    def _look_for_habits(self) -> None:
        """Judge everything with habits known, beside the work on the page, and take it over.

        What was found is dropped when something changed meanwhile; it is then looked for again.
        """
        with self.lock:
            begun, start = self.changed_version, time.monotonic()
            collection, settings, own = self.collection, self.settings, self.own
            matcher = self.tools.matcher.with_memory(own.pantry, own.decisions)
            tools = replace(self.tools, matcher=matcher)
        recipes, habits = run_all(collection, tools, settings, habits=True)
        with self.lock:
            self._search_took = time.monotonic() - start
            if self.changed_version == begun:
                self.recipes, self.habits = recipes, habits
                self.habits_outdated = False
                self.pending.clear()
                self.version += 1

    def moved_by(self, named: Iterable[str], act: Callable[[], object]) -> tuple[RecipeChange, ...]:
        """Do something; the recipes it moved, those named first and always."""
        with self.lock:
            before = {r: (now.standing, now.kcal) for r, now in self.recipes.items()}
            self._first = list(named)
            act()
            shown = set(self._first) - set(self.pending)
            self._first = []
            moved = [
                RecipeChange(
                    r, now.title, before[r][0], now.standing, before[r][1], now.kcal, now.per
                )
                for r, now in self.recipes.items()
                if r in before and (before[r] != (now.standing, now.kcal) or r in shown)
            ]
        moved.sort(key=lambda m: (m.was == m.now, m.recipe_id not in shown, m.title))
        return tuple(moved)

    #: Recipes to judge first: those that ``moved_by`` names.
    _first: Sequence[str] = ()

    # -- asking ----------------------------------------------------------------------------

    @property
    def root(self) -> Path:
        return self.collection.root

    def drop_habit(self, key: str) -> None:
        """A habit that was answered is no question any more."""
        with self.lock:
            self.habits = [row for row in self.habits if row["key"] != key]

    def ask_habit_again(self, row: dict[str, Any]) -> None:
        """An answer about a habit was taken back."""
        with self.lock:
            if all(row["key"] != other["key"] for other in self.habits):
                self.habits = [row, *self.habits]
            self._changed(habits_outdated=True)

    def problems(self) -> list[Problem]:
        """Faults of the files as they stand: recipes first, then the two files people own."""
        own = [self._settings_problem] if self._settings_problem else []
        mine = [*self.own.problems, *self.tools.problems]
        return [*own, *self.snapshot.notes, *self.collection.problems, *mine]

    def recipe_id(self, key: str) -> str | None:
        """The recipe of a key of an address, None when it is not there (any more)."""
        recipe_id = self._recipe_of.get(key)
        return recipe_id if recipe_id in self.recipes else None

    def line(self, recipe_id: str, line_no: int) -> dict[str, Any] | None:
        """A line of a recipe as it is counted now."""
        return self.recipes[recipe_id].line(line_no)

    def title(self, recipe_id: str) -> str:
        return self.recipes[recipe_id].title


def read_own_files(collection: Collection, settings: Settings) -> OwnFiles:
    """Decisions and pantry of a collection, whether they are there or not."""
    decisions = collection.root / (settings.decisions or "decisions.csv")
    pantry = collection.root / (settings.pantry or "pantry.csv")
    stamps = stamp(decisions), stamp(pantry)
    answers, first = load_decisions(decisions)
    foods, second = load_pantry(pantry)
    return OwnFiles(decisions, pantry, answers, foods, [*first, *second], stamps)


def _read_line_again(recipe: RecipeNow, line_no: int, reading: Reading) -> None:
    """What a line of a recipe that waits to be judged asks and says, without its numbers."""
    row = recipe.line(line_no)
    if row is None or row["origin"] == "recipe":
        return
    match, weight = reading.match, reading.weight
    row.update(
        food_id=match.food_id, description=match.description, confidence=match.confidence,
        status=match.status, origin=match.origin, reason=match.reason, grams=weight.grams,
        grams_low=weight.low, grams_high=weight.high, basis=weight.basis,
        weigh_reason=weight.reason,
    )  # fmt: skip
    recipe.asks.pop(line_no, None)
    if reading.asks:
        recipe.asks[line_no] = {**row, "why": match.reason}
