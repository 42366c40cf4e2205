"""What the templates are given: the session in words and figures, nothing decided here."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from pipeline.lines.model import Measure, ParsedLine
from pipeline.memory.decisions import Decision
from pipeline.nutrients import BY_COLUMN
from pipeline.problems import Problem, SteelyardError
from pipeline.report.words import BASIS, NET_CARBS, PER, nutrient_word, unit_of
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
MAJOR = ("kcal", "protein_g", "carbs_g", "fat_g")
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


@dataclass(frozen=True, slots=True)
class NumberRow:
    """A number of a recipe: stated beside computed."""

    label: str
    column: str
    stated: float | None
    computed: float | None
    low: float | None
    high: float | None
    verdict: str
    per: str


@dataclass(slots=True)
class RecipeCard:
    """A recipe as the page shows it; ``script``: address and file of what it was said in."""

    key: str
    title: str
    source: str
    verdict: str
    was: str
    coverage: float
    numbers: list[NumberRow]
    lean: float | None
    reason: str
    lines: list[dict[str, Any]] = field(default_factory=list)
    script: tuple[str, str] | None = None
    servings: str = ""
    yield_g: str = ""
    accepted: str = ""
    note: Note | None = None
    fault: tuple[str, str] | None = None  # the form and what is wrong with what was typed
    typed: str = ""

    @property
    def address(self) -> str:
        return f"/recipe/{self.key}"


@dataclass(slots=True)
class Panel:
    """One line under review."""

    key: str
    text: str
    item: Question | None
    reading: Reading
    now: dict[str, Any]
    decided: Decision | None
    decided_by_name: Decision | None
    amount: str
    states: str
    choices: list[Choice]
    lines: int
    name_lines: int
    name_texts: int
    marks: dict[str, str]
    cards: list[RecipeCard]
    more_recipes: int
    note: Note | None = None
    query: str = ""
    found: list[Choice] | None = None
    pack: Pack | None = None
    scope: str = "line"
    grams_typed: str = ""
    next_key: str = ""
    grams_fault: str = ""
    lacks: bool = False
    halves: tuple[str, str] = ("", "")
    split_fault: str = ""
    parts: list[tuple[str, str]] = field(default_factory=list)  # keys and texts of its foods
    part_of: str = ""
    sources: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"/line/{self.key}"


def panel(
    session: ReviewSession, key: str, queue: list[Question], note: Note | None = None
) -> Panel:
    """Everything about one text that some line reads."""
    state, questions = session.state, session.questions
    reading, places = questions.reading(key), state.lines.places(key)
    recipe_id, line_no = places[0]
    recipes = list(dict.fromkeys(r for r, _ in places))
    state.finish(recipes[:RECIPES_SHOWN])
    now = state.line(recipe_id, line_no) or {}
    decided, by_name = questions.answer_to(key, "line"), questions.answer_to(key, "name")
    same_name = state.lines.same_name(key)
    was = {m.recipe_id: m.was for m in note.moved if m.was != m.now} if note else {}
    lacks = not decided and not by_name and questions.lacks(key)
    cards = [card(session, r, was.get(r, "")) for r in recipes[:RECIPES_SHOWN]]
    sources = {str(state.recipes[r].about["source"] or "") for r in recipes}
    text = state.lines.texts[key]
    return Panel(
        key=key,
        text=text,
        item=next((question for question in queue if question.key == key), None),
        reading=reading,
        now=now,
        decided=decided,
        decided_by_name=by_name,
        amount=_amount(reading.parsed),
        states=", ".join(sorted(s.replace("_", " ") for s in reading.parsed.states)),
        choices=_choices(session, key, reading, now, lacks),
        lines=len(places),
        name_lines=sum(len(state.lines.places(k)) for k in same_name),
        name_texts=len(same_name),
        marks={scope: session.answers.mark(key, scope) for scope in ("line", "name")},
        cards=cards,
        more_recipes=len(recipes) - len(cards),
        note=note,
        grams_typed=_figure(now.get("grams")),
        next_key=_next(queue, key),
        scope="name" if questions.same_food(key) else "line",
        lacks=lacks,
        halves=halves(text),
        parts=[(k, state.lines.texts[k]) for k in questions.parts(key) if k in state.lines.texts],
        part_of=questions.part_of(key),
        sources=sorted(sources)[:3],
    )


_AND = re.compile(r"\s+(?:and|with|plus|&|und|mit)\s+|\s*[+/]\s*", re.I)


def halves(text: str) -> tuple[str, str]:
    """A line parted where it may name a second food, to be corrected by a person."""
    found = _AND.search(text)
    return (text, "") if found is None else (text[: found.start()], text[found.end() :])


def _next(queue: list[Question], key: str) -> str:
    """The line to go to after this one: the first open one that is another."""
    return next((item.key for item in queue if item.key != key), "")


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


def card(session: ReviewSession, recipe_id: str, was: str = "") -> RecipeCard:
    """A recipe: its numbers, its verdict and its lines."""
    now = session.state.recipes[recipe_id]
    numbers = [_number_row(row) for row in now.findings]
    stated = {row.column for row in numbers}
    missing = [c for c in MAJOR if c not in stated and not (c == "carbs_g" and NET_CARBS in stated)]
    numbers += [
        NumberRow(
            nutrient_word(c), c, None, now.about.get(f"{c}_computed"), None, None, "",
            PER["per_serving"],
        )
        for c in missing
    ]  # fmt: skip
    order = [*MAJOR, NET_CARBS, *BY_COLUMN]
    numbers.sort(key=lambda row: order.index(row.column) if row.column in order else len(order))
    reason = now.explanations[0]["detail"] if now.explanations else ""
    return RecipeCard(
        recipe_key(recipe_id),
        now.title,
        str(now.about["source"] or ""),
        now.verdict,
        was,
        float(now.about.get("coverage") or 0.0),
        numbers,
        _lean(numbers),
        str(reason or ""),
        _lines(session, recipe_id),
        _script(session, str(now.about["source"] or "")),
        *_makes(session, recipe_id),
        accepted=str(now.about.get("accepted") or ""),
    )


def _makes(session: ReviewSession, recipe_id: str) -> tuple[str, str]:
    """Servings and weight of the whole as the recipe says them, "" where it does not."""
    recipe = session.state.collection.recipe
    row = recipe[recipe["recipe_id"] == recipe_id].iloc[0]
    servings, yield_g = ("" if v != v else f"{v:g}" for v in (row["servings"], row["yield_g"]))
    return servings, yield_g


def _script(session: ReviewSession, source: str) -> tuple[str, str] | None:
    from pipeline.intake.spoken.cards import ENDING

    script = source.removesuffix(ENDING)
    key = line_key(script)
    return (f"/script/{key}", script) if (key, script) in session.scripts.sources() else None


def _number_row(row: dict[str, Any]) -> NumberRow:
    column = str(row["nutrient"])
    return NumberRow(
        nutrient_word(column), column, row["stated"], row["computed"], row["low"], row["high"],
        str(row["verdict"]), PER.get(str(row.get("basis")), ""),
    )  # fmt: skip


def _lean(numbers: list[NumberRow]) -> float | None:
    """Degrees the beam leans: more stated than computed goes down on the stated side."""
    energy = next((n for n in numbers if n.column == "kcal"), None)
    if energy is None or energy.stated is None or not energy.computed:
        return None
    lean = LEAN_DEGREES * (energy.stated - energy.computed) / energy.computed
    return round(max(-MOST_DEGREES, min(MOST_DEGREES, lean)), 2)


def _lines(session: ReviewSession, recipe_id: str) -> list[dict[str, Any]]:
    from pipeline.web.scripts import said_at

    now = session.state.recipes[recipe_id]
    doubt = {int(row["line_no"]): row for row in now.doubt}
    energy = sum(row["kcal"] or 0.0 for row in now.lines)
    said = said_at(session.state, recipe_id)
    return [
        {
            "key": line_key(row["text"]),
            "text": row["text"],
            "food": row["description"] or "",
            "status": _line_status(row, int(row["line_no"]) in now.asks),
            "grams": row["grams"],
            "kcal": row["kcal"],
            "share": row["kcal"] / energy if row["kcal"] is not None and energy > 0 else None,
            "asks": int(row["line_no"]) in now.asks,
            "doubt": doubt.get(int(row["line_no"]), {}).get("share") or 0.0,
            "said": said.get(int(row["line_no"])),
        }
        for row in now.lines
    ]


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


def basis_word(basis: str | None) -> str:
    """How grams were found, in words."""
    return BASIS.get(basis or "", basis or "")


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
    """ "Fish pie: disagrees → agrees, 412 → 398 kcal a serving": what the live region says."""
    from pipeline.report.words import number, verdict_word

    verdict = (
        f"was {verdict_word(moved.was)}, now {verdict_word(moved.now)}"
        if moved.was != moved.now
        else f"still {verdict_word(moved.now)}"
    )
    energy = f"{number(moved.kcal_now, 'kcal')} kcal a serving computed"
    if moved.kcal_was is not None and moved.kcal_now is not None:
        same = round(moved.kcal_was) == round(moved.kcal_now)
        if not same:
            energy = f"{number(moved.kcal_was, 'kcal')} to {energy}"
    return f"{moved.title}: {verdict}; {energy}."


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


def amount_text(value: float | None, column: str, *, unit: bool = True) -> str:
    """ "412 kcal", "9.5 g", "–"; without the unit where a heading says it."""
    from pipeline.report.words import number

    measure = unit_of(column)
    text = number(value, measure)
    return text if text == "–" or not unit else f"{text} {measure}"
