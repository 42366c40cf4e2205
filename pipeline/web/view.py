"""Pages and parts of pages: templates, what stands around the middle, notes after a redirect."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from pipeline.problems import SteelyardError
from pipeline.report.html import TEMPLATES, environment
from pipeline.report.words import BASIS, MACROS
from pipeline.web import pages
from pipeline.web.guard import Pass
from pipeline.web.habits import HabitPanel, questions
from pipeline.web.model import Question, recipe_key
from pipeline.web.pack import FIELDS
from pipeline.web.pages import Note, Panel, RecipeCard
from pipeline.web.scripts import ScriptPanel

if TYPE_CHECKING:
    from jinja2 import Environment

    from pipeline.web.session import ReviewSession

HERE = Path(__file__).parent
#: Notes kept for the page after a redirect.
KEEP_NOTES = 50

#: Faults of a file that is written, shown on the page.
WRITE_FAULTS = (SteelyardError, OSError, TimeoutError)
Middle = Panel | RecipeCard | ScriptPanel | HabitPanel | Note | None


@dataclass(slots=True)
class View:
    """Renders the pages of a session.

    Attributes:
        session: what is reviewed.
        key: whose form key the forms carry.
        has_report: a report is served beside the page.
        notes: shown by the page a redirect leads to, by the number in its address.
    """

    session: ReviewSession
    key: Pass
    has_report: bool = False
    notes: dict[str, Note] = field(default_factory=dict)
    count: int = 0

    def show(
        self, request: Request, middle: Middle, status: int = 200,
        queue: list[Question] | None = None,
    ) -> Response:  # fmt: skip
        """A whole page, or its middle with what else changed when htmx asks."""
        values = self.around(self.session.questions.queue() if queue is None else queue)
        kinds = {"p": Panel, "recipe": RecipeCard, "s": ScriptPanel, "h": HabitPanel}
        for name, kind in kinds.items():
            values[name] = middle if isinstance(middle, kind) else None
        note = middle if isinstance(middle, Note) else getattr(middle, "note", None)
        values["note"], values["said"] = note, pages.note_sentence(note) if note else ""
        if not is_part(request):
            return HTMLResponse(self.render("page.html.j2", **values), status)
        response = HTMLResponse(self.render("part.html.j2", **values), status)
        address = getattr(middle, "address", "")
        if request.method == "POST" and address:
            response.headers["hx-replace-url"] = address  # to come back to
        return response

    def redirect(self, note: Note, address: str, **query: str) -> Response:
        """On to a page that shows a note, where there are no scripts."""
        self.count += 1
        self.notes[str(self.count)] = note
        for old in list(self.notes)[:-KEEP_NOTES]:
            del self.notes[old]
        address, hash_, anchor = address.partition("#")
        asked = urlencode({**query, "note": self.count})
        return RedirectResponse(f"{address}?{asked}{hash_}{anchor}", 303)

    def note(self, request: Request) -> Note | None:
        """The note that a redirect left for this page."""
        return self.notes.get(request.query_params.get("note", ""))

    def around(self, queue: list[Question]) -> dict[str, Any]:
        """What stands around the middle: questions, progress, answers, recipes."""
        session, state = self.session, self.session.state
        done, asked = session.questions.progress(queue)
        shown = queue[: pages.SHOWN]
        settled = session.questions.settled()
        order = sorted(state.recipes.items(), key=lambda one: pages.VERDICT_ORDER[one[1].verdict])
        return {
            "queue": [
                (
                    question,
                    [state.title(r) for r, _ in question.places],
                    state.recipes[question.places[0][0]].verdict,
                )
                for question in shown
            ],
            "waiting": len(queue) - len(shown),
            "done": done,
            "asked": asked,
            "settled": [
                (answer, keys, self._food_name(answer.food_id))
                for answer, keys in settled[-pages.LISTED :]
            ],
            "answers": len(settled),
            "decisions_file": state.own.decisions_path.name,
            "pantry_file": state.own.pantry_path.name,
            "undo": next(reversed(session.history.answers()), None),
            "recipes": [
                (recipe_key(r), now.title, now.verdict, len(now.asks))
                for r, now in order[: pages.LISTED]
            ],
            "recipe_count": len(order),
            "counts": Counter(now.verdict for now in state.recipes.values()),
            "scripts": session.scripts.sources(),
            "habits": len(questions(state)),
            "version": state.version,
            "problems": pages.shown_problems(session),
        }

    def render(self, name: str, **values: Any) -> str:
        """A template with what every template may use."""
        state = self.session.state
        return _environment().get_template(name).render(
            form_key=self.key.form_key, folder=state.root.resolve().name,
            has_report=self.has_report,
            paths=[str(p) for p in state.paths], fields=FIELDS, **values,
        )  # fmt: skip

    def _food_name(self, food_id: str) -> str:
        if food_id in ("", "none"):
            return "no food" if food_id else ""
        food = self.session.state.foods.get(food_id)
        return food.name if food else f"{food_id}, which the table lacks"


def is_part(request: Request) -> bool:
    """Whether htmx asks for the middle of the page alone."""
    return "hx-request" in request.headers and "hx-history-restore-request" not in request.headers


def write_fault(fault: BaseException) -> Note:
    """What stood in the way of writing a file, and what to do."""
    if isinstance(fault, SteelyardError):
        problem = fault.problem
        return Note("fault", f"It was not saved: {problem.what}", f"{problem.why}. {problem.fix}.")
    why = str(getattr(fault, "strerror", None) or fault)
    return Note(
        "fault", "It was not saved: the file could not be written",
        f"{why}. Free the file or its folder and try again.",
    )  # fmt: skip


@cache
def static_file(name: str) -> bytes:
    """A file of the page."""
    folder = TEMPLATES if name in ("base.css", "script.css") else HERE / "static"
    return (folder / name).read_bytes()


@cache
def _environment() -> Environment:
    made = environment([HERE / "templates", TEMPLATES])
    made.filters.update(
        amount=pages.amount_text, basis=lambda basis: BASIS.get(basis or "", basis or ""), moved=pages.moved_sentence,
        recipe_key=recipe_key,
    )  # fmt: skip
    made.globals.update(
        MACROS=MACROS,
        MACRO_WORDS={"kcal": "kcal", "protein_g": "protein", "carbs_g": "carbs", "fat_g": "fat"},
    )
    return made
