"""One sitting at the review page: the collection, what is asked, and the answers given."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.web.answers import Answers
from pipeline.web.history import History
from pipeline.web.model import line_key
from pipeline.web.questions import Questions
from pipeline.web.recipe_edits import RecipeEdits
from pipeline.web.script_edits import ScriptEdits
from pipeline.web.state import ReviewState

if TYPE_CHECKING:
    from pipeline.settings import Settings
    from pipeline.snapshot import Snapshot


class ReviewSession:
    """Everything behind the page; may be used from any thread.

    Args:
        paths: files and folders of the collection; standard input cannot be reviewed.
        settings: ``steelyard.toml`` of the collection when not given.
        snapshot: nutrient table; the live one when not given.

    Attributes:
        state: the collection as it stands.
        questions: lines in doubt.
        answers: gives answers.
        recipe_edits: changes recipes' own files.
        scripts: spoken scripts and their corrections.
        history: answers of this session, to take them back.

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
        self.state = ReviewState(paths, settings, snapshot)
        self.history = History(self.state)
        self.questions = Questions(self.state)
        self.answers = Answers(self.state, self.questions, self.history)
        self.recipe_edits = RecipeEdits(self.state, self.questions, self.history)
        self.scripts = ScriptEdits(self.state, self.history)

    def close(self) -> None:
        """Stop the work in the background and let go of the snapshot."""
        self.state.close()

    def line_address(self, line: str) -> str:
        """Where the page opens for a line, given by its text or key; "/" when there is none such."""
        for key in (line.strip().lower(), line_key(line)):
            if line and self.state.lines.text(key) is not None:
                return f"/line/{key}"
        return "/"
