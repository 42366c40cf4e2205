"""What the templates are given: the session in words and figures, nothing decided here."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.lines.model import Measure, ParsedLine
from pipeline.nutrients import BY_COLUMN
from pipeline.problems import Problem, SteelyardError
from pipeline.report.words import (
    MACROS,
    NET_CARBS,
    PER,
    SAYING,
    number,
    nutrient_word,
    unit_of,
    unlikely,
    verdict_word,
)
from pipeline.web.model import (
    Answer,
    ChangedElsewhere,
    Question,
    Reading,
    RecipeChange,
    line_key,
    recipe_key,
)

if TYPE_CHECKING:
    from pipeline.web.food_list import Food
    from pipeline.web.pack import Pack
    from pipeline.web.rerun import RecipeNow
    from pipeline.web.session import ReviewSession
    from pipeline.weigh.weight import Weight

#: The queue shows so many lines; the others follow as these are settled.
SHOWN = 60
#: Recipes and answers listed, of those the ones that differ most and the latest.
LISTED = 150
VERDICT_ORDER = {"disagrees": 0, "uncertain": 1, "not_judged": 2, "agrees": 3}
#: Recipes of one text shown by name.
RECIPES_SHOWN = 8
RUNNERS_SHOWN = 5
#: The beam of the picture leans so many degrees for a difference as large as the sum itself.
LEAN_DEGREES, MOST_DEGREES = 32.0, 8.0


@dataclass(frozen=True, slots=True)
class Note:
    """What happened just now, on top of a panel.

    Attributes:
        kind: "done", "back" (taken back), "conflict" or "fault".
        title: one sentence.
        detail: what to do about it, or "".
        answer_id: of the answer that can be taken back, "" when none.
        moved: recipes whose verdict or energy it moved.
        lines: how many lines it settled.
        pending: recipes it touches that are still being judged.
    """

    kind: str
    title: str
    detail: str = ""
    answer_id: str = ""
    moved: tuple[RecipeChange, ...] = ()
    lines: int = 0
    pending: int = 0

    @classmethod
    def of(cls, answer: Answer, kind: str = "done") -> Note:
        """The receipt of an answer."""
        return cls(
            kind, answer.summary, answer_id=answer.answer_id if kind == "done" else "",
            moved=answer.moved, lines=answer.lines, pending=answer.pending,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Choice:
    """A food a line may be given, with what it would bring to the line."""

    food: Food
    weight: Weight
    tags: tuple[str, ...] = ()
    word: str = "Choose"

    def in_line(self, column: str) -> float | None:
        """Value of the whole line, None when grams or value are not known."""
        value = getattr(self.food, column)
        grams = self.weight.grams
        return None if value is None or grams is None else float(value) * grams / 100


class RecipeCard:
    """A recipe as the page shows it: its numbers, its verdict and its lines.

    Attributes:
        was: its verdict before, "" where that does not matter.
        numbers: one row per number, stated beside computed.
        lean: degrees the beam leans, None when there is nothing to compare.
        script: address and file of what it was said in, None when it was not.
        servings, yield_g: as the recipe says them, "" where it does not.
        fault: the form and what is wrong with what was ``typed``.
    """

    def __init__(self, session: ReviewSession, recipe_id: str, was: str = "") -> None:
        now, recipe = session.state.recipes[recipe_id], session.state.collection.recipe
        row = recipe[recipe["recipe_id"] == recipe_id].iloc[0]
        self.key = recipe_key(recipe_id)
        self.title, self.verdict, self.was = now.title, now.verdict, was
        self.source = str(now.about["source"] or "")
        self.coverage = float(now.about.get("coverage") or 0.0)
        self.numbers = _numbers(now)
        self.lean = _lean(self.numbers)
        first = next(iter(now.explanations), None)
        doubt = unlikely(now.verdict, first)
        self.reason = SAYING["by_doubt_alone"] if doubt else str((first or {}).get("detail") or "")
        self.lines = _lines(session, recipe_id)
        self.script = _script(session, self.source)
        self.servings, self.yield_g = (
            "" if v != v else f"{v:g}" for v in (row["servings"], row["yield_g"])
        )
        self.accepted = str(now.about.get("accepted") or "")
        self.note: Note | None = None
        self.fault: tuple[str, str] | None = None
        self.typed = ""
        self.address = f"/recipe/{self.key}"


class Panel:
    """Everything about one text that some line reads.

    Attributes:
        item: the question about it, None when it asks none.
        now: a line of it as it is counted now.
        lines, name_lines, name_texts: how many lines read so, and lines and texts of its food name.
        marks: of the answers the person sees, by scope.
        cards: its first recipes; ``more_recipes``: how many others.
        halves: the line parted where it may name a second food.
        parts: keys and texts of its foods, where it holds several.
        query, found, pack, grams_typed, grams_fault, grams_doubts, split_fault: what was typed, and
            what came of it.
    """

    def __init__(
        self, session: ReviewSession, key: str, queue: list[Question], note: Note | None = None
    ) -> None:
        state, questions = session.state, session.questions
        places, same_name = state.lines.places(key), state.lines.same_name(key)
        recipes = list(dict.fromkeys(r for r, _ in places))
        state.finish(recipes[:RECIPES_SHOWN])
        was = {m.recipe_id: m.was for m in note.moved if m.was != m.now} if note else {}
        self.key, self.note = key, note
        self.address = f"/line/{key}"
        self.text = state.lines.texts[key]
        self.item = next((question for question in queue if question.key == key), None)
        self.reading = questions.reading(key)
        self.now = state.line(*places[0]) or {}
        self.decided = questions.answer_to(key, "line")
        self.decided_by_name = questions.answer_to(key, "name")
        self.lacks = not self.decided and not self.decided_by_name and questions.lacks(key)
        self.amount = _amount(self.reading.parsed)
        self.states = ", ".join(sorted(s.replace("_", " ") for s in self.reading.parsed.states))
        self.choices = _choices(session, key, self.reading, self.now, self.lacks)
        self.lines = len(places)
        self.name_lines = sum(len(state.lines.places(k)) for k in same_name)
        self.name_texts = len(same_name)
        self.marks = {scope: session.answers.mark(key, scope) for scope in ("line", "name")}
        self.cards = [RecipeCard(session, r, was.get(r, "")) for r in recipes[:RECIPES_SHOWN]]
        self.more_recipes = len(recipes) - len(self.cards)
        self.next_key = next((item.key for item in queue if item.key != key), "")
        self.scope = "name" if questions.same_food(key) else "line"
        self.halves = halves(self.text)
        texts = state.lines.texts
        self.parts = [(k, texts[k]) for k in questions.parts(key) if k in texts]
        self.part_of = questions.part_of(key)
        self.sources = sorted({str(state.recipes[r].about["source"] or "") for r in recipes})[:3]
        self.query = ""
        self.found: list[Choice] | None = None
        self.pack: Pack | None = None
        self.grams_typed, self.grams_fault = _figure(self.now.get("grams")), ""
        self.grams_doubts: list[str] = []
        self.split_fault = ""


_AND = re.compile(r"\s+(?:and|with|plus|&|und|mit)\s+|\s*[+/]\s*", re.I)


def halves(text: str) -> tuple[str, str]:
    """A line parted where it may name a second food, to be corrected by a person."""
    found = _AND.search(text)
    return (text, "") if found is None else (text[: found.start()], text[found.end() :])


def _figure(value: float | None) -> str:
    if value is None:
        return ""
    return f"{value:.1f}".removesuffix(".0") if value < 10 else f"{value:.0f}"


def _amount(parsed: ParsedLine) -> str:
    from pipeline.lines import render_measure

    def in_words(measures: tuple[Measure, ...], between: str) -> str:
        return between.join(render_measure(m).removesuffix(" of") for m in measures)

    amount = in_words(parsed.measures, ", the same as ")
    return f"{amount}, plus {in_words(parsed.plus, ' and ')}" if parsed.plus else amount


def _choices(
    session: ReviewSession, key: str, reading: Reading, now: dict[str, Any], lacks: bool
) -> list[Choice]:
    """The food counted now, the tool's own guess, then its runners-up."""
    counted, guess = now.get("food_id"), reading.match.food_id
    ids = [counted, guess, *(c.food_id for c in reading.match.runners_up[:RUNNERS_SHOWN])]
    decided = now.get("origin") == "decision"
    choices = []
    for food_id in dict.fromkeys(i for i in ids if i):
        food = session.state.foods.get(food_id)
        if food is None:
            continue
        tags = []
        if food_id == counted:
            tags.append("your choice" if decided else "counted now")
        if food_id == guess and (food_id != counted or decided):
            tags.append("first guess")
        near = "Near enough" if lacks else "Yes, this"
        word = "Choose" if food_id != counted else "Chosen" if decided else near
        choices.append(Choice(food, session.questions.weight_as(key, food_id), tuple(tags), word))
    return choices


def found(session: ReviewSession, key: str, words: str) -> list[Choice]:
    """Foods of the search box."""
    return [
        Choice(food, session.questions.weight_as(key, food.food_id))
        for food in session.state.foods.search(words)
    ]


def _numbers(now: RecipeNow) -> list[SimpleNamespace]:
    """Stated beside computed, the macros first and always."""

    found = list(now.findings)
    stated = {f["nutrient"] for f in found}
    none = {**dict.fromkeys(("stated", "low", "high")), "verdict": "", "basis": "per_serving"}
    for c in MACROS:
        if c not in stated and not (c == "carbs_g" and NET_CARBS in stated):
            found.append({**none, "nutrient": c, "computed": now.about.get(f"{c}_computed")})
    rows = [
        SimpleNamespace(
            **f, label=nutrient_word(f["nutrient"]), column=f["nutrient"],
            per=PER.get(str(f.get("basis")), ""),
        )
        for f in found
    ]  # fmt: skip
    order = [*MACROS, NET_CARBS, *BY_COLUMN]
    return sorted(rows, key=lambda r: order.index(r.column) if r.column in order else len(order))


def _script(session: ReviewSession, source: str) -> tuple[str, str] | None:
    from pipeline.intake.spoken.cards import ENDING

    script = source.removesuffix(ENDING)
    key = line_key(script)
    return (f"/script/{key}", script) if (key, script) in session.scripts.sources() else None


def _lean(numbers: list[SimpleNamespace]) -> float | None:
    """Degrees the beam leans: more stated than computed goes down on the stated side."""
    energy = next((n for n in numbers if n.column == "kcal"), None)
    if energy is None or energy.stated is None or not energy.computed:
        return None
    lean: float = LEAN_DEGREES * (energy.stated - energy.computed) / energy.computed
    return round(max(-MOST_DEGREES, min(MOST_DEGREES, lean)), 2)


def _lines(session: ReviewSession, recipe_id: str) -> list[dict[str, Any]]:
    from pipeline.web.scripts import said_at

    now = session.state.recipes[recipe_id]
    doubt = {int(row["line_no"]): row["share"] for row in now.doubt}
    energy = sum(row["kcal"] or 0.0 for row in now.lines)
    said = said_at(session.state, recipe_id)
    out = []
    for row, no in ((row, int(row["line_no"])) for row in now.lines):
        share = row["kcal"] / energy if row["kcal"] is not None and energy > 0 else None
        asks, key = no in now.asks, line_key(row["text"])
        told = {"key": key, "food": row["description"] or "", "status": _line_status(row, asks)}
        of = {"share": share, "asks": asks, "doubt": doubt.get(no) or 0.0, "said": said.get(no)}
        out.append({**row, **told, **of})
    return out


def _line_status(row: dict[str, Any], asks: bool) -> str:
    if row["origin"] == "decision":
        return "your answer"
    if row["basis"] == "parts":
        return "several foods"
    if not row["names_food"]:
        return "no food"
    if row["origin"] == "recipe":
        return "another recipe"
    if asks:
        return "please look"
    return "counted"


def shown_problems(session: ReviewSession) -> list[Problem]:
    """Problems of the files; many of one kind in one script share one entry."""
    from pipeline.problems import problems_frame
    from pipeline.report.script import fold_alike

    found = session.state.problems()
    spoken = [source for _, source in session.scripts.sources()]
    shown = fold_alike(problems_frame(found).reset_index(drop=True), spoken)
    rows = zip(shown.index.tolist(), shown["what"], strict=True)
    return [replace(found[at], what=what) for at, what in rows]


def moved_sentence(moved: RecipeChange) -> str:
    """ "Fish pie: disagrees → agrees, 412 → 398 kcal per serving": what the live region says."""
    was, now = verdict_word(moved.was), verdict_word(moved.now)
    verdict = f"was {was}, now {now}" if moved.was != moved.now else f"still {now}"
    before, after = number(moved.kcal_was, "kcal"), number(moved.kcal_now, "kcal")
    kcal = f"{before} to {after}" if before != after and "–" not in (before, after) else after
    return f"{moved.title}: {verdict}; {kcal} kcal {moved.per} computed."


def note_sentence(note: Note) -> str:
    """All of a note for a screen reader."""
    rest = " ".join(moved_sentence(m) for m in note.moved[:3])
    return f"{note.title}. {note.detail} {rest}".strip()


def file_fault(fault: BaseException) -> str:
    """What stood in the way of a change of a file, and what to do, in sentences."""
    if isinstance(fault, SteelyardError):
        problem = fault.problem
        where = f" ({problem.where})" if problem.where else ""
        parts = (f"{problem.what}{where}: {problem.why}", problem.fix)
        return " ".join(f"{part[:1].upper()}{part[1:]}." for part in parts if part)
    if isinstance(fault, ChangedElsewhere):
        return "The file was changed elsewhere meanwhile; the page shows it as it stands now. Try again."
    if isinstance(fault, ValueError):
        return str(fault)
    return f"The file could not be written: {getattr(fault, 'strerror', None) or fault}."


def amount_text(value: float | None, column: str, *, unit: bool = True, fine: bool = False) -> str:
    """ "412 kcal", "9.5 g", "–"; without the unit where a heading says it."""
    measure = unit_of(column)
    text = number(value, measure, fine=fine)
    return text if text == "–" or not unit else f"{text} {measure}"
