"""Answers: a food, grams or a pack for a line or a name, and differences that are accepted."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.memory.decisions import Decision
from pipeline.memory.pantry import read_pantry_food
from pipeline.web.file_changes import answer_changed, pantry_changed
from pipeline.web.model import NO_FOOD, Answer, ChangedElsewhere, FileChange

if TYPE_CHECKING:
    from pipeline.web.history import History
    from pipeline.web.questions import Questions
    from pipeline.web.state import ReviewState

ChangeDecision = Callable[[Decision | None], Decision | None]


@dataclass(frozen=True, slots=True)
class _Given:
    """What a person said of a line: a food with its name, grams, or that the tool shall weigh it."""

    food_id: str | None = None
    name: str = ""
    grams: float | None = None
    forget_grams: bool = False


class Answers:
    """Writes answers beside the collection, and says what they moved."""

    def __init__(self, state: ReviewState, questions: Questions, history: History) -> None:
        self._state = state
        self._questions = questions
        self._history = history

    def mark(self, key: str, scope: str) -> str:
        """What a page shows of an answer, in short: another mark means that it changed since."""
        return _mark(self._questions.answer_to(key, scope))

    def give(
        self,
        key: str,
        *,
        food_id: str | None = None,
        grams: float | None = None,
        forget_grams: bool = False,
        scope: str = "line",
        seen: str | None = None,
    ) -> Answer:
        """Give a text, or all lines of its food name, a food or grams; written before it returns.

        Args:
            food_id: the food; ``none`` for no food; None leaves the food as it is.
            grams: edible grams of the line; None leaves them as they are.
            forget_grams: let the tool weigh the line again.
            scope: "line" or "name"; grams are always about the line.
            seen: the ``mark`` the person saw; None does not ask.

        Raises:
            KeyError: no line reads so, or no such food.
            ChangedElsewhere: the answer in the file is no longer the one seen; nothing is written.
            SteelyardError, TimeoutError, OSError: the file could not be written.
        """
        with self._state.lock:
            given = _Given(food_id, self._name_of(food_id), grams, forget_grams)
            named = self._questions.answer_to(key, "name")
            scope, changes = self._write(key, given, scope, seen)
            text = changes[0].text
            summary = _summary(text, scope, given)
            if food_id is None and grams is not None and named is not None:
                summary += f", food as for every line of “{self._parsed_name(key)}”"
            elif food_id is None and grams is not None:
                summary += self._counted_as(key)
            return self._settle(key, text, scope, summary, changes)

    def _counted_as(self, key: str) -> str:
        """The food that grams given by themselves are of."""
        row = self._state.line(*self._state.lines.places(key)[0]) or {}
        food = row.get("description")
        return f", counted as {food}" if food else ", of a food that is still open"

    def give_pack(
        self, key: str, row: dict[str, str], *, scope: str = "line", seen: str | None = None
    ) -> Answer:
        """Make a pantry food of pack values and give it to a text or a name.

        Args:
            row: pantry columns, per serving, as ``pack.read_pack`` makes them.
            scope, seen: see ``give``.

        Raises:
            ValueError: a value is missing or no number.
            KeyError, ChangedElsewhere, SteelyardError, TimeoutError, OSError: see ``give``.
        """
        with self._state.lock:
            read_pantry_food(row)  # before anything is written
            self._state.refresh()
            named = scope if self._parsed_name(key) else "line"
            if seen is not None and self.mark(key, named) != seen:
                raise ChangedElsewhere(self._questions.answer_to(key, named))
            pantry = pantry_changed(self._state.own.pantry_path, row)
            given = _Given(pantry.food_id, pantry.text)
            scope, changes = self._write(key, given, scope, seen)
            said = _summary(changes[0].text, scope, given)
            summary = f"“{pantry.text}” is in your pantry; {said[0].lower()}{said[1:]}"
            return self._settle(key, changes[0].text, scope, summary, [pantry, *changes])

    def accept(self, recipe_id: str, reason: str) -> Answer:
        """Accept the difference of a recipe as it stands.

        Raises:
            KeyError: there is no such recipe.
            SteelyardError, TimeoutError, OSError: nothing is off, or the file could not be written.
        """
        import pandas as pd

        from pipeline.memory.accepted import acceptance

        state = self._state
        with state.lock:
            state.finish([recipe_id])
            now = state.recipes[recipe_id]
            recipes = pd.DataFrame([one.about for one in state.recipes.values()])
            decision = acceptance(recipes, pd.DataFrame(now.findings), recipe_id, reason)
            older = [d.text for d in self._acceptances(recipe_id) if d.text != decision.text]
            changes = [self._change(text, "recipe", lambda _: None) for text in older]
            changes.append(self._change(decision.text, "recipe", lambda _: decision))
            said = f"The difference of “{now.title}” is accepted"
            return self._history.done(said, said, changes, [recipe_id], recipe_id=recipe_id)

    def _acceptances(self, recipe_id: str) -> list[Decision]:
        """The acceptances that are about a recipe."""
        import pandas as pd

        from pipeline.memory.accepted import acceptances

        now = self._state.recipes[recipe_id]
        tables = pd.DataFrame([now.about]), pd.DataFrame(now.findings)
        return acceptances(*tables, self._state.own.decisions, recipe_id)

    def judge_again(self, recipe_id: str) -> Answer:
        """Take back that the difference of a recipe is accepted; raises as ``accept``."""
        with self._state.lock:
            title = self._state.title(recipe_id)
            found = self._acceptances(recipe_id)
            changes = [self._change(d.text, "recipe", lambda _: None) for d in found]
            changes = [c for c in changes if c.before is not None]
            if not changes:
                raise KeyError(recipe_id)
            said = f"“{title}” is judged again"
            return self._history.done(said, said, changes, [recipe_id], recipe_id=recipe_id)

    def _parsed_name(self, key: str) -> str:
        return self._state.lines.parsed[key].name

    def _name_of(self, food_id: str | None) -> str:
        if food_id in (None, NO_FOOD):
            return ""
        food = self._state.foods.get(food_id)
        if food is None:
            raise KeyError(food_id)
        return food.name

    def _write(
        self, key: str, given: _Given, scope: str, seen: str | None
    ) -> tuple[str, list[FileChange]]:
        """The scope in which the answer was written, and the changes, that of its text first."""
        parsed = self._state.lines.parsed[key]
        if given.food_id is None or not parsed.name:
            scope = "line"
        text = parsed.text if scope == "line" else parsed.name

        def new(old: Decision | None) -> Decision | None:
            if seen is not None and _mark(old) != seen:
                raise ChangedElsewhere(old)
            base = old or Decision(text, "", None, scope)
            if given.food_id == NO_FOOD:
                return Decision(text, NO_FOOD, None, scope)
            kept = base.grams if scope == "line" and not given.forget_grams else None
            made = Decision(
                text, base.food_id if given.food_id is None else given.food_id,
                kept if given.grams is None else given.grams, scope, note=given.name or base.note,
            )  # fmt: skip
            return made if made.food_id or made.grams is not None else None

        changes = [self._change(text, scope, new)]
        if scope == "name":
            changes += self._yield_to_name(key)
        return scope, changes

    def _yield_to_name(self, key: str) -> list[FileChange]:
        """An answer about the name also holds for the line it was given on."""
        own = self._questions.answer_to(key, "line")
        if own is None or not own.food_id:
            return []
        return [
            self._change(
                own.text, "line",
                lambda old: None if old is None or old.grams is None
                else replace(old, food_id="", decided_on=""),
            )
        ]  # fmt: skip

    def _change(self, text: str, scope: str, change: ChangeDecision) -> FileChange:
        return answer_changed(self._state.own.decisions_path, text, scope, change)

    def _settle(
        self, key: str, text: str, scope: str, summary: str, changes: list[FileChange]
    ) -> Answer:
        lines = self._state.lines
        keys = lines.same_name(key) if scope == "name" else [key]
        places = [place for k in keys for place in lines.places(k)]
        # those of the line itself are judged before the others
        recipes = list(dict.fromkeys(r for r, _ in [*lines.places(key), *places]))
        return self._history.done(text, summary, changes, recipes, key=key, lines=len(places))


def _mark(answer: Decision | None) -> str:
    if answer is None:
        return "-"
    return hashlib.sha256(f"{answer.food_id}|{answer.grams}".encode()).hexdigest()[:12]


def _summary(text: str, scope: str, given: _Given) -> str:
    subject = f"“{text}”" if scope == "line" else f"Every line of “{text}”"
    if given.food_id == NO_FOOD:
        return f"{subject} is no food"
    parts = []
    if given.name:
        parts.append(f"is now {given.name}")
    if given.grams is not None:
        parts.append(f"weighs {given.grams:g} g")
    if given.forget_grams:
        parts.append("is weighed by the tool again")
    return f"{subject} {', '.join(parts)}"
