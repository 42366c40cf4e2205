"""Addresses of lines: looking at one, answering it, taking an answer back."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from pipeline.web import pages
from pipeline.web.model import Answer, ChangedElsewhere
from pipeline.web.pack import Pack, read_pack, typed_number
from pipeline.web.pages import Note, Panel
from pipeline.web.view import WRITE_FAULTS, View, write_fault

if TYPE_CHECKING:
    from pipeline.web.habit_routes import HabitRoutes
    from pipeline.web.recipe_routes import RecipeRoutes
    from pipeline.web.script_routes import ScriptRoutes

Typed = dict[str, str]
FormHandler = Callable[[Request, Typed], Response]

KEY = re.compile(r"[0-9a-f]{16}")
#: A line can weigh no more, in grams.
MOST_GRAMS = 1_000_000.0
GONE = Note("fault", "No line of the collection reads so any more; the files have changed.")
_OTHER_LINE = Note("fault", "The form belongs to another line; nothing was saved", "Answer again.")
_CHANGED_SINCE = {
    "script": Note(
        "conflict", "It cannot be taken back: these lines were changed since",
        "Change them as they should be, here or in the file of cards.",
    ),
    "habit": Note(
        "conflict", "It cannot be taken back: the file was changed since",
        "Change it by hand; it is plain text beside the recipes.",
    ),
}  # fmt: skip


def key_of(request: Request) -> str:
    """The key in an address; 404 when it cannot be one."""
    key = str(request.path_params["key"])
    if not KEY.fullmatch(key):
        raise HTTPException(404)
    return key


@dataclass(frozen=True, slots=True)
class LineRoutes:
    """Handlers; an answer taken back shows what it was about, by the handlers of that.

    Attributes:
        start: address of our own at which the page opens.
    """

    view: View
    recipes: RecipeRoutes
    scripts: ScriptRoutes
    habits: HabitRoutes
    start: str = "/"

    # -- looking ---------------------------------------------------------------------------

    def home(self, request: Request) -> Response:
        """The first line to look at; when a link was opened that works once, the way in."""
        session = self.view.session
        if request.scope.get("state", {}).get("way_in"):
            # set the cookie and go on by a step of our own, which carries it; no redirect would
            response = HTMLResponse(self.view.render("opening.html.j2", start=self.start))
            key = self.view.key
            response.set_cookie(key.cookie, key.token, httponly=True, samesite="strict", path="/")
            return response
        if "token" in request.query_params:  # a used link in a browser that is in already
            return RedirectResponse("/", 303)
        session.state.refresh(now=True)
        queue = session.questions.queue()
        if not queue:
            return self.view.show(request, self.view.note(request), queue=queue)
        return self.view.show(request, Panel(session, queue[0].key, queue), queue=queue)

    def line(self, request: Request) -> Response:
        """One line, with what the search box found when it was sent as a form."""
        key, session = key_of(request), self.view.session
        session.state.refresh()
        if session.state.lines.text(key) is None:
            return self.view.show(request, GONE, 404)
        queue = session.questions.queue()
        panel = Panel(session, key, queue, self.view.note(request))
        panel.query = request.query_params.get("q", "")[:200]
        if panel.query:
            panel.found = pages.found(session, key, panel.query)
        return self.view.show(request, panel, queue=queue)

    def foods(self, request: Request) -> Response:
        """What the search box finds, as a part of the page."""
        key, session = key_of(request), self.view.session
        if session.state.lines.text(key) is None:
            return HTMLResponse(self.view.render("gone.html.j2", said=GONE.title), 404)
        words = request.query_params.get("q", "")[:200]
        panel = Panel(session, key, [])
        panel.found = pages.found(session, key, words) if words.strip() else None
        panel.query = words
        return HTMLResponse(self.view.render("found.html.j2", p=panel, alone=True))

    def since(self, request: Request) -> Response:
        """What changed since a version of the state; nothing when nothing did."""
        state, version = self.view.session.state, request.path_params["version"]
        state.refresh()
        if version == state.version:
            return Response(status_code=204)
        notice = ""
        if version < state.changed_version:
            notice = "The answers or recipes changed elsewhere; the list is up to date again."
        around = self.view.around(self.view.session.questions.queue())
        return HTMLResponse(self.view.render("since.html.j2", **around, said=notice))

    # -- answering -------------------------------------------------------------------------

    def own_form(self, act: FormHandler) -> FormHandler:
        """A handler of a form that is answered only for the line it was shown with."""

        def checked(request: Request, typed: Typed) -> Response:
            key = key_of(request)
            if typed.get("line", key) != key:
                return self._page(request, key, _OTHER_LINE, 409)
            return act(request, typed)

        return checked

    def answer(self, request: Request, typed: Typed) -> Response:
        """A food, no food, grams, or the tool's own weighing for a line."""
        key, answers = key_of(request), self.view.session.answers
        scope = _scope(typed)
        seen, act, food_id = typed.get("seen_line"), typed.get("act", "food"), typed.get("food", "")
        if act == "grams":
            grams = typed_number(typed.get("grams", ""), "g")
            if grams is None or not 0 <= grams <= MOST_GRAMS:
                note = Note("fault", "The grams could not be read", "Nothing was saved yet.")
                return self._page(request, key, note, 422, typed)
            return self._act(request, key, typed, lambda: answers.give(key, grams=grams, seen=seen))
        if act == "weigh":
            return self._act(
                request, key, typed, lambda: answers.give(key, forget_grams=True, seen=seen)
            )
        if not food_id:
            note = Note("fault", "No food was chosen", "Choose one of the foods.")
            return self._page(request, key, note, 422)
        seen = typed.get(f"seen_{scope}")
        return self._act(
            request, key, typed,
            lambda: answers.give(key, food_id=food_id, scope=scope, seen=seen),
        )  # fmt: skip

    def pack(self, request: Request, typed: Typed) -> Response:
        """A pantry food of pack values for a line."""
        key, session = key_of(request), self.view.session
        pack, insists = read_pack(typed), bool(typed.get("insist"))
        if pack.row and not insists:
            from pipeline.memory.pantry import pantry_id

            known = session.state.foods.get(pantry_id(pack.row["food_name"]))
            if known is not None:
                pack.doubts.append(
                    f"Your pantry has “{known.name}” already; its values would be replaced."
                )
        if pack.faults or (pack.doubts and not insists):
            wrong, odd = "Some values have to be corrected", "Please check against the pack"
            note = Note("fault", wrong if pack.faults else odd, "Nothing was saved yet.")
            return self._page(request, key, note, 422, typed, pack=pack)
        scope = _scope(typed)
        seen = typed.get(f"seen_{scope}")
        return self._act(
            request, key, typed,
            lambda: session.answers.give_pack(key, pack.row, scope=scope, seen=seen),
        )  # fmt: skip

    def split(self, request: Request, typed: Typed) -> Response:
        """Two lines of one, in the files it stands in."""
        key = key_of(request)
        texts = tuple(" ".join(typed.get(name, "").split()) for name in ("one", "two"))
        note = Note("fault", "The line was not split", "Nothing was saved.")
        if not all(texts):
            why = "Write a line for each of the two foods."
            return self._page(request, key, note, 422, typed, split=why)
        try:
            answer = self.view.session.recipe_edits.split(key, texts)
        except (ChangedElsewhere, *WRITE_FAULTS) as fault:
            return self._page(request, key, note, 422, typed, split=pages.file_fault(fault))
        except KeyError:
            return self.view.show(request, GONE, 404)
        return self.recipes.page(request, answer.recipe_id, Note.of(answer))

    def undo(self, request: Request, typed: Typed) -> Response:
        """Take back one answer: of this session by its number, any other by its text."""
        answer_id, text = typed.get("answer_id", ""), typed.get("text", "")
        history = self.view.session.history
        known = history.find(answer_id)
        key = known.key if known else typed.get("key", "")

        def act() -> Answer:
            return (
                history.take_back(answer_id) if answer_id else history.forget(text, _scope(typed))
            )

        return self._act(request, key if KEY.fullmatch(key) else "", typed, act, kind="back")

    def _act(
        self, request: Request, key: str, typed: Typed, act: Callable[[], Answer],
        kind: str = "done",
    ) -> Response:  # fmt: skip
        """Do what was asked and show the line with a receipt, or with what stood in the way."""
        state = self.view.session.state
        if key and kind == "done" and state.lines.text(key) is None:
            return self.view.show(request, GONE, 404)
        try:
            answer = act()
        except ChangedElsewhere as changed:
            return self._conflict(request, key, typed, changed)
        except KeyError:
            gone = "This food is no longer there"
            if kind == "back":
                gone = "There is nothing to take back any more"
            note = Note("fault", gone, "The page shows how it stands now.")
            return self._page(request, key, note, 409)
        except ValueError as fault:
            note = Note("fault", "It could not be saved", str(fault))
            return self._page(request, key, note, 422, typed)
        except WRITE_FAULTS as fault:
            return self._page(request, key, write_fault(fault), 503)
        note = Note.of(answer, kind)
        if answer.script:
            return self.scripts.page(request, answer.script, {}, note)
        if answer.recipe_id:
            return self.recipes.page(request, answer.recipe_id, note)
        if not answer.key:
            return self.habits.page(request, note)
        if "hx-request" in request.headers:
            return self._page(request, answer.key, note)
        there = f"/line/{answer.key}" if state.lines.text(answer.key) is not None else "/"
        return self.view.redirect(note, there)

    def _conflict(
        self, request: Request, key: str, typed: Typed, changed: ChangedElsewhere
    ) -> Response:
        """What stands in the file now, beside what was asked for."""
        known = self.view.session.history.find(typed.get("answer_id", ""))
        if known is not None and known.script:
            return self.scripts.page(request, known.script, {}, _CHANGED_SINCE["script"], 409)
        if known is not None and not known.key and not known.recipe_id:
            return self.habits.page(request, _CHANGED_SINCE["habit"], 409)
        state, now = self.view.session.state, changed.now
        if now is None:
            stands = "The answer was taken back elsewhere."
        else:
            food = state.foods.get(now.food_id)
            name = food.name if food else "no food" if now.food_id == "none" else now.food_id
            grams = "" if now.grams is None else f", {now.grams:g} g"
            stands = f"It now says: {name or 'grams only'}{grams}."
        note = Note(
            "conflict", "This was answered elsewhere meanwhile; yours was not saved",
            f"{stands} Choose again to replace it.",
        )  # fmt: skip
        state.refresh()
        return self._page(request, key, note, 409)

    def _page(
        self, request: Request, key: str, note: Note, status: int = 200,
        typed: Typed | None = None, *, pack: Pack | None = None, split: str = "",
    ) -> Response:  # fmt: skip
        """The line as it stands now with what happened; the list when it is gone."""
        session = self.view.session
        if session.state.lines.text(key) is None:
            return self.view.show(request, note, status)
        queue = session.questions.queue()
        panel = Panel(session, key, queue, note)
        panel.pack = pack
        if typed:
            _keep_typed(panel, typed, status, split)
        return self.view.show(request, panel, status, queue)


def _scope(typed: Typed) -> str:
    return "name" if typed.get("scope") == "name" else "line"


def _keep_typed(panel: Panel, typed: Typed, status: int, split: str) -> None:
    """What was typed, with what is wrong with it, to be corrected."""
    panel.scope = _scope(typed)
    panel.grams_typed = typed.get("grams", panel.grams_typed)[:40]
    if typed.get("act") == "grams" and status == 422:
        panel.grams_fault = f"“{panel.grams_typed}” is not a number of grams; write it plainly, such as 45 or 7.5 g."
    if split:
        panel.split_fault = split
        panel.halves = (typed.get("one", "")[:300], typed.get("two", "")[:300])
