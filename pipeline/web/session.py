"""One sitting at the review page: the collection, what is asked, and the answers given."""

from __future__ import annotations

from pipeline.web.answers import Answers
from pipeline.web.history import History
from pipeline.web.model import line_key
from pipeline.web.questions import Questions
from pipeline.web.recipe_edits import RecipeEdits
from pipeline.web.script_edits import ScriptEdits
from pipeline.web.state import ReviewState


class ReviewSession:
    """Everything behind the page; may be used from any thread.

    Attributes:
        state: the collection as it stands.
        questions: lines in doubt.
        answers: gives answers.
        recipe_edits: changes recipes' own files.
        scripts: spoken scripts and their corrections.
        history: answers of this session, to take them back.
    """

    def __init__(self, state: ReviewState) -> None:
        self.state = state
        self.history = History(state)
        self.questions = Questions(state)
        self.answers = Answers(state, self.questions, self.history)
        self.recipe_edits = RecipeEdits(state, self.questions, self.history)
        self.scripts = ScriptEdits(state, self.history)

    def close(self) -> None:
        """Stop the work in the background and let go of the snapshot."""
        self.state.close()

    def line_address(self, line: str) -> str:
        """Where the page opens for a line, given by its text or key; "/" when there is none such."""
        for key in (line.strip().lower(), line_key(line)):
            if line and self.state.lines.text(key) is not None:
                return f"/line/{key}"
        return "/"
