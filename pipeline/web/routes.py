"""What the page's addresses do: looking at lines, recipes, scripts and habits, and answering them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from pipeline.publish.amend import Amendment
from pipeline.web import habits, pages, scripts
from pipeline.web.grams import MOST, Grams, read_grams
from pipeline.web.model import Answer, ChangedElsewhere, recipe_key
from pipeline.web.pack import Pack, read_pack, typed_number
from pipeline.web.pages import Note, Panel
from pipeline.web.view import WRITE_FAULTS, View, write_fault

Typed = dict[str, str]
FormHandler = Callable[[Request, Typed], Response]

KEY = re.compile(r"[0-9a-f]{16}")
GONE = Note("fault", "No line of the collection reads so any more; the files have changed.")
NO_RECIPE = Note("fault", "This recipe is no longer in the collection.")
NO_SCRIPT = Note("fault", "This script is no longer in the collection.")
_OTHER_LINE = Note("fault", "The form belongs to another line; nothing was saved", "Answer again.")
_NO_ANSWER = Note("fault", "There is nothing to take back any more")
_CARDS_CHANGED = Note(
    "conflict", "The cards were changed elsewhere meanwhile; nothing was saved",
    "The page shows them as they stand now. Correct it again if it still needs it.",
)  # fmt: skip
_SCRIPT_SINCE = Note(
    "conflict", "It cannot be taken back: these lines were changed since",
    "Change them as they should be, here or in the file of cards.",
)  # fmt: skip
_HABIT_SINCE = Note(
    "conflict", "It cannot be taken back: the file was changed since",
    "Change it by hand; it is plain text beside the recipes.",
)  # fmt: skip


def key_of(request: Request) -> str:
    """The key in an address; 404 when it cannot be one."""
    key = str(request.path_params["key"])
    if not KEY.fullmatch(key):
        raise HTTPException(404)
    return key


@dataclass(frozen=True, slots=True)
class Routes:
    """Handlers; an answer, given or taken back, shows what it is about.

    Attributes:
        start: address of our own at which the page opens.
    """

    view: View
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
        middle = Panel(session, queue[0].key, queue) if queue else self.view.note(request)
        return self.view.show(request, middle, queue=queue)

    def line(self, request: Request) -> Response:
        """One line, with what the search box found when it was sent as a form."""
        self.view.session.state.refresh()
        return self._line(request, self.view.note(request), missing=(GONE, 404), search=True)

    def foods(self, request: Request) -> Response:
        """What the search box finds, as a part of the page."""
        key, session = key_of(request), self.view.session
        if session.state.lines.text(key) is None:
            return HTMLResponse(self.view.render("gone.html.j2", said=GONE.title), 404)
        panel = Panel(session, key, [])
        panel.query = request.query_params.get("q", "")[:200]
        panel.found = pages.found(session, key, panel.query) if panel.query.strip() else None
        return HTMLResponse(self.view.render("found.html.j2", p=panel, alone=True))

    def since(self, request: Request) -> Response:
        """What changed since a version of the state; nothing when nothing did.

        A page that asks because of its own answer (``told``) has been told what that changed.
        """
        state, version = self.view.session.state, request.path_params["version"]
        state.refresh()
        if version == state.version:
            return Response(status_code=204)
        notice = ""
        if version < state.changed_version and "told" not in request.query_params:
            notice = "The answers or recipes changed elsewhere; the list is up to date again."
        around = self.view.around(self.view.session.questions.queue())
        return HTMLResponse(self.view.render("since.html.j2", **around, said=notice))

    def recipe(self, request: Request) -> Response:
        """One recipe with all its lines, any of which can be opened."""
        self.view.session.state.refresh()
        recipe_id = self.view.session.state.recipe_id(request.path_params["key"])
        return self._recipe(request, recipe_id, self.view.note(request))

    def script(self, request: Request) -> Response:
        """A spoken script with its marks; of the words asked about alone when the page has it."""
        self.view.session.state.refresh()
        note, asked = self.view.note(request), dict(request.query_params)
        alone = request.headers.get("hx-target") == "fix"
        return self._script(
            request, key_of(request), asked, note, missing=(NO_SCRIPT, 404), alone=alone
        )

    def habits(self, request: Request) -> Response:
        """What the whole collection shows of its creators' habits, as questions."""
        self.view.session.state.refresh()
        return self.view.show(
            request, habits.HabitPanel(self.view.session, self.view.note(request))
        )

    # -- answering -------------------------------------------------------------------------

    def own_form(self, act: FormHandler) -> FormHandler:
        """A handler of a form that is answered only for the line it was shown with."""

        def checked(request: Request, typed: Typed) -> Response:
            if typed.get("line", key := key_of(request)) != key:
                return self._line(request, _OTHER_LINE, 409)
            return act(request, typed)

        return checked

    def answer(self, request: Request, typed: Typed) -> Response:
        """A food, no food, grams, or the tool's own weighing for a line."""
        key, act = key_of(request), typed.get("act", "food")
        scope = "line" if act in ("grams", "weigh") else _scope(typed)
        given: dict[str, Any] = {"seen": typed.get(f"seen_{scope}"), "scope": scope}
        if act == "grams":
            if self.view.session.state.lines.text(key) is None:
                return self.view.show(request, GONE, 404)
            grams = read_grams(self.view.session, key, typed.get("grams", ""))
            if grams.fault or (grams.doubts and not typed.get("insist")):
                title = "The grams were not taken" if grams.fault else "Please check the grams"
                note = Note("fault", title, "Nothing was saved yet.")
                return self._line(request, note, 422, typed, grams=grams)
            given["grams"] = grams.value
        elif act == "weigh":
            given["forget_grams"] = True
        elif not typed.get("food"):
            note = Note("fault", "No food was chosen", "Choose one of the foods.")
            return self._line(request, note, 422)
        else:
            given["food_id"] = typed["food"]
        return self._act(request, key, typed, lambda: self.view.session.answers.give(key, **given))

    def pack(self, request: Request, typed: Typed) -> Response:
        """A pantry food of pack values for a line."""
        key, session, scope = key_of(request), self.view.session, _scope(typed)
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
            return self._line(request, note, 422, typed, pack=pack)
        seen = typed.get(f"seen_{scope}")
        return self._act(
            request, key, typed,
            lambda: session.answers.give_pack(key, pack.row, scope=scope, seen=seen),
        )  # fmt: skip

    def split(self, request: Request, typed: Typed) -> Response:
        """Two lines of one, in the files it stands in."""
        texts = tuple(" ".join(typed.get(name, "").split()) for name in ("one", "two"))
        note = Note("fault", "The line was not split", "Nothing was saved.")
        if not all(texts):
            why = "Write a line for each of the two foods."
            return self._line(request, note, 422, typed, split=why)
        try:
            answer = self.view.session.recipe_edits.split(key_of(request), texts)
        except (ChangedElsewhere, *WRITE_FAULTS) as fault:
            return self._line(request, note, 422, typed, split=pages.file_fault(fault))
        except KeyError:
            return self.view.show(request, GONE, 404)
        return self._changed(request, answer.recipe_id, Note.of(answer))

    def undo(self, request: Request, typed: Typed) -> Response:
        """Take back one answer: of this session by its number, any other by its text."""
        answer_id, history = typed.get("answer_id", ""), self.view.session.history
        known = history.find(answer_id)
        key = known.key if known else typed.get("key", "")

        def act() -> Answer:
            if answer_id:
                return history.take_back(answer_id)
            return history.forget(typed.get("text", ""), _scope(typed))

        return self._act(request, key if KEY.fullmatch(key) else "", typed, act, kind="back")

    def change(self, request: Request, typed: Typed) -> Response:
        """Servings or weight in the recipe's own file; or its difference accepted."""
        act, value = typed.get("act", ""), typed.get("value", "")
        recipe_id = self.view.session.state.recipe_id(request.path_params["key"])
        if recipe_id is None:
            return self._recipe(request, None, None)
        try:
            answer = self._do(recipe_id, act, value)
        except (ChangedElsewhere, ValueError, *WRITE_FAULTS) as fault:
            why = pages.file_fault(fault)
            return self._recipe(request, recipe_id, None, (act, why), value, 422)
        except KeyError:
            return self._recipe(request, recipe_id, _NO_ANSWER, status=409)
        return self._changed(request, answer.recipe_id, Note.of(answer))

    def correct(self, request: Request, typed: Typed) -> Response:
        """A correction of what was understood of a script, into its cards."""
        key, edits, seen = key_of(request), self.view.session.scripts, typed.get("seen")
        script = edits.find(key)
        if script is None:
            return self.view.show(request, NO_SCRIPT, 404)

        def act() -> Answer:
            if typed.get("act") == "start_over":
                return edits.start_over(key, seen=seen)
            shown = scripts.ScriptPanel(self.view.session.state, script, {}).shown
            change, about = scripts.correction(script, shown, typed)
            return edits.correct(key, change, seen=seen, recipes=about)

        try:
            _, note, status = _done(act, _CARDS_CHANGED)
        except ChangedElsewhere:
            note, status = _CARDS_CHANGED, 409
        return self._corrected(request, key, typed, note, status)

    def settle(self, request: Request, typed: Typed) -> Response:
        """An answer about a habit: one click, or the values of the pack."""
        key, act = key_of(request), typed.get("act", "")
        pack = read_pack(typed) if act == "pack" else None
        if pack is not None and (pack.faults or (pack.doubts and not typed.get("insist"))):
            note = Note("fault", "Please check against the pack", "Nothing was saved yet.")
            return self._settled(request, note, 422, key, pack)
        row = pack.row if pack else None
        gone = Note("conflict", "This question is no longer open", "The page shows what is.")
        _, note, status = _done(lambda: habits.answer(self.view.session, key, act, row), gone)
        return self._settled(request, note, status)

    def _do(self, recipe_id: str, act: str, value: str) -> Answer:
        session = self.view.session
        if act == "accept":
            return session.answers.accept(recipe_id, value)
        if act == "judge":
            return session.answers.judge_again(recipe_id)
        worded = any(c.isalpha() for c in value)
        amount = None if worded and act != "yield" else typed_number(value, "g")
        if amount is None or not 0 < amount <= MOST:
            raise ValueError(
                f"“{value[:40]}” is no number above zero; write it plainly, such as 6."
            )
        change, said = Amendment(servings=amount), f"makes {amount:g}"
        if act == "yield":
            change, said = Amendment(yield_g=amount), f"weighs {amount:g} g as served"
        title = session.state.title(recipe_id)
        return session.recipe_edits.amend(recipe_id, f"“{title}” {said}", change)

    def _act(
        self, request: Request, key: str, typed: Typed, act: Callable[[], Answer],
        kind: str = "done",
    ) -> Response:  # fmt: skip
        """Do what was asked and show what it was about with a receipt, or what stood in the way."""
        state = self.view.session.state
        if key and kind == "done" and state.lines.text(key) is None:
            return self.view.show(request, GONE, 404)
        title = _NO_ANSWER.title if kind == "back" else "This food is no longer there"
        gone = Note("fault", title, "The page shows how it stands now.")
        try:
            answer, note, status = _done(act, gone, "It could not be saved", kind)
        except ChangedElsewhere as changed:
            return self._conflict(request, key, typed, changed)
        if answer is None:
            return self._line(request, note, status, typed if status == 422 else None, key=key)
        if answer.script:
            return self._corrected(request, answer.script, {}, note)
        if answer.recipe_id:
            return self._changed(request, answer.recipe_id, note)
        if not answer.key:
            return self._settled(request, note)
        if "hx-request" in request.headers:
            return self._line(request, note, key=answer.key)
        there = f"/line/{answer.key}" if state.lines.text(answer.key) is not None else "/"
        return self.view.redirect(note, there)

    def _conflict(
        self, request: Request, key: str, typed: Typed, changed: ChangedElsewhere
    ) -> Response:
        """What stands in the file now, beside what was asked for."""
        known = self.view.session.history.find(typed.get("answer_id", ""))
        if known is not None and known.script:
            return self._corrected(request, known.script, {}, _SCRIPT_SINCE, 409)
        if known is not None and not known.key and not known.recipe_id:
            return self._settled(request, _HABIT_SINCE, 409)
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
        return self._line(request, note, 409, key=key)

    # -- what is shown then ----------------------------------------------------------------

    def _line(
        self, request: Request, note: Note | None, status: int = 200, typed: Typed | None = None,
        *, key: str | None = None, pack: Pack | None = None, split: str = "",
        grams: Grams | None = None, missing: tuple[Note, int] | None = None, search: bool = False,
    ) -> Response:  # fmt: skip
        """The line as it stands now with what happened; the list when it is gone."""
        session, key = self.view.session, key_of(request) if key is None else key
        if session.state.lines.text(key) is None:
            return self.view.show(request, *(missing or (note, status)))
        queue = session.questions.queue()
        panel = Panel(session, key, queue, note)
        panel.pack = pack
        if grams is not None:
            panel.grams_fault, panel.grams_doubts = grams.fault, grams.doubts
        if search and (words := request.query_params.get("q", "")[:200]):
            panel.query, panel.found = words, pages.found(session, key, words)
        if typed:
            _keep_typed(panel, typed, split)
        return self.view.show(request, panel, status, queue)

    def _recipe(
        self, request: Request, recipe_id: str | None, note: Note | None,
        fault: tuple[str, str] | None = None, typed: str = "", status: int = 200,
    ) -> Response:  # fmt: skip
        """The recipe as it stands now."""
        if recipe_id is None:
            return self.view.show(request, NO_RECIPE, 404)
        self.view.session.state.finish([recipe_id])
        card = pages.RecipeCard(self.view.session, recipe_id)
        card.note, card.fault, card.typed = note, fault, typed[:300]
        return self.view.show(request, card, status)

    def _changed(self, request: Request, recipe_id: str, note: Note) -> Response:
        """The recipe with what was done; by a redirect where there are no scripts."""
        if recipe_id not in self.view.session.state.recipes:
            return self.view.show(request, note)
        if "hx-request" not in request.headers:
            return self.view.redirect(note, f"/recipe/{recipe_key(recipe_id)}")
        return self._recipe(request, recipe_id, note)

    def _script(
        self, request: Request, key: str, asked: Typed, note: Note | None, status: int = 200,
        typed: Typed | None = None, *, missing: tuple[Note, int] | None = None, alone: bool = False,
    ) -> Response:  # fmt: skip
        """The script as it stands now."""
        script = self.view.session.scripts.find(key)
        if script is None:
            return self.view.show(request, *(missing or (note, status)))
        panel = scripts.ScriptPanel(self.view.session.state, script, asked)
        panel.note, panel.typed = note, typed or {}
        if alone:
            return HTMLResponse(self.view.render("fix.html.j2", s=panel, alone=True))
        return self.view.show(request, panel, status)

    def _corrected(
        self, request: Request, key: str, typed: Typed, note: Note, status: int = 200
    ) -> Response:
        """The script with what happened; by a redirect where there are no scripts."""
        self.view.session.state.refresh(now=True)
        again = scripts.asked_again(typed)
        if status == 200 and "hx-request" not in request.headers:
            return self.view.redirect(note, f"/script/{key}#fix", **again)
        return self._script(request, key, again, note, status, typed if status == 422 else None)

    def _settled(
        self, request: Request, note: Note, status: int = 200, key: str = "",
        pack: Pack | None = None,
    ) -> Response:  # fmt: skip
        """The habits as they stand now; by a redirect where there are no scripts."""
        if status == 200 and "hx-request" not in request.headers:
            return self.view.redirect(note, "/habits")
        panel = habits.HabitPanel(self.view.session, note)
        for card in panel.cards:
            card.pack = pack if card.key == key else None
        return self.view.show(request, panel, status)


def _done(
    act: Callable[[], Answer], gone: Note, unsaid: str = "It was not saved", kind: str = "done"
) -> tuple[Answer | None, Note, int]:
    """Do what was asked: the answer, None where something stood in its way; what to say; a status."""
    try:
        answer = act()
    except KeyError:
        return None, gone, 409
    except ValueError as fault:
        return None, Note("fault", unsaid, str(fault)), 422
    except WRITE_FAULTS as fault:
        return None, write_fault(fault), 503
    return answer, Note.of(answer, kind), 200


def _scope(typed: Typed) -> str:
    return "name" if typed.get("scope") == "name" else "line"


def _keep_typed(panel: Panel, typed: Typed, split: str) -> None:
    """What was typed, with what is wrong with it, to be corrected."""
    panel.scope = _scope(typed)
    panel.grams_typed = typed.get("grams", panel.grams_typed)[:40]
    if split:
        panel.split_fault = split
        panel.halves = (typed.get("one", "")[:300], typed.get("two", "")[:300])
