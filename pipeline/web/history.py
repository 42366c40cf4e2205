"""Answers of this session, each of which can be taken back."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pipeline.memory.decisions import same_text
from pipeline.web import file_changes
from pipeline.web.model import Answer, ChangedElsewhere, FileChange, RecipeChange, line_key

if TYPE_CHECKING:
    from pipeline.web.state import ReviewState

#: Answers of a session that can be taken back.
KEEP_ANSWERS = 500


class History:
    """Answers in the order they were given."""

    def __init__(self, state: ReviewState) -> None:
        self._state = state
        self._answers: list[Answer] = []
        self._count = 0
        self.made: file_changes.Made = {}
        #: How the recipes of a script are compared; their ids shift when one is parted or joined.
        self.moved_in_script: Callable[[str], tuple[RecipeChange, ...]]

    def answers(self) -> list[Answer]:
        """Answers of this session that stand, the latest last."""
        with self._state.lock:
            return list(self._answers)

    def find(self, answer_id: str) -> Answer | None:
        """An answer of this session by its id."""
        return next((a for a in self.answers() if a.answer_id == answer_id), None)

    def record(self, answer: Answer) -> Answer:
        """Keep an answer so that it can be taken back; it gets its id here."""
        with self._state.lock:
            self._count += 1
            kept = replace(answer, answer_id=str(self._count), pending=len(self._state.pending))
            self._answers = [*self._answers[-KEEP_ANSWERS + 1 :], kept]
            return kept

    def done(
        self, text: str, summary: str, changes: Iterable[FileChange], recipes: Iterable[str],
        *, now: bool = False, **more: Any,
    ) -> Answer:  # fmt: skip
        """Keep an answer that was written, with what it moved of some recipes; ``more`` of it."""
        moved = self._state.moved_by(recipes, lambda: self._state.refresh(now=now))
        return self.record(Answer(text, summary, tuple(changes), moved, **more))

    def take_back(self, answer_id: str) -> Answer:
        """Put the files back to where they stood before an answer of this session.

        Raises:
            KeyError: there is no such answer.
            ChangedElsewhere: what it wrote was changed since; the file is left as it is.
            SteelyardError, TimeoutError, OSError: a file could not be written.
        """
        state = self._state
        with state.lock:
            answer = self.find(answer_id)
            if answer is None:
                raise KeyError(answer_id)
            state.refresh()
            self._still_stands(answer.changes)
            self.undo(reversed(answer.changes))
            self._answers = [a for a in self._answers if a.answer_id != answer_id]
            if answer.script:
                moved = self.moved_in_script(answer.script)
            else:
                in_files = any(change.path is not None for change in answer.changes)
                moved = state.moved_by(
                    [m.recipe_id for m in answer.moved], lambda: state.refresh(now=in_files)
                )
            if answer.habit is not None:
                state.ask_habit_again(answer.habit)
            return replace(answer, summary=f"Taken back: {answer.summary}", moved=moved)

    def undo(self, changes: Iterable[FileChange]) -> None:
        """Put back what some changes changed; raises as ``take_back``."""
        own = self._state.own
        for change in changes:
            file_changes.undo(change, own.decisions_path, own.pantry_path, self.made)

    def _still_stands(self, changes: Iterable[FileChange]) -> None:
        """Refuse before anything is put back where an answer was replaced meanwhile."""
        standing = self._state.own.decisions.by_subject
        for change in changes:
            if change.food_id or change.path is not None:
                continue
            now = standing.get((change.scope, same_text(change.text)))
            if now != change.after:
                raise ChangedElsewhere(now)

    def forget(self, text: str, scope: str) -> Answer:
        """Take back the answer about a text: to what stood before it in this session, else away.

        Raises:
            KeyError: there is no such answer.
            ChangedElsewhere, SteelyardError, TimeoutError, OSError: see ``take_back``.
        """
        state = self._state
        with state.lock:
            subject = (scope, same_text(text))
            for answer in reversed(self._answers):
                if any((c.scope, same_text(c.text)) == subject for c in answer.changes):
                    return self.take_back(answer.answer_id)
            keys = state.lines.about(scope, text)
            recipes = state.lines.recipes(keys)
            path = state.own.decisions_path
            change = file_changes.answer_changed(path, text, scope, lambda _: None)
            if change.before is None:
                raise KeyError(text)
            moved = state.moved_by(recipes, state.refresh)
            key, said = (
                keys[0] if keys else line_key(text),
                f"Taken back: the answer about “{text}”",
            )
            return Answer(text, said, (change,), moved, key, len(recipes))
