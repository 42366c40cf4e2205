"""Servings, weight and split lines, changed in a recipe's own file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.problems import failure
from pipeline.publish.amend import Amendment
from pipeline.web.file_changes import write_file
from pipeline.web.model import Answer, FileChange

if TYPE_CHECKING:
    from pipeline.web.history import History
    from pipeline.web.questions import Questions
    from pipeline.web.state import ReviewState


class RecipeEdits:
    """Changes of recipes themselves; each can be taken back."""

    def __init__(self, state: ReviewState, questions: Questions, history: History) -> None:
        self._state = state
        self._questions = questions
        self._history = history

    def amend(self, recipe_id: str, summary: str, change: Amendment) -> Answer:
        """Change a recipe's servings or yield in its file; written before it returns.

        Args:
            summary: what is done, a sentence without its stop.

        Raises:
            KeyError: there is no such recipe.
            ChangedElsewhere: the file was changed meanwhile; nothing is written.
            SteelyardError, TimeoutError, OSError: the file cannot hold it, or not be written.
        """
        with self._state.lock:
            self._state.refresh(now=True)
            return self._write([(recipe_id, change)], summary)

    def split(self, key: str, texts: tuple[str, ...]) -> Answer:
        """Make several lines of one, wherever it stands; raises as ``amend``."""
        with self._state.lock:
            self._state.refresh(now=True)
            text = self._state.lines.texts[key]
            if self._questions.part_of(key):
                raise failure("line-split-already", line=text)
            # from the last line up, so that the numbers of those before stay
            places = sorted(self._state.lines.places(key), key=lambda place: (place[0], -place[1]))
            changes = [(r, Amendment(line_no=no, texts=texts)) for r, no in places]
            return self._write(changes, f"“{text}” is now “{'” and “'.join(texts)}”", key)

    def _write(
        self, changes: Sequence[tuple[str, Amendment]], summary: str, key: str = ""
    ) -> Answer:
        from pipeline.publish.amend import amend

        made: list[FileChange] = []
        try:
            for of, change in changes:
                done = amend(self._state.collection, of, change)
                write_file(done.path, done.before, done.after)
                made.append(FileChange(summary, "file", done.before, done.after, path=done.path))
        except BaseException:
            self._history.undo(reversed(made))
            raise
        recipes = list(dict.fromkeys(of for of, _ in changes))
        about = {"key": key, "lines": len(changes), "recipe_id": recipes[0]}
        return self._history.done(summary, summary, made, recipes, now=True, **about)
