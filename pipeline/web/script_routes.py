"""Addresses of spoken scripts: a script with its marks, and corrections of them."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from pipeline.publish.script_cards import CannotChange
from pipeline.web import scripts
from pipeline.web.line_routes import key_of
from pipeline.web.model import ChangedElsewhere
from pipeline.web.pages import Note
from pipeline.web.view import WRITE_FAULTS, View, write_fault

NO_SCRIPT = Note("fault", "This script is no longer in the collection.")
_CHANGED = Note(
    "conflict", "The cards were changed elsewhere meanwhile; nothing was saved",
    "The page shows them as they stand now. Correct it again if it still needs it.",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ScriptRoutes:
    """Handlers."""

    view: View

    def script(self, request: Request) -> Response:
        """A spoken script with its marks; of the words asked about alone when the page has it."""
        session = self.view.session
        session.state.refresh()
        script = session.scripts.find(key_of(request))
        if script is None:
            return self.view.show(request, NO_SCRIPT, 404)
        panel = scripts.ScriptPanel(session.state, script, request.query_params)
        panel.note = self.view.note(request)
        if request.headers.get("hx-target") == "fix":
            return HTMLResponse(self.view.render("fix.html.j2", s=panel, alone=True))
        return self.view.show(request, panel)

    def correct(self, request: Request, typed: dict[str, str]) -> Response:
        """A correction of what was understood of a script, into its cards."""
        key, edits, seen = key_of(request), self.view.session.scripts, typed.get("seen")
        script = edits.find(key)
        if script is None:
            return self.view.show(request, NO_SCRIPT, 404)
        try:
            if typed.get("act") == "start_over":
                answer = edits.start_over(key, seen=seen)
            else:
                shown = scripts.ScriptPanel(self.view.session.state, script, {}).shown
                change, about = scripts.correction(script, shown, typed)
                answer = edits.correct(key, change, seen=seen, recipes=about)
        except CannotChange as fault:
            note = Note("fault", "It was not saved", str(fault))
            return self.page(request, key, typed, note, 422)
        except (ChangedElsewhere, KeyError):
            return self.page(request, key, typed, _CHANGED, 409)
        except WRITE_FAULTS as fault:
            return self.page(request, key, typed, write_fault(fault), 503)
        return self.page(request, key, typed, Note.of(answer))

    def page(
        self, request: Request, key: str, typed: dict[str, str], note: Note, status: int = 200
    ) -> Response:
        """The script as it stands now, with what happened; by a redirect where there are no scripts."""
        session = self.view.session
        session.state.refresh(now=True)
        again = scripts.asked_again(typed)
        if status == 200 and "hx-request" not in request.headers:
            return self.view.redirect(note, f"/script/{key}#fix", **again)
        script = session.scripts.find(key)
        if script is None:
            return self.view.show(request, note, status)
        panel = scripts.ScriptPanel(session.state, script, again)
        panel.note = note
        panel.typed = typed if status == 422 else {}
        return self.view.show(request, panel, status)
