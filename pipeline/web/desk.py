"""What the page works on: the collection as it stands, the queue, answers given and taken back.

The files beside the collection are the truth. An answer is written there first, one row under a
lock; then the desk looks at the files, as it does before every page, and counts anew only the
recipes that a changed row touches. So it makes no difference whether this page, another tab,
another process or a text editor changed them.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.habits.model import ids_of
from pipeline.memory.conventions import restore_settings
from pipeline.memory.decisions import Decision, Decisions, change_decision, same_text, text_key
from pipeline.nutrients import BY_TAG
from pipeline.problems import Problem, SteelyardError
from pipeline.publish.amend import Amendment
from pipeline.web.rerun import RecipeNow, run_again, run_all

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.intake import Collection
    from pipeline.intake.spoken.cards import WrittenRecipe
    from pipeline.lines.model import ParsedLine
    from pipeline.match.matcher import Matcher
    from pipeline.match.model import Match
    from pipeline.memory.pantry import Pantry
    from pipeline.publish.script_cards import CardEditor
    from pipeline.run import Tools
    from pipeline.settings import Settings
    from pipeline.snapshot import Snapshot
    from pipeline.web.foods import Shelf
    from pipeline.weigh.model import Weight

NO_FOOD = "none"
#: How the match begins its reason where a table is known to lack a food.
LACKS = "the table lacks it"
#: Files of recipes are looked at again no more often than this.
LOOK_EVERY_S = 1.0
#: Answers of this sitting that can be taken back.
KEEP_ANSWERS = 500
#: Recipes judged before an answer shows; those it also touches follow by as many at a time.
AT_ONCE = 8
#: They follow when the page has not been asked for anything for so long.
IDLE_S = 0.8

Place = tuple[str, int]  # recipe_id, line_no
Stamp = tuple[int, int, int] | None


class Changed(Exception):
    """Someone else answered meanwhile: ``now`` is the answer that stands in the file."""

    def __init__(self, now: Decision | None) -> None:
        super().__init__("answered elsewhere")
        self.now = now


@dataclass(frozen=True, slots=True)
class Item:
    """A distinct line text that asks for an answer.

    Attributes:
        key: its name in addresses.
        text: as first written.
        places: every line that reads so.
        why: what could not be settled.
        kcal: what hangs on it over all its lines, kcal of whole recipes.
        estimated: ``kcal`` is a rough guess, since food or grams are not known.
        open_kcal: how much of it the doubt about these lines leaves open.
    """

    key: str
    text: str
    places: tuple[Place, ...]
    why: str
    kcal: float
    estimated: bool
    open_kcal: float = 0.0


@dataclass(frozen=True, slots=True)
class Reading:
    """A line as the tool reads it by itself, answers apart."""

    parsed: ParsedLine
    match: Match
    weight: Weight

    @property
    def asks(self) -> bool:
        """Whether it would stand in the queue."""
        return (
            self.parsed.kind == "food"
            and self.match.names_food
            and (
                self.match.status != "accepted"
                or (self.weight.grams is None and self.weight.basis not in {"open", "recipe"})
            )
        )


@dataclass(frozen=True, slots=True)
class Moved:
    """A recipe whose verdict or energy an answer moved; energy per serving, None when unknown."""

    recipe_id: str
    title: str
    was: str
    now: str
    kcal_was: float | None
    kcal_now: float | None


@dataclass(frozen=True, slots=True)
class Change:
    """One row of ``decisions.csv``, or of the pantry (``food_id``), or a whole file of cards (``cards``).

    ``before`` and ``after`` are what stood and what stands there; texts of ``steelyard.toml`` when
    ``settings`` is its path.
    """

    text: str
    scope: str
    before: Any
    after: Any
    food_id: str = ""
    cards: Path | None = None
    settings: Path | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of this sitting, as it can be taken back.

    ``script``: key of a script it corrects; ``recipe_id``: of the recipe whose file it changed, or
    whose difference it accepts; ``later``: recipes it touches that are being judged still.
    """

    answer_id: str
    key: str
    text: str
    said: str
    lines: int
    changes: tuple[Change, ...]
    moved: tuple[Moved, ...] = ()
    script: str = ""
    later: int = 0
    recipe_id: str = ""


@dataclass(frozen=True, slots=True)
class Script:
    """A spoken script as it stands.

    Attributes:
        key: its name in addresses.
        source: its file, as messages name it.
        text: the spoken words.
        marks: rows of ``tables.SCRIPT_MARK``.
        cards: what its cards hold, written out or not.
        cards_path: the file of cards.
        written: whether that file is there.
        seen: fingerprint of what the page shows; another one means that it was changed since.
        recipe_ids: of its recipes, by their place in ``cards``; "" for a card without lines.
        line_nos: of the lines of each card, in their order; None for a heading of the card alone.
    """

    key: str
    source: str
    text: str
    marks: list[dict[str, Any]]
    cards: CardEditor
    cards_path: Path
    written: bool
    seen: str
    recipe_ids: list[str]
    line_nos: list[list[int | None]]

    def card_line(self, place: int, line_no: int) -> int | None:
        """Where a line of a recipe stands in its card; a card not written yet has more headings."""
        nos = self.line_nos[place] if place < len(self.line_nos) else []
        return nos.index(line_no) if line_no in nos else None

    def place_of(self, recipe_id: str) -> int | None:
        """Where a recipe stands in ``cards``."""
        return self.recipe_ids.index(recipe_id) if recipe_id in self.recipe_ids else None


@dataclass(slots=True)
class _Memory:
    """The two files people own, and where they stood when they were read."""

    decisions_path: Path
    pantry_path: Path
    decisions: Decisions
    pantry: Pantry
    problems: list[Problem] = field(default_factory=list)
    stamps: tuple[Stamp, Stamp] = (None, None)


class Desk:
    """The state behind the page; every public method may be called from any thread.

    Args:
        paths: files and folders of the collection; standard input cannot be reviewed.
        settings: ``steelyard.toml`` of the collection when not given.
        snapshot: nutrient table; the live one when not given.

    Raises:
        SteelyardError: settings or snapshot cannot be used, or there is no recipe.
    """

    def __init__(
        self,
        paths: Sequence[str | Path] | str | Path,
        *,
        settings: Settings | None = None,
        snapshot: Snapshot | None = None,
    ) -> None:
        from pipeline.snapshot import open_snapshot

        self.paths = [paths] if isinstance(paths, (str, Path)) else list(paths)
        if any(str(p) == "-" for p in self.paths):
            raise SteelyardError(
                Problem(
                    "review-needs-files",
                    "standard input cannot be reviewed",
                    "answers are kept in decisions.csv beside the recipes",
                    "name a file or folder",
                )
            )
        self._given_settings = settings
        self._snapshot = snapshot or open_snapshot()
        self._lock = threading.RLock()
        self._con = self._snapshot.connect()  # kept open: the next connection costs nothing
        self._history: list[Answer] = []
        self._count = 0
        self._written_out: dict[Path, str] = {}
        self._later: dict[str, None] = {}  # recipes still to be judged, in their order
        self._first: list[str] = []  # recipes to judge first: those a person looks at
        self._worker: threading.Thread | None = None
        self._closed = False
        self._busy = 0.0
        self._asked: set[str] = set()
        self.version = self.foreign = 0
        self._asked_all = False
        self._load()
        if not self.recipes:
            found = next(iter(self.collection.problems), None)
            raise SteelyardError(
                found or Problem("no-recipe", "no recipe was found", fix="name another folder"), 3
            )

    def close(self) -> None:
        """Let go of the snapshot."""
        self._closed = True
        worker = self._worker
        if worker is not None:
            worker.join()
        self._con.close()

    # -- reading ---------------------------------------------------------------------------

    def _load(self) -> None:
        """Read everything from the files."""
        from pipeline.intake import collection_root, read_collection
        from pipeline.reconcile import profiles
        from pipeline.run import load_tools
        from pipeline.settings import load_settings

        root = collection_root(self.paths)
        before = getattr(self, "settings", None)
        self._settings_problem: Problem | None = None
        try:
            self.settings = self._given_settings or load_settings(root)
        except SteelyardError as fault:
            if before is None:
                raise
            why = f"{fault.problem.why}; the settings read before are in force"
            self._settings_problem = replace(fault.problem, why=why)
        if self.settings.profile not in profiles():
            unknown = Problem(
                "profile-unknown",
                f'tolerance profile "{self.settings.profile}" is not known',
                "nothing was checked",
                "use one of: " + ", ".join(profiles()),
            )
            if before is None:
                raise SteelyardError(unknown)
            self.settings = before
            self._settings_problem = replace(unknown, why="the settings read before are in force")
        self.collection: Collection = read_collection(self.paths, settings=self.settings)
        memory = getattr(self, "_memory", None)
        self._memory = self._read_memory()
        self._files = self._file_stamps()
        if before != self.settings or memory is None or memory.stamps != self._memory.stamps:
            self.tools: Tools = load_tools(
                self._snapshot, pantry=self._memory.pantry, decisions=self._memory.decisions,
                settings=self.settings,
            )  # fmt: skip
            self._new_pantry()
        else:  # recipes alone changed: what reads them stays
            self._memory = memory
        self._readings: dict[str, Reading] = {}
        self._index_lines()
        self.recipes: dict[str, RecipeNow]
        self.habits: list[dict[str, Any]]
        self.recipes, self.habits = run_all(self.collection, self.tools, self.settings)
        self._later.clear()
        self._looked = time.monotonic()
        self.version += 1
        self.foreign = self.version

    def _index_lines(self) -> None:
        """Where each text stands, and which texts share a food name."""
        from pipeline.doubts import parts_in
        from pipeline.lines import parse, parse_many, split_lines
        from pipeline.run import decided_whole

        line = split_lines(
            self.collection.line,
            lambda text: decided_whole(text, self.tools.decisions),
            lambda text: parts_in(parse(text), self.tools.matcher),
        )
        self._places: defaultdict[str, list[Place]] = defaultdict(list)
        self._texts: dict[str, str] = {}
        for recipe_id, line_no, text in zip(
            line["recipe_id"], line["line_no"], line["text"], strict=True
        ):
            key = line_key(str(text))
            self._texts.setdefault(key, str(text))
            self._places[key].append((str(recipe_id), int(line_no)))
        self._parsed: dict[str, ParsedLine] = dict(
            zip(self._texts, parse_many(list(self._texts.values())), strict=True)
        )
        self._named: defaultdict[str, list[str]] = defaultdict(list)
        for key, parsed in self._parsed.items():
            if parsed.kind == "food" and parsed.name:
                self._named[same_text(parsed.name)].append(key)
        self._recipe_of = {recipe_key(str(r)): str(r) for r in self.collection.recipe["recipe_id"]}
        self._scripts = {line_key(str(s)): str(s) for s in self.collection.scripts["source"]}

    def _read_memory(self) -> _Memory:
        from pipeline.memory import load_decisions, load_pantry

        root = self.collection.root
        decisions = root / (self.settings.decisions or "decisions.csv")
        pantry = root / (self.settings.pantry or "pantry.csv")
        stamps = _stamp(decisions), _stamp(pantry)
        answers, first = load_decisions(decisions)
        foods, second = load_pantry(pantry)
        return _Memory(decisions, pantry, answers, foods, [*first, *second], stamps)

    def _new_pantry(self) -> None:
        """Matcher, weigher and shelf over the pantry in force."""
        from pipeline.snapshot import source_names
        from pipeline.web.foods import Shelf

        memory, tools = self._memory, self.tools
        if tools.pantry is not memory.pantry:
            tools.pantry = memory.pantry
            tools.matcher = tools.matcher.with_memory(memory.pantry, memory.decisions)
            tools.weigher = tools.weigher.with_pantry(memory.pantry)
        self._plain: Matcher = tools.matcher.with_memory(memory.pantry)
        self.shelf: Shelf = Shelf(
            self._plain, getattr(self, "shelf", None), source_names(self._snapshot)
        )
        self._readings = {}

    def look(self, *, now: bool = False) -> bool:
        """Take up what changed on disk since the last look.

        Args:
            now: look at the recipe files too, even when they were looked at a moment ago.

        Returns:
            Whether there was anything to take up.
        """
        self._busy = time.monotonic()
        with self._lock:
            if now or time.monotonic() - self._looked > LOOK_EVERY_S:
                self._looked = time.monotonic()
                if self._file_stamps() != self._files:
                    self._load()
                    return True
            stamps = _stamp(self._memory.decisions_path), _stamp(self._memory.pantry_path)
            if stamps != self._memory.stamps:
                self._take_up_memory()
                return True
            return False

    def _file_stamps(self) -> dict[Path, Stamp]:
        """Files the collection was read from, and folders in which new ones may appear."""
        from pipeline.settings import FILE_NAME

        paths = {*self.collection.files.values(), self.collection.root / FILE_NAME}
        folders = {p.parent for p in self.collection.files.values()}
        stamps = {path: _stamp(path) for path in paths}
        own = {self._memory.decisions_path.name, self._memory.pantry_path.name}
        for folder in folders | {self.collection.root}:  # names only: our own writing touches times
            try:
                names = sorted(p.name for p in folder.iterdir() if not p.name.startswith("."))
            except OSError:
                names = []
            listed = hash(tuple(n for n in names if n not in own))
            stamps[folder / "."] = (listed, 0, 0)
        return stamps

    def _take_up_memory(self) -> None:
        before = self._memory
        self._memory = after = self._read_memory()
        touched = self._touched_by_answers(before.decisions, after.decisions)
        self.tools.decisions = self.tools.matcher.decisions = after.decisions
        if before.pantry.by_id != after.pantry.by_id:
            self._new_pantry()
            touched |= self._touched_by_pantry(before.pantry, after.pantry)
        else:
            self._memory.pantry = before.pantry
        recipes = {recipe_id for key in touched for recipe_id, _ in self._places[key]}
        recipes |= self._touched_by_accepted(before.decisions, after.decisions)
        refused = before.decisions.refused_habits != after.decisions.refused_habits
        if refused or self._asked_all or self._in_habits(recipes):
            self._judge_all()  # a habit is about all recipes of its creator
            return
        first = [r for r in self._first if r in recipes]
        order = list(dict.fromkeys([*first, *(r for r in self.recipes if r in recipes)]))
        self._judge(order[:AT_ONCE])
        self._put_off(order[AT_ONCE:], touched)
        self.version += 1
        self.foreign = self.version

    def _judge(self, recipes: Sequence[str]) -> None:
        """Read and judge recipes, and those made with them, anew."""
        changed = run_again(self.collection, self.tools, self.settings, self.recipes, recipes)
        self.recipes.update(changed)
        for recipe_id in (*recipes, *changed):
            self._later.pop(recipe_id, None)

    def _put_off(self, recipes: Sequence[str], touched: set[str]) -> None:
        """Judge recipes soon; their lines of the touched texts stand as they are read now."""
        if not recipes:
            return
        from pipeline.run import read_lines

        self._later.update(dict.fromkeys(recipes))
        waiting, keys = set(recipes), list(touched)
        for key, read in zip(
            keys, read_lines([self._texts[k] for k in keys], self.tools), strict=True
        ):
            reading = Reading(read.parsed, read.match, read.weight)
            for recipe_id, line_no in self._places[key]:
                if recipe_id in waiting:
                    self._reread(recipe_id, line_no, reading)
        if self._worker is None:
            self._worker = threading.Thread(target=self._catch_up, daemon=True)
            self._worker.start()

    def _reread(self, recipe_id: str, line_no: int, reading: Reading) -> None:
        """What a line of a recipe that waits to be judged asks and says, without its numbers."""
        recipe, row = self.recipes[recipe_id], self.line(recipe_id, line_no)
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

    def _catch_up(self) -> None:
        """Judge what was put off, a few recipes at a time, so that an answer never waits long."""
        while True:
            time.sleep(0.05)
            if time.monotonic() - self._busy < IDLE_S and not self._closed:
                continue  # a person who works comes first
            with self._lock:
                batch = list(self._later)[:AT_ONCE]
                if not batch or self._closed:
                    self._worker = None
                    return
                self._judge(batch)
                if not self._later:
                    self.version += 1

    def finish(self, recipes: Iterable[str] | None = None) -> None:
        """Judge recipes that were put off now: those named, else all."""
        with self._lock:
            wanted = [r for r in (self._later if recipes is None else recipes) if r in self._later]
            if wanted:
                self._judge(wanted)
                self.version += not self._later

    def _touched_by_accepted(self, before: Decisions, after: Decisions) -> set[str]:
        """Recipes whose accepted difference changed."""
        changed = {
            key for key in before.recipes.keys() | after.recipes.keys()
            if before.recipes.get(key) != after.recipes.get(key)
        }  # fmt: skip
        return {r for r in self.recipes if changed & {same_text(r), same_text(self._title(r))}}

    def _in_habits(self, recipes: set[str]) -> bool:
        return any(recipes & set(ids_of(h["recipe_ids"])) for h in self.habits)

    def _touched_by_answers(self, before: Decisions, after: Decisions) -> set[str]:
        old, new = _by_subject(before), _by_subject(after)
        touched: set[str] = set()
        for subject in old.keys() | new.keys():
            if old.get(subject) == new.get(subject):
                continue
            scope, text = subject
            if scope in ("recipe", "habit"):
                continue
            touched.update(self._named.get(text, ()) if scope == "name" else [line_key(text)])
        return {key for key in touched if key in self._texts}

    def _touched_by_pantry(self, before: Pantry, after: Pantry) -> set[str]:
        """Texts that the matcher now reads otherwise, and those of foods whose values changed."""
        from pipeline.run import read_lines

        other = {
            food_id
            for food_id in before.by_id.keys() | after.by_id.keys()
            if before.by_id.get(food_id) != after.by_id.get(food_id)
        }
        was: dict[str, dict[str, Any]] = {
            line_key(row["text"]): row for r in self.recipes.values() for row in r.lines
        }
        matcher = self.tools.matcher
        named = {
            word
            for food_id in other
            for pantry in (before, after)
            if (food := pantry.by_id.get(food_id)) is not None
            for name in (food.name, *food.aliases)
            for word in matcher.words_of(name)
        }
        touched = set()
        keys = [
            key for key, parsed in self._parsed.items()
            if parsed.kind == "food"
            and ((row := was.get(key)) is None or row["food_id"] in other
                 or not named.isdisjoint(matcher.words_in(parsed)))
        ]  # fmt: skip
        for key, read in zip(
            keys, read_lines([self._texts[k] for k in keys], self.tools), strict=True
        ):
            line = was.get(key)
            if (  # a line that is not there yet has nothing to compare
                line is None
                or line["food_id"] in other
                or line["food_id"] != read.match.food_id
                or line["grams"] != read.weight.grams
                or line["status"] != read.match.status
            ):
                touched.add(key)
        return touched

    # -- asking ----------------------------------------------------------------------------

    @property
    def root(self) -> Path:
        return self.collection.root

    @property
    def decisions_path(self) -> Path:
        return self._memory.decisions_path

    @property
    def pantry_path(self) -> Path:
        return self._memory.pantry_path

    def problems(self) -> list[Problem]:
        """Faults of the files as they stand: recipes first, then the two files people own."""
        own = [self._settings_problem] if self._settings_problem else []
        return [*own, *self._snapshot.notes, *self.collection.problems, *self._memory.problems]

    def queue(self) -> list[Item]:
        """Texts that ask, by the energy that is really open; trivial ones last."""
        self._busy = time.monotonic()
        with self._lock:
            asking: dict[str, list[Place]] = defaultdict(list)
            why: dict[str, str] = {}
            for recipe_id, recipe in self.recipes.items():
                for line_no, row in recipe.asks.items():
                    key = line_key(row["text"])
                    asking[key].append((recipe_id, line_no))
                    why.setdefault(key, str(row["why"] or ""))
            items = [self._item(key, places, why[key]) for key, places in asking.items()]
            return sorted(items, key=lambda i: (-i.open_kcal, -i.kcal, i.text, i.key))

    def _weight(self, parsed: ParsedLine, answer: Decision) -> Weight:
        weight = self.tools.weigher.weigh_one(parsed, answer.food_id, "")
        return weight if answer.grams is None else replace(weight, grams=answer.grams)

    def _item(self, key: str, places: list[Place], why: str) -> Item:
        known = [
            row["kcal"] for recipe_id, no in places
            if (row := self.line(recipe_id, no)) is not None and row["kcal"] is not None
        ]  # fmt: skip
        is_open = sum(self._open_kcal(*place) for place in places)
        if known:
            return Item(key, self._texts[key], tuple(places), why, sum(known), False, is_open)
        guess = self._rough_kcal(self.reading(key)) * len(places)
        return Item(key, self._texts[key], tuple(places), why, guess, True, is_open)

    def _open_kcal(self, recipe_id: str, line_no: int) -> float:
        """Energy of a line that its doubt leaves open, kcal of the whole recipe."""
        from pipeline.report.todo import open_share

        recipe = self.recipes[recipe_id]
        doubt = next((d for d in recipe.doubt if int(d["line_no"]) == line_no), None)
        row = self.line(recipe_id, line_no)
        kcal = None if row is None else row["kcal"]
        return open_share(doubt["share"] if doubt else 0.0, recipe.half_kcal, kcal)

    def _rough_kcal(self, reading: Reading) -> float:
        """Energy of a line whose food or grams are not known, by what comes nearest."""
        from pipeline.compute.totals import KCAL_PER_GRAM, KCAL_PER_LINE, ROUGH_GRAMS

        grams = reading.weight.grams
        if grams is None:
            rough = [
                m.amount * ROUGH_GRAMS[m.unit] for m in reading.parsed.measures
                if m.unit in ROUGH_GRAMS
            ]  # fmt: skip
            grams = rough[0] if rough else None
        near = [
            (food.kcal, weight) for food_id, weight in self._beliefs(reading.match)
            if (food := self.shelf.get(food_id)) is not None and food.kcal is not None
        ]  # fmt: skip
        whole = sum(weight for _, weight in near)
        per_gram = sum(k * w for k, w in near) / whole / 100 if whole > 0 else KCAL_PER_GRAM
        return KCAL_PER_LINE if grams is None else grams * per_gram

    @staticmethod
    def _beliefs(match: Match) -> list[tuple[str, float]]:
        if match.food_id is not None:
            return [(match.food_id, 1.0)]
        return [(c.food_id, c.probability) for c in match.runners_up]

    def settled(self) -> list[tuple[Decision, list[str]]]:
        """Answers in force that touch a line here, the latest last, each with its texts' keys."""
        with self._lock:
            out = []
            for (scope, text), answer in _by_subject(self._memory.decisions).items():
                if scope in ("recipe", "habit"):
                    continue
                keys = self._named.get(text, []) if scope == "name" else [line_key(text)]
                keys = [key for key in keys if key in self._texts]
                if keys:
                    out.append((answer, keys))
            return out

    def progress(self, queue: Sequence[Item]) -> tuple[int, int]:
        """How many of the texts that asked are settled, and how many asked."""
        with self._lock:
            open_keys = {item.key for item in queue}
            self._asked = {key for key in self._asked if key in self._texts} | open_keys
            answered = {key for _, keys in self.settled() for key in keys} - open_keys
            done = {key for key in answered if self.reading(key).asks}
            done |= (
                self._asked - open_keys
            )  # a pantry food settles lines without an answer of theirs
            return len(done), len(done) + len(open_keys)

    def reading(self, key: str) -> Reading:
        """How the tool reads a text by itself."""
        with self._lock:
            known = self._readings.get(key)
            if known is None:
                parsed = self._parsed[key]
                match = self._plain.match_one(parsed)
                weight = self.tools.weigher.weigh_one(
                    parsed, match.food_id, match.description, match.reference_id
                )
                known = self._readings[key] = Reading(parsed, match, weight)
            return known

    def weigh(self, key: str, food_id: str) -> Weight:
        """What a line would weigh if it meant a food; grams a person gave hold for any food."""
        with self._lock:
            parsed = self._parsed[key]
            answer = self.answer_to(key, "line")
            return self._weight(
                parsed, Decision("", food_id, answer.grams if answer is not None else None)
            )

    def text(self, key: str) -> str | None:
        """The text of a key, None when no line reads so (any more)."""
        return self._texts.get(key)

    def places(self, key: str) -> list[Place]:
        """Every line that reads so."""
        return self._places[key] if key in self._texts else []

    def same_name(self, key: str) -> list[str]:
        """Keys of all texts with this text's food name, itself among them."""
        name = same_text(self._parsed[key].name)
        return self._named.get(name, [key]) if name else [key]

    def same_food(self, key: str) -> bool:
        """Whether all lines of this text's food name mean the same food in the same state."""
        keys = self.same_name(key)
        here = self._parsed[key]
        if len(keys) < 2:
            return False

        def food(one: str) -> Any:
            row = self.line(*self._places[one][0])
            return None if row is None else row["food_id"]

        return all(
            self._parsed[one].states == here.states and food(one) == food(key) for one in keys
        )

    def lacks(self, key: str) -> bool:
        """Whether the table is known to lack the food of a text, or nothing in it comes near."""
        match = self.reading(key).match
        if not match.names_food or match.origin == "pantry":
            return False
        return match.food_id is None or match.reason.startswith(LACKS)

    def makes(self, recipe_id: str) -> tuple[str, str]:
        """Servings and weight of the whole as the recipe says them, "" where it does not."""
        rows = self.collection.recipe[self.collection.recipe["recipe_id"] == recipe_id]
        if rows.empty:
            return "", ""
        servings, yield_g = (float(rows[c].iloc[0]) for c in ("servings", "yield_g"))
        return tuple("" if x != x else f"{x:g}" for x in (servings, yield_g))  # type: ignore[return-value]

    def recipe_id(self, key: str) -> str | None:
        """The recipe of a key of an address."""
        return self._recipe_of.get(key)

    def line(self, recipe_id: str, line_no: int) -> dict[str, Any] | None:
        """A line of a recipe as it is counted now."""
        lines = self.recipes[recipe_id].lines
        return next((r for r in lines if int(r["line_no"]) == line_no), None)

    def answer_to(self, key: str, scope: str) -> Decision | None:
        """The answer in force about a text, or about its food name."""
        parsed = self._parsed[key]
        subject = (scope, same_text(parsed.text if scope == "line" else parsed.name))
        return _by_subject(self._memory.decisions).get(subject)

    def mark(self, key: str, scope: str) -> str:
        """What a page shows of an answer, in short: another mark means that it changed since."""
        return _mark(self.answer_to(key, scope))

    # -- answering -------------------------------------------------------------------------

    def answer(
        self,
        key: str,
        *,
        food_id: str | None = None,
        grams: float | None = None,
        forget_grams: bool = False,
        scope: str = "line",
        seen: str | None = None,
        new_food: str = "",
    ) -> Answer:
        """Give a text, or all lines of its food name, a food or grams; written before it returns.

        Args:
            key: of the text.
            food_id: the food; ``none`` for no food; None leaves the food as it is.
            grams: edible grams of the line; None leaves them as they are.
            forget_grams: let the tool weigh the line again.
            scope: "line" or "name"; grams are always about the line.
            seen: the ``mark`` the person saw; None does not ask.
            new_food: name of the food when it was put into the pantry a moment ago.

        Raises:
            KeyError: no line reads so, or no such food.
            Changed: the answer in the file is no longer the one seen; nothing is written.
            SteelyardError, TimeoutError, OSError: the file could not be written.
        """
        with self._lock:
            parsed = self._parsed[key]
            food = self.shelf.get(food_id) if food_id not in (None, NO_FOOD) else None
            if food_id not in (None, NO_FOOD) and food is None and not new_food:
                raise KeyError(food_id)
            name = food.name if food is not None else new_food
            if food_id is None or not parsed.name:
                scope = "line"
            text = parsed.text if scope == "line" else parsed.name
            name_food = self.answer_to(key, "name")

            def new(old: Decision | None) -> Decision | None:
                if seen is not None and _mark(old) != seen:
                    raise Changed(old)
                base = old or Decision(text, "", None, scope)
                keeps = scope == "line" and not forget_grams
                made = Decision(
                    text, base.food_id if food_id is None else food_id,
                    grams if grams is not None else base.grams if keeps else None, scope,
                    note=name or base.note,
                )  # fmt: skip
                if food_id == NO_FOOD:
                    made = replace(made, grams=None, note="")
                if not made.food_id and made.grams is None:
                    return None
                return made

            changes = [self._change(text, scope, new)]
            if scope == "name":
                changes += self._yield_to_name(key)
            said = _said(text, scope, name, food_id, grams, forget_grams)
            if food_id is None and grams is not None and name_food is not None:
                said += f", food as for every line of “{parsed.name}”"
            return self._done(key, text, said, scope, changes)

    def _yield_to_name(self, key: str) -> list[Change]:
        """An answer about the name also holds for the line it was given on."""
        own = self.answer_to(key, "line")
        if own is None or not own.food_id:
            return []
        return [
            self._change(
                own.text, "line",
                lambda old: None if old is None or old.grams is None
                else replace(old, food_id="", decided_on=""),
            )
        ]  # fmt: skip

    def _change(
        self, text: str, scope: str, change: Callable[[Decision | None], Decision | None]
    ) -> Change:
        before, after = change_decision(self.decisions_path, text, scope, change)
        return Change(text, scope, before, after)

    def answer_with_pack(
        self, key: str, row: dict[str, str], *, scope: str = "line", seen: str | None = None
    ) -> Answer:
        """Make a pantry food of pack values and give it to a text or a name.

        Args:
            key: of the text.
            row: pantry columns, per serving, as ``pack.read_pack`` makes them.
            scope, seen: see ``answer``.

        Raises:
            ValueError: a value is missing or no number.
            KeyError, Changed, SteelyardError, TimeoutError, OSError: see ``answer``.
        """
        from pipeline.memory.pantry import change_pantry_row, read_pantry_food

        with self._lock:
            food = read_pantry_food(row)
            parsed = self._parsed[key]
            scope = scope if parsed.name else "line"
            if seen is not None and self._mark_in_file(key, scope) != seen:
                raise Changed(self.answer_to(key, scope))
            before, after = change_pantry_row(self.pantry_path, food.food_id, lambda _: row)
            pantry_change = Change(food.name, "pantry", before, after, food.food_id)
            given = self.answer(key, food_id=food.food_id, scope=scope, new_food=food.name)
            self._history.pop()
            said = f"“{food.name}” is in your pantry; {given.said[0].lower()}{given.said[1:]}"
            return self._remember(
                replace(given, said=said, changes=(pantry_change, *given.changes))
            )

    def _mark_in_file(self, key: str, scope: str) -> str:
        self.look()
        return self.mark(key, scope)

    def _done(self, key: str, text: str, said: str, scope: str, changes: list[Change]) -> Answer:
        keys = self.same_name(key) if scope == "name" else [key]
        recipes = list(dict.fromkeys(r for k in (key, *keys) for r, _ in self._places[k]))
        self._first = recipes
        moved = self._and_moved(recipes, self.look)
        self._count += 1
        lines = sum(len(self._places[k]) for k in keys)
        return self._remember(
            Answer(
                str(self._count), key, text, said, lines, tuple(changes), moved,
                later=len(self._later),
            )
        )  # fmt: skip

    def _remember(self, answer: Answer) -> Answer:
        self._history = [*self._history[-KEEP_ANSWERS + 1 :], answer]
        self._busy = time.monotonic()
        return answer

    def _and_moved(self, recipes: Iterable[str], act: Callable[[], object]) -> tuple[Moved, ...]:
        """Do something and say which recipes it moved, those named first and always."""
        before = {r: _standing(now) for r, now in self.recipes.items()}
        act()
        named = set(recipes) - set(self._later)
        out = []
        for recipe_id, now in self.recipes.items():
            was, stands = before.get(recipe_id), _standing(now)
            if was is not None and (was != stands or recipe_id in named):
                title = str(now.about["title"] or recipe_id)
                out.append(Moved(recipe_id, title, was[0], stands[0], was[1], stands[1]))
        return tuple(sorted(out, key=lambda m: (m.was == m.now, m.recipe_id not in named, m.title)))

    # -- recipes themselves ----------------------------------------------------------------

    def amend(self, recipe_id: str, said: str, change: Amendment) -> Answer:
        """Change a recipe's servings or yield in its file; written before it returns.

        Args:
            recipe_id: of it.
            said: what is done, a sentence without its stop.
            change: what to change.

        Raises:
            KeyError: there is no such recipe.
            Changed: the file was changed meanwhile; nothing is written.
            SteelyardError, TimeoutError, OSError: the file cannot hold it, or not be written.
        """
        return self._amend([(recipe_id, change)], said, recipe_id=recipe_id)

    def split(self, key: str, texts: tuple[str, ...]) -> Answer:
        """Make several lines of one, wherever it stands; raises as ``amend``."""
        with self._lock:
            self.look(now=True)
            if key not in self._texts:
                raise KeyError(key)
            text = self._texts[key]
            places = sorted(self._places[key], key=lambda place: (place[0], -place[1]))
            changes = [(r, Amendment(line_no=no, texts=texts)) for r, no in places]
            return self._amend(changes, f"“{text}” is now “{'” and “'.join(texts)}”", key=key)

    def _amend(
        self,
        changes: Sequence[tuple[str, Amendment]],
        said: str,
        *,
        key: str = "",
        recipe_id: str = "",
    ) -> Answer:
        from pipeline.memory.files import locked, write_atomically
        from pipeline.publish.amend import amend

        with self._lock:
            self.look(now=True)
            made: list[Change] = []
            try:
                for of, change in changes:
                    done = amend(self.collection, of, change)
                    with locked(done.path):
                        if _kept(done.path) != done.before:
                            raise Changed(None)
                        write_atomically(done.path, done.after)
                    made.append(Change(said, "file", done.before, done.after, cards=done.path))
            except BaseException:
                for change_made in reversed(made):
                    self._undo(change_made)
                raise
            recipes = list(dict.fromkeys(of for of, _ in changes))
            moved = self._and_moved(recipes, lambda: self.look(now=True))
            self._count += 1
            return self._remember(
                Answer(
                    str(self._count), key, said, said, len(changes), tuple(made), moved,
                    recipe_id=recipe_id or recipes[0],
                )
            )  # fmt: skip

    def accept(self, recipe_id: str, reason: str) -> Answer:
        """Accept the difference of a recipe as it stands.

        Raises:
            KeyError: there is no such recipe.
            SteelyardError, TimeoutError, OSError: nothing is off, or the file could not be written.
        """
        import pandas as pd

        from pipeline.memory.accepted import acceptance

        with self._lock:
            self.finish([recipe_id])
            now = self.recipes[recipe_id]
            decision = acceptance(
                pd.DataFrame([now.about]), pd.DataFrame(now.findings), recipe_id, reason
            )
            change = self._change(recipe_id, "recipe", lambda _: decision)
            return self._accepted(
                recipe_id, f"The difference of “{self._title(recipe_id)}” is accepted", [change]
            )

    def judge_again(self, recipe_id: str) -> Answer:
        """Take back that the difference of a recipe is accepted; raises as ``accept``."""
        with self._lock:
            names = dict.fromkeys((recipe_id, self._title(recipe_id)))
            changes = [self._change(name, "recipe", lambda _: None) for name in names]
            changes = [c for c in changes if c.before is not None]
            if not changes:
                raise KeyError(recipe_id)
            return self._accepted(recipe_id, f"“{self._title(recipe_id)}” is judged again", changes)

    def _accepted(self, recipe_id: str, said: str, changes: list[Change]) -> Answer:
        moved = self._and_moved([recipe_id], self.look)
        self._count += 1
        return self._remember(
            Answer(str(self._count), "", said, said, 0, tuple(changes), moved, recipe_id=recipe_id)
        )

    # -- habits ----------------------------------------------------------------------------

    @property
    def lock(self) -> threading.RLock:
        """Held while several things are read and written as one."""
        return self._lock

    @property
    def one_creator(self) -> bool:
        """Whether all recipes are of one creator, or none names one."""
        return self.collection.recipe["creator"].fillna("").str.strip().nunique() <= 1

    def texts_named(
        self, names: set[str], recipes: set[str], food_id: str
    ) -> tuple[list[str], bool]:
        """Line texts of some food names in some recipes, and whether the names mean more than that.

        Args:
            names: folded food names.
            recipes: recipe_ids, of one creator.
            food_id: what they are counted as; "" does not matter.

        Returns:
            The texts; True when other creators use the names, or lines of another food do.
        """
        owner = dict(
            zip(self.collection.recipe["recipe_id"], self.collection.recipe["creator"], strict=True)
        )
        owners = {owner.get(r) for r in recipes}
        keys = [key for name in names for key in self._named.get(same_text(name), [])]
        texts, more = [], False
        for key in dict.fromkeys(keys):
            foods = {(self.line(r, n) or {}).get("food_id") for r, n in self._places[key]}
            other = any(owner.get(r) not in owners for r, _ in self._places[key])
            if food_id and food_id not in foods:
                more = True
            elif any(r in recipes for r, _ in self._places[key]):
                texts.append(self._texts[key])
            more |= other
        return texts, more

    def food_values(self, food_id: str) -> dict[str, float]:
        """Values per 100 g of a food by pantry column; empty when it is not there."""
        rows = self._con.execute(
            "select nutrient, amount_per_100g from food_nutrient where food_id = ?", [food_id]
        ).fetchall()
        return {
            BY_TAG[tag].column: float(amount)
            for tag, amount in rows if tag in BY_TAG and amount is not None
        }  # fmt: skip

    def take_up(self) -> None:
        """Take up the files as they stand now, the settings too, and look for habits again."""
        version = self.version
        self._asked_all = True
        self.look(now=True)
        self._asked_all = False
        if self.version == version:
            self._judge_all()

    def _judge_all(self) -> None:
        self.recipes, self.habits = run_all(self.collection, self.tools, self.settings)
        self._later.clear()
        self.version += 1
        self.foreign = self.version

    def moved_by(self, recipes: Iterable[str], act: Callable[[], None]) -> tuple[Moved, ...]:
        """Do something; the recipes it moved, those named first."""
        return self._and_moved(recipes, act)

    def remember(self, answer: Answer) -> Answer:
        """Keep an answer so that it can be taken back; it gets its id here."""
        self._count += 1
        return self._remember(replace(answer, answer_id=str(self._count)))

    # -- spoken scripts --------------------------------------------------------------------

    def scripts(self) -> list[tuple[str, str]]:
        """Key and file of each spoken script, in the order of the files."""
        return list(self._scripts.items())

    def script(self, key: str) -> Script | None:
        """A spoken script by its key, None when there is none (any more)."""
        with self._lock:
            source = self._scripts.get(key)
            if source is None:
                return None
            path = self.collection.files[source]
            return self._script(key, source, path)

    def _script(self, key: str, source: str, path: Path) -> Script:
        from pipeline.intake.spoken import cards as script_cards
        from pipeline.publish.script_cards import CardEditor, write_out

        file = script_cards.cards_path(path)
        name = source + script_cards.ENDING
        recipe = self.collection.recipe
        written = name in self.collection.files and bool((recipe["source"] == name).any())
        mine = recipe[recipe["source"] == (name if written else source)]
        text = _read(file) if written else write_out(self.collection, source)
        cards = CardEditor(text)
        ids = [str(r) for r in mine["recipe_id"]]
        if written:
            by_position = dict(zip(mine["position"], ids, strict=True))
            places = [by_position.get(card.position, "") for card in cards.recipes]
        else:
            places = ids if len(ids) == len(cards.recipes) else []
        marks = self.collection.script_marks
        scripts = self.collection.scripts
        words = str(scripts.loc[scripts["source"] == source, "text"].iloc[0])
        stands = f"{script_cards.words_key(words)}.{_fingerprint(text) if written else '-'}"
        return Script(
            key,
            source,
            words,
            mark_rows(marks[marks["source"] == source]),
            cards, file, written, stands, places,
            [self._line_nos(r, card) for r, card in zip(places, cards.recipes, strict=False)],
        )  # fmt: skip

    def _line_nos(self, recipe_id: str, card: WrittenRecipe) -> list[int | None]:
        """The line_no of each line of a card: the lines of its recipe in order, headings between."""
        line = self.collection.line
        mine = line[line["recipe_id"] == recipe_id]
        ahead = list(zip(mine["line_no"], mine["text"], strict=True))
        out: list[int | None] = []
        for entry in card.lines:
            text = " ".join(entry.text.split())
            at = next((n for n, (_, t) in enumerate(ahead) if " ".join(str(t).split()) == text), 0)
            if not ahead or (entry.text.endswith(":") and str(ahead[at][1]) != entry.text):
                out.append(None)
                continue
            out.append(int(ahead[at][0]))
            del ahead[: at + 1]
        return out

    def correct_script(
        self,
        key: str,
        change: Callable[[Script], str],
        *,
        seen: str | None = None,
        recipes: Iterable[str] = (),
    ) -> Answer:
        """Correct what was understood of a script, in its cards; written before it returns.

        The script is never touched. The first correction writes out its cards beside it, which
        from then on are read instead.

        Args:
            key: of the script.
            change: gets the script, changes ``script.cards``, and says what it did in a sentence.
            seen: ``Script.seen`` of the page the person looked at; None does not ask.
            recipes: recipe_ids whose numbers are shown even when they do not move.

        Raises:
            KeyError: there is no such script.
            CannotChange: a card could not hold the correction.
            Changed: the cards are no longer those the person saw; nothing is written.
            SteelyardError, TimeoutError, OSError: the file could not be written.
        """
        from pipeline.memory.files import locked, write_atomically

        with self._lock:
            self.look(now=True)
            script = self.script(key)
            if script is None:
                raise KeyError(key)
            if seen is not None and seen != script.seen:
                raise Changed(None)
            if script.cards_path.exists() and not script.written:
                raise SteelyardError(_taken(script.cards_path))
            if not script.recipe_ids and not script.written:
                raise SteelyardError(_cannot_write_out(script.source))
            before = script.cards.text
            said = change(script)
            after = script.cards.text
            path = script.cards_path
            with locked(path):
                stands = _read(path) if path.exists() else None
                if stands != (before if script.written else None):
                    raise Changed(None)
                write_atomically(path, after)
            if not script.written:
                self._written_out[path] = before
            moved = self._script_moved(key, set(recipes))
            self._count += 1
            made = Change(script.source, "cards", before, after, cards=path)
            return self._remember(
                Answer(str(self._count), "", script.source, said, 0, (made,), moved, key)
            )

    def start_over(self, key: str, *, seen: str | None = None) -> Answer:
        """Read a script itself again; its cards are kept beside it under another name.

        Raises:
            KeyError: there is no such script, or it has no cards.
            Changed, TimeoutError, OSError: see ``correct_script``.
        """
        from pipeline.memory.files import locked

        with self._lock:
            self.look(now=True)
            script = self.script(key)
            if script is None or not script.written:
                raise KeyError(key)
            path = script.cards_path
            with locked(path):
                before = _read(path)
                if seen not in (None, script.seen) or before != script.cards.text:
                    raise Changed(None)
                path.replace(path.with_name(path.name + ".bak"))
            moved = self._script_moved(key, set())
            self._count += 1
            made = Change(script.source, "cards", before, None, cards=path)
            said = f"{script.source} is read by itself again"
            return self._remember(
                Answer(str(self._count), "", script.source, said, 0, (made,), moved, key)
            )

    def _script_moved(self, key: str, named: set[str]) -> tuple[Moved, ...]:
        """Look at the files again and say which recipes moved.

        Recipes of a script count by their titles: their ids shift when one is parted or joined.
        """
        named_titles = {self._title(r) for r in named if r in self.recipes}

        def standing() -> dict[tuple[str, str, int], tuple[str, str, float | None]]:
            spoken = self._of_script(key)
            out: dict[tuple[str, str, int], tuple[str, str, float | None]] = {}
            again: defaultdict[str, int] = defaultdict(int)
            for recipe_id, now in self.recipes.items():
                title, mine = self._title(recipe_id), recipe_id in spoken
                again[title] += mine
                name = ("", title, again[title]) if mine else (recipe_id, title, 0)
                out[name] = (recipe_id, *_standing(now))
            return out

        before = standing()
        self.look(now=True)
        out = []
        for name, (recipe_id, verdict, kcal) in standing().items():
            was, title = before.get(name), name[1]
            if was is not None and (was[1:] != (verdict, kcal) or title in named_titles):
                out.append(Moved(recipe_id, title, was[1], verdict, was[2], kcal))
        return tuple(sorted(out, key=lambda m: (m.was == m.now, m.title)))

    def _title(self, recipe_id: str) -> str:
        return str(self.recipes[recipe_id].about["title"] or recipe_id)

    def _of_script(self, key: str) -> set[str]:
        from pipeline.intake.spoken.cards import ENDING

        source = self._scripts.get(key, "")
        return {
            r for r, now in self.recipes.items()
            if str(now.about["source"]).removesuffix(ENDING) == source
        }  # fmt: skip

    def _undo_cards(self, path: Path, before: str, after: str | None) -> None:
        """Take a correction out of the cards; cards as first written out give way to the script."""
        from pipeline.memory.files import locked, write_atomically
        from pipeline.publish.script_cards import without_change

        with locked(path):
            now = _kept(path) if path.exists() else None
            if after is None:
                left = before if now is None else None
            else:
                left = None if now is None else without_change(now, before, after)
            if left is None:
                raise Changed(None)
            if after is not None and left == self._written_out.get(path):
                path.unlink()
            else:
                write_atomically(path, left)

    # -- taking back -----------------------------------------------------------------------

    def history(self) -> list[Answer]:
        """Answers of this sitting that stand, the latest last."""
        with self._lock:
            return list(self._history)

    def find_answer(self, answer_id: str) -> Answer | None:
        """An answer of this sitting by its id."""
        return next((a for a in self.history() if a.answer_id == answer_id), None)

    def take_back(self, answer_id: str) -> Answer:
        """Put the files back to where they stood before an answer of this sitting.

        Raises:
            KeyError: there is no such answer.
            Changed: what it wrote was changed since; the file is left as it is.
            SteelyardError, TimeoutError, OSError: a file could not be written.
        """
        with self._lock:
            answer = self.find_answer(answer_id)
            if answer is None:
                raise KeyError(answer_id)
            self.look()
            standing = _by_subject(self._memory.decisions)
            for change in answer.changes:
                stands = standing.get((change.scope, same_text(change.text)))
                of_files = change.food_id or change.cards is not None or change.settings is not None
                if not of_files and stands != change.after:
                    raise Changed(stands)
            for change in reversed(answer.changes):
                self._undo(change)
            self._history = [a for a in self._history if a.answer_id != answer_id]
            if answer.script:
                moved = self._script_moved(answer.script, set())
                return replace(answer, said=f"Taken back: {answer.said}", moved=moved)
            recipes = [m.recipe_id for m in answer.moved]
            self._first = recipes
            in_files = any(change.cards is not None for change in answer.changes)
            looked = (lambda: self.look(now=in_files)) if answer.key or in_files else self.take_up
            moved = self._and_moved(recipes, looked)
            return replace(answer, said=f"Taken back: {answer.said}", moved=moved)

    def _undo(self, change: Change) -> None:
        from pipeline.memory.pantry import change_pantry_row

        def back(old: Any) -> Any:
            if _filled(old) != _filled(change.after):
                raise Changed(old if isinstance(old, Decision) else None)
            return change.before

        if change.settings is not None:
            if not restore_settings(change.settings, change.before, change.after):
                raise Changed(None)
        elif change.cards is not None:
            self._undo_cards(change.cards, change.before, change.after)
        elif change.food_id:
            change_pantry_row(self.pantry_path, change.food_id, back)
        else:
            change_decision(self.decisions_path, change.text, change.scope, back)

    def forget(self, text: str, scope: str) -> Answer:
        """Take back the answer about a text: to what stood before it in this sitting, else away.

        Raises:
            KeyError: there is no such answer.
            Changed, SteelyardError, TimeoutError, OSError: see ``take_back``.
        """
        with self._lock:
            subject = same_text(text)
            for answer in reversed(self._history):
                for change in answer.changes:
                    if (change.scope, same_text(change.text)) == (scope, subject):
                        return self.take_back(answer.answer_id)
            recipes = {
                recipe_id
                for key in (self._named.get(subject, []) if scope == "name" else [line_key(text)])
                for recipe_id, _ in self._places.get(key, [])
            }
            gone = self._change(text, scope, lambda _: None)
            if gone.before is None:
                raise KeyError(text)
            moved = self._and_moved(recipes, self.look)
            key = next(iter(self._named.get(subject, [])), "") if scope == "name" else ""
            return Answer(
                "", key or line_key(text), text, f"Taken back: the answer about “{text}”",
                len(recipes), (gone,), moved,
            )  # fmt: skip


def line_key(text: str) -> str:
    """The name of a text in addresses: equal for texts that differ in case and spacing alone."""
    return text_key(text)


def line_address(desk: Desk, line: str) -> str:
    """Where the page opens for a line, given by its text or key; "/" when there is none such."""
    for key in (line.strip().lower(), line_key(line)):
        if line and desk.text(key) is not None:
            return f"/line/{key}"
    return "/"


def recipe_key(recipe_id: str) -> str:
    """The name of a recipe in addresses."""
    return hashlib.sha256(recipe_id.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def mark_rows(marks: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of marks; a line that is not there is None."""
    plain = marks.astype({"line_no": "object"})
    plain["line_no"] = plain["line_no"].where(plain["line_no"].notna(), None)
    return [{str(k): v for k, v in row.items()} for row in plain.to_dict("records")]


def _read(path: Path) -> str:
    """A file of cards in whatever encoding a person saved it, its line ends kept."""
    from pipeline.intake.files import decode

    data = path.read_bytes()
    text = decode(data, path.name)[0]
    return text.replace("\n", "\r\n") if b"\r\n" in data else text


def _kept(path: Path) -> str:
    """A file's text as it stands on disk, mark at its beginning and line ends included."""
    data = path.read_bytes()
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return _read(path)


def _fingerprint(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:16]


def _taken(path: Path) -> Problem:
    return Problem(
        "cards-unreadable",
        f'"{path.name}" is there, and no recipe can be read from it',
        "corrections go into that file",
        "mend it, or move it away",
        source=path.name,
    )


def _cannot_write_out(source: str) -> Problem:
    return Problem(
        "cards-not-written-out",
        f'the recipes of "{source}" cannot be written out as cards',
        "a title or line of it would be read as something else",
        "write the cards with steelyard export --form cards, and correct those",
        source=source,
    )


def _stamp(path: Path) -> Stamp:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _by_subject(decisions: Decisions) -> dict[tuple[str, str], Decision]:
    """(scope, text) → the answer that stands, in the order of the file."""
    return {(d.applies_to, same_text(d.text)): d for d in decisions.rows}


def _filled(row: Any) -> Any:
    """A CSV row without its empty cells; anything else as it is."""
    return {k: v for k, v in row.items() if v} if isinstance(row, dict) else row


def _mark(answer: Decision | None) -> str:
    if answer is None:
        return "-"
    said = f"{answer.food_id}|{answer.grams}"
    return hashlib.sha256(said.encode()).hexdigest()[:12]


def _standing(now: RecipeNow) -> tuple[str, float | None]:
    kcal = now.about.get("kcal_computed")
    return now.verdict, None if kcal is None else float(kcal)


def _said(
    text: str, scope: str, food: str, food_id: str | None, grams: float | None, forget: bool
) -> str:
    subject = f"“{text}”" if scope == "line" else f"Every line of “{text}”"
    if food_id == NO_FOOD:
        return f"{subject} is no food"
    parts = []
    if food:
        parts.append(f"is now {food}")
    if grams is not None:
        parts.append(f"weighs {grams:g} g")
    if forget:
        parts.append("is weighed by the tool again")
    return f"{subject} {', '.join(parts)}"
