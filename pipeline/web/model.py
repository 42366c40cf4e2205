"""What the review page speaks of: lines that ask, answers given, what they moved."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipeline.memory.decisions import Decision, text_key

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.lines.model import ParsedLine
    from pipeline.match.model import Match
    from pipeline.publish.script_cards import CardEditor
    from pipeline.weigh.weight import Weight

NO_FOOD = "none"

Place = tuple[str, int]  # recipe_id, line_no


class ChangedElsewhere(Exception):
    """Someone else changed the file meanwhile; ``now`` is the answer that stands in it, if any."""

    def __init__(self, now: Decision | None = None) -> None:
        super().__init__("changed elsewhere")
        self.now = now


@dataclass(frozen=True, slots=True)
class Question:
    """A distinct line text that asks for an answer.

    Attributes:
        key: its name in addresses.
        text: as first written.
        places: every line that reads so.
        why: what could not be settled.
        kcal: what depends on it over all its lines, kcal of whole recipes.
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
        """Whether it would stand in the list of questions."""
        return (
            self.parsed.kind == "food"
            and self.match.names_food
            and (
                self.match.status != "accepted"
                or (self.weight.grams is None and self.weight.basis not in {"open", "recipe"})
            )
        )


@dataclass(frozen=True, slots=True)
class RecipeChange:
    """Verdict (``accepted`` where the difference is) and energy of a recipe before and after; kcal
    ``per`` serving or what else it is for, None when unknown."""

    recipe_id: str
    title: str
    was: str
    now: str
    kcal_was: float | None
    kcal_now: float | None
    per: str = "per serving"


@dataclass(frozen=True, slots=True)
class FileChange:
    """One change of a file: what stood and what stands there, so that it can be taken back.

    Attributes:
        text, scope: of a row of ``decisions.csv``; else a name for the change and what kind it is.
        before, after: the row, or the whole text of ``path``.
        path: a recipe's own file or ``steelyard.toml``, None for decisions and the pantry.
        food_id: of a row of the pantry.
    """

    text: str
    scope: str
    before: Any
    after: Any
    path: Path | None = None
    food_id: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of this session, as it can be taken back.

    Attributes:
        text: what it is about.
        summary: what it did, a sentence without its stop.
        changes: of files.
        moved: recipes whose numbers it moved.
        key: of the line text it was given on, "" for an answer about something else.
        lines: how many lines it settles.
        script: key of the script it corrects.
        recipe_id: of the recipe whose file it changed, or whose difference it accepts.
        pending: recipes it touches that are still being judged.
        habit: the row of the habit it answers.
        answer_id: its number in this session.
    """

    text: str
    summary: str
    changes: tuple[FileChange, ...]
    moved: tuple[RecipeChange, ...] = ()
    key: str = ""
    lines: int = 0
    script: str = ""
    recipe_id: str = ""
    pending: int = 0
    habit: dict[str, Any] | None = None
    answer_id: str = ""


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
        """Where a recipe is in ``cards``."""
        return self.recipe_ids.index(recipe_id) if recipe_id in self.recipe_ids else None


#: The name of a text in addresses: equal for texts that differ in case and spacing alone.
line_key = text_key


def recipe_key(recipe_id: str) -> str:
    """The name of a recipe in addresses."""
    return hashlib.sha256(recipe_id.encode("utf-8", "surrogatepass")).hexdigest()[:16]
