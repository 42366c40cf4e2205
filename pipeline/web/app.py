"""The page's addresses: forms that work without scripts, and the same as parts of a page with them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from pipeline.problems import SteelyardError
from pipeline.publish.amend import Amendment
from pipeline.publish.script_cards import CannotChange
from pipeline.web import habits, pages, scripts
from pipeline.web.desk import Answer, Changed, Desk, Item, recipe_key
from pipeline.web.guard import Guard, Pass
from pipeline.web.habits import HabitPanel
from pipeline.web.pack import FIELDS, read_pack, typed_number
from pipeline.web.pages import Note, Panel
from pipeline.web.scripts import ScriptPanel

if TYPE_CHECKING:
    from jinja2 import Environment
    from starlette.types import ASGIApp

HERE = Path(__file__).parent
#: Of the report, which shows scripts the same way.
SHARED = HERE.parent / "report" / "templates"
STATIC = {
    "review.css": "text/css; charset=utf-8",
    "review.js": "text/javascript; charset=utf-8",
    "htmx.min.js": "text/javascript; charset=utf-8",
    "script.css": "text/css; charset=utf-8",
    "steelyard.svg": "image/svg+xml",
}
KEY = re.compile(r"[0-9a-f]{16}")
#: Notes kept for the page after a redirect.
KEEP_NOTES = 50
#: A line can weigh no more, in grams.
MOST_GRAMS = 1_000_000.0

NO_RECIPE = "This recipe is no longer in the collection."
OTHER_LINE = "The form belongs to another line; nothing was saved"
NO_SCRIPT = "This script is no longer in the collection."
GONE = "No line of the collection reads so any more; the files have changed."


def create_app(desk: Desk, key: Pass, start: str = "/") -> ASGIApp:
    """The page over a desk, guarded by a pass.

    Args:
        desk: what is reviewed.
        key: whose host and token requests must show.
        start: address of our own at which the page opens.
    """
    return Guard(_Page(desk, key, start).starlette(), key)


@dataclass(slots=True)
class _Page:
    desk: Desk
    key: Pass
    start: str = "/"
    notes: dict[str, Note] = field(default_factory=dict)
    count: int = 0

    def starlette(self) -> Starlette:
        routes = [
            Route("/", self.home),
            Route("/line/{key}", self.line, methods=["GET"]),
            Route("/line/{key}", self._form(self.answer), methods=["POST"]),
            Route("/line/{key}/foods", self.foods),
            Route("/line/{key}/pack", self._form(self.pack), methods=["POST"]),
            Route("/line/{key}/split", self._form(self.split), methods=["POST"]),
            Route("/recipe/{key}", self.recipe, methods=["GET"]),
            Route("/recipe/{key}", self._form(self.own), methods=["POST"]),
            Route("/script/{key}", self.script, methods=["GET"]),
            Route("/script/{key}", self._form(self.correct), methods=["POST"]),
            Route("/habits", self.habits, methods=["GET"]),
            Route("/habit/{key}", self._form(self.habit), methods=["POST"]),
            Route("/undo", self._form(self.undo), methods=["POST"]),
            Route("/since/{version:int}", self.since),
            Route("/static/{name}", self.static),
        ]
        handlers: dict[Any, Any] = {HTTPException: self.refused, Exception: self.broken}
        return Starlette(routes=routes, exception_handlers=handlers)

    # -- looking ---------------------------------------------------------------------------

    def home(self, request: Request) -> Response:
        """The first line to look at; when a link was opened that works once, the way in."""
        if request.scope.get("state", {}).get("way_in"):
            return self._way_in()
        if "token" in request.query_params:  # a used link in a browser that is in already
            return RedirectResponse("/", 303)
        self.desk.look(now=True)
        queue = self.desk.queue()
        if not queue:
            return self._show(request, queue, self._note(request))
        return self._show(request, queue, pages.panel(self.desk, queue[0].key, queue))

    def _way_in(self) -> Response:
        """Set the cookie and go on by a step of our own, which carries it; no redirect would."""
        response = HTMLResponse(self._render("opening.html.j2", start=self.start))
        response.set_cookie(
            self.key.cookie, self.key.token, httponly=True, samesite="strict", path="/"
        )
        return response

    def line(self, request: Request) -> Response:
        """One line, with what the search box found when it was sent as a form."""
        key = self._line_key(request)
        self.desk.look()
        queue = self.desk.queue()
        if self.desk.text(key) is None:
            return self._show(request, queue, Note("fault", GONE), 404)
        panel = pages.panel(self.desk, key, queue, self._note(request))
        panel.query = request.query_params.get("q", "")[:200]
        if panel.query:
            panel.found = pages.found(self.desk, key, panel.query)
        return self._show(request, queue, panel)

    def foods(self, request: Request) -> Response:
        """What the search box finds, as a part of the page."""
        key = self._line_key(request)
        if self.desk.text(key) is None:
            return HTMLResponse(self._render("gone.html.j2", said=GONE), 404)
        words = request.query_params.get("q", "")[:200]
        found = pages.found(self.desk, key, words) if words.strip() else None
        panel = pages.panel(self.desk, key, [])
        panel.found, panel.query = found, words
        return HTMLResponse(self._render("found.html.j2", p=panel, alone=True))

    def recipe(self, request: Request) -> Response:
        """One recipe with all its lines, any of which can be opened."""
        self.desk.look()
        queue = self.desk.queue()
        recipe_id = self.desk.recipe_id(request.path_params["key"])
        if recipe_id is None or recipe_id not in self.desk.recipes:
            return self._show(request, queue, Note("fault", NO_RECIPE), 404)
        self.desk.finish([recipe_id])
        card = pages.card(self.desk, recipe_id)
        card.note = self._note(request)
        return self._show(request, queue, card)

    def script(self, request: Request) -> Response:
        """A spoken script with its marks; of the words asked about alone when the page has it."""
        key = self._line_key(request)
        self.desk.look()
        script = self.desk.script(key)
        if script is None:
            return self._show(request, self.desk.queue(), Note("fault", NO_SCRIPT), 404)
        panel = scripts.panel(self.desk, script, request.query_params)
        panel.note = self._note(request)
        if request.headers.get("hx-target") == "fix":
            return HTMLResponse(self._render("fix.html.j2", s=panel, alone=True))
        return self._show(request, self.desk.queue(), panel)

    def habits(self, request: Request) -> Response:
        """What the whole collection shows of its creators' habits, as questions."""
        self.desk.look()
        return self._show(request, self.desk.queue(), habits.panel(self.desk, self._note(request)))

    def since(self, request: Request) -> Response:
        """What changed since a version of the state; nothing when nothing did."""
        self.desk.look()
        if request.path_params["version"] == self.desk.version:
            return Response(status_code=204)
        said = ""
        if request.path_params["version"] < self.desk.foreign:
            said = "The answers or recipes changed elsewhere; the list is up to date again."
        return HTMLResponse(
            self._render("since.html.j2", **self._around(self.desk.queue()), said=said)
        )

    def static(self, request: Request) -> Response:
        """A file of the page; names that are not listed do not exist."""
        name = request.path_params["name"]
        if name not in STATIC:
            raise HTTPException(404)
        return Response(_file(name), media_type=STATIC[name])

    # -- answering -------------------------------------------------------------------------

    def _form(self, act: Callable[[Request, dict[str, str]], Response]) -> Callable[[Request], Any]:
        """A handler of a form: only with the key that our own forms carry."""

        async def handler(request: Request) -> Response:
            try:
                form: FormData = await request.form(max_files=0, max_fields=60)
            except ClientDisconnect:
                return PlainTextResponse("That is more than any form holds.\n", 413)
            typed = {k: v for k, v in form.items() if isinstance(v, str)}
            if not self.key.fits_form(typed.get("form_key", "")):
                return PlainTextResponse("This form is not of this page; reload it.\n", 403)
            return await run_in_threadpool(act, request, typed)

        return handler

    def answer(self, request: Request, typed: dict[str, str]) -> Response:
        """A food, no food, grams, or the tool's own weighing for a line."""
        key = self._line_key(request)
        if typed.get("line", key) != key:
            return self._fault(request, key, OTHER_LINE, "Answer again.", 409)
        scope = "name" if typed.get("scope") == "name" else "line"
        act = typed.get("act", "food")
        if act == "grams":
            grams = typed_number(typed.get("grams", ""), "g")
            if grams is None or not 0 <= grams <= MOST_GRAMS:
                return self._fault(
                    request, key, "The grams could not be read",
                    "Nothing was saved yet.", typed=typed,
                )  # fmt: skip
            return self._act(
                request,
                key,
                typed,
                lambda: self.desk.answer(key, grams=grams, seen=typed.get("seen_line")),
            )
        if act == "weigh":
            return self._act(
                request, key, typed,
                lambda: self.desk.answer(key, forget_grams=True, seen=typed.get("seen_line")),
            )  # fmt: skip
        food_id = typed.get("food", "")
        if not food_id:
            return self._fault(request, key, "No food was chosen", "Choose one of the foods.")
        return self._act(
            request, key, typed,
            lambda: self.desk.answer(
                key, food_id=food_id, scope=scope, seen=typed.get(f"seen_{scope}")
            ),
        )  # fmt: skip

    def pack(self, request: Request, typed: dict[str, str]) -> Response:
        """A pantry food of pack values for a line."""
        key = self._line_key(request)
        if typed.get("line", key) != key:
            return self._fault(request, key, OTHER_LINE, "Answer again.", 409)
        scope = "name" if typed.get("scope") == "name" else "line"
        pack = read_pack(typed)
        if pack.row and not typed.get("insist"):
            from pipeline.memory.pantry import pantry_id

            known = self.desk.shelf.get(pantry_id(pack.row["food_name"]))
            if known is not None:
                pack.doubts.append(
                    f"Your pantry has “{known.name}” already; its values would be replaced."
                )
        if pack.faults or (pack.doubts and not typed.get("insist")):
            title = (
                "Some values have to be mended" if pack.faults else "Please check against the pack"
            )
            return self._fault(
                request, key, title, "Nothing was saved yet.", pack=pack, typed=typed
            )
        return self._act(
            request, key, typed,
            lambda: self.desk.answer_with_pack(
                key, pack.row, scope=scope, seen=typed.get(f"seen_{scope}")
            ),
        )  # fmt: skip

    def split(self, request: Request, typed: dict[str, str]) -> Response:
        """Two lines of one, in the files it stands in."""
        key = self._line_key(request)
        if typed.get("line", key) != key:
            return self._fault(request, key, OTHER_LINE, "Answer again.", 409)
        texts = tuple(" ".join(typed.get(name, "").split()) for name in ("one", "two"))
        if not all(texts):
            return self._fault(
                request, key, "The line was not split", "Nothing was saved yet.",
                split="Write a line for each of the two foods.", typed=typed,
            )  # fmt: skip
        try:
            answer = self.desk.split(key, texts)
        except (SteelyardError, Changed, OSError, TimeoutError) as fault:
            return self._fault(
                request, key, "The line was not split", "Nothing was saved.", split=_why(fault),
                typed=typed,
            )  # fmt: skip
        except KeyError:
            return self._show(request, self.desk.queue(), Note("fault", GONE), 404)
        return self._recipe_page(request, answer.recipe_id, Note.of(answer))

    def own(self, request: Request, typed: dict[str, str]) -> Response:
        """What stands in a recipe's own file: servings, weight; or its difference accepted."""
        desk, act, value = self.desk, typed.get("act", ""), typed.get("value", "")
        recipe_id = desk.recipe_id(request.path_params["key"])
        if recipe_id is None or recipe_id not in desk.recipes:
            return self._show(request, desk.queue(), Note("fault", NO_RECIPE), 404)
        title = str(desk.recipes[recipe_id].about["title"] or recipe_id)
        try:
            if act == "accept":
                answer = desk.accept(recipe_id, value)
            elif act == "judge":
                answer = desk.judge_again(recipe_id)
            else:
                unit = "g" if act == "yield" else ""
                worded = any(c.isalpha() for c in value)
                amount = None if worded and not unit else typed_number(value, "g")
                if amount is None or not 0 < amount <= MOST_GRAMS:
                    said = f"“{value[:40]}” is no number above zero; write it plainly, such as 6."
                    return self._recipe_page(request, recipe_id, None, (act, said), value, 422)
                change = Amendment(yield_g=amount) if unit else Amendment(servings=amount)
                what = f"weighs {amount:g} g as served" if unit else f"makes {amount:g}"
                answer = desk.amend(recipe_id, f"“{title}” {what}", change)
        except (SteelyardError, Changed, OSError, TimeoutError) as fault:
            return self._recipe_page(request, recipe_id, None, (act, _why(fault)), value, 422)
        except KeyError:
            gone = Note("fault", "There is nothing to take back any more")
            return self._recipe_page(request, recipe_id, gone, status=409)
        return self._recipe_page(request, answer.recipe_id, Note.of(answer))

    def _recipe_page(
        self,
        request: Request,
        recipe_id: str,
        note: Note | None,
        fault: tuple[str, str] | None = None,
        typed: str = "",
        status: int = 200,
    ) -> Response:
        """The recipe as it stands now, with what happened; by a redirect where there are no scripts."""
        if recipe_id not in self.desk.recipes:
            return self._show(request, self.desk.queue(), note or Note("fault", NO_RECIPE), status)
        if status == 200 and note is not None and "hx-request" not in request.headers:
            self._keep(note)
            return RedirectResponse(f"/recipe/{recipe_key(recipe_id)}?note={self.count}", 303)
        self.desk.finish([recipe_id])
        card = pages.card(self.desk, recipe_id)
        card.note, card.fault, card.typed = note, fault, typed[:300]
        return self._show(request, self.desk.queue(), card, status)

    def correct(self, request: Request, typed: dict[str, str]) -> Response:
        """A correction of what was understood of a script, into its cards."""
        key = self._line_key(request)
        script = self.desk.script(key)
        if script is None:
            return self._show(request, self.desk.queue(), Note("fault", NO_SCRIPT), 404)
        try:
            if typed.get("act") == "start_over":
                answer = self.desk.start_over(key, seen=typed.get("seen"))
            else:
                shown = scripts.panel(self.desk, script, {}).shown
                change, about = scripts.correction(script, shown, typed)
                answer = self.desk.correct_script(
                    key, change, seen=typed.get("seen"), recipes=about
                )
        except CannotChange as fault:
            note = Note("fault", "It was not saved", str(fault))
            return self._script_page(request, key, typed, note, 422)
        except (Changed, KeyError):
            note = Note(
                "conflict", "The cards were changed elsewhere meanwhile; nothing was saved",
                "The page shows them as they stand now. Correct it again if it still needs it.",
            )  # fmt: skip
            return self._script_page(request, key, typed, note, 409)
        except SteelyardError as fault:
            problem = fault.problem
            note = Note(
                "fault", f"It was not saved: {problem.what}", f"{problem.why}. {problem.fix}."
            )
            return self._script_page(request, key, typed, note, 503)
        except (OSError, TimeoutError) as fault:
            why = str(getattr(fault, "strerror", None) or fault)
            note = Note(
                "fault", "It was not saved: the file could not be written",
                f"{why}. Free the file or its folder and correct it again.",
            )  # fmt: skip
            return self._script_page(request, key, typed, note, 503)
        return self._script_page(request, key, typed, Note.of(answer))

    def habit(self, request: Request, typed: dict[str, str]) -> Response:
        """An answer about a habit: one click, or the values of the pack."""
        key, act = self._line_key(request), typed.get("act", "")
        pack = read_pack(typed) if act == "pack" else None
        if pack is not None and (pack.faults or (pack.doubts and not typed.get("insist"))):
            note = Note("fault", "Please check against the pack", "Nothing was saved yet.")
            return self._habits_page(request, note, 422, key, pack)
        try:
            answer = habits.answer(self.desk, key, act, pack.row if pack else None)
        except KeyError:
            note = Note("conflict", "This question is no longer open", "The page shows what is.")
            return self._habits_page(request, note, 409)
        except ValueError as fault:
            return self._habits_page(request, Note("fault", "It was not saved", str(fault)), 422)
        except SteelyardError as fault:
            problem = fault.problem
            note = Note(
                "fault", f"It was not saved: {problem.what}", f"{problem.why}. {problem.fix}."
            )
            return self._habits_page(request, note, 503)
        except (OSError, TimeoutError) as fault:
            why = str(getattr(fault, "strerror", None) or fault)
            note = Note(
                "fault", "It was not saved: the file could not be written",
                f"{why}. Free the file or its folder and answer again.",
            )  # fmt: skip
            return self._habits_page(request, note, 503)
        return self._habits_page(request, Note.of(answer))

    def _habits_page(
        self, request: Request, note: Note, status: int = 200, key: str = "", pack: Any = None
    ) -> Response:
        """The habits as they stand now; by a redirect where there are no scripts."""
        if status == 200 and "hx-request" not in request.headers:
            self._keep(note)
            return RedirectResponse(f"/habits?note={self.count}", 303)
        panel = habits.panel(self.desk, note)
        for card in panel.cards:
            card.pack = pack if card.key == key else None
        return self._show(request, self.desk.queue(), panel, status)

    def _script_page(
        self,
        request: Request,
        key: str,
        typed: dict[str, str],
        note: Note,
        status: int = 200,
    ) -> Response:
        """The script as it stands now, with what happened; by a redirect where there are no scripts."""
        self.desk.look(now=True)
        again = scripts.asked_again(typed)
        script = self.desk.script(key)
        if status == 200 and "hx-request" not in request.headers:
            self._keep(note)
            return RedirectResponse(
                f"/script/{key}?{urlencode({**again, 'note': self.count})}#fix", 303
            )
        if script is None:
            return self._show(request, self.desk.queue(), note, status)
        panel = scripts.panel(self.desk, script, again)
        panel.note = note
        panel.typed = typed if status == 422 else {}
        return self._show(request, self.desk.queue(), panel, status)

    def _keep(self, note: Note) -> None:
        """Keep a note for the page after a redirect."""
        self.count += 1
        self.notes[str(self.count)] = note
        for old in list(self.notes)[:-KEEP_NOTES]:
            del self.notes[old]

    def undo(self, request: Request, typed: dict[str, str]) -> Response:
        """Take back one answer: of this sitting by its number, any other by its text."""
        answer_id, text = typed.get("answer_id", ""), typed.get("text", "")
        scope = "name" if typed.get("scope") == "name" else "line"
        known = self.desk.find_answer(answer_id)
        key = known.key if known else typed.get("key", "")

        def act() -> Answer:
            if answer_id:
                return self.desk.take_back(answer_id)
            return self.desk.forget(text, scope)

        return self._act(request, key if KEY.fullmatch(key) else "", typed, act, kind="back")

    def _act(
        self,
        request: Request,
        key: str,
        typed: dict[str, str],
        act: Callable[[], Answer],
        kind: str = "done",
    ) -> Response:
        """Do what was asked and show the line with a receipt, or with what stood in the way."""
        if key and kind == "done" and self.desk.text(key) is None:
            return self._show(request, self.desk.queue(), Note("fault", GONE), 404)
        try:
            answer = act()
        except Changed as changed:
            known = self.desk.find_answer(typed.get("answer_id", ""))
            if known is not None and known.script:
                note = Note(
                    "conflict", "It cannot be taken back: these lines were changed since",
                    "Change them as they should be, here or in the file of cards.",
                )  # fmt: skip
                return self._script_page(request, known.script, {}, note, 409)
            if known is not None and not known.key and not known.recipe_id:
                note = Note(
                    "conflict", "It cannot be taken back: the file was changed since",
                    "Change it by hand; it is plain text beside the recipes.",
                )  # fmt: skip
                return self._habits_page(request, note, 409)
            return self._conflict(request, key, changed)
        except KeyError:
            gone = (
                "There is nothing to take back any more"
                if kind == "back"
                else "This food is no longer there"
            )
            return self._fault(request, key, gone, "The page shows how it stands now.", 409)
        except ValueError as fault:
            return self._fault(request, key, "It could not be saved", str(fault), typed=typed)
        except SteelyardError as fault:
            problem = fault.problem
            return self._fault(
                request,
                key,
                f"It was not saved: {problem.what}",
                f"{problem.why}. {problem.fix}.",
                503,
            )
        except (OSError, TimeoutError) as fault:
            why = str(getattr(fault, "strerror", None) or fault)
            return self._fault(
                request, key, "It was not saved: the file could not be written",
                f"{why}. Free the file or its folder and answer again.", 503,
            )  # fmt: skip
        note = Note.of(answer, kind)
        if answer.script:
            return self._script_page(request, answer.script, {}, note)
        if answer.recipe_id:
            return self._recipe_page(request, answer.recipe_id, note)
        if not answer.key:
            return self._habits_page(request, note)
        if "hx-request" in request.headers:
            return self._line_or_list(request, answer.key, note)
        self._keep(note)
        there = f"/line/{answer.key}" if self.desk.text(answer.key) is not None else "/"
        return RedirectResponse(f"{there}?note={self.count}", 303)

    def _conflict(self, request: Request, key: str, changed: Changed) -> Response:
        now = changed.now
        if now is None:
            stands = "The answer was taken back elsewhere."
        else:
            food = self.desk.shelf.get(now.food_id)
            name = food.name if food else "no food" if now.food_id == "none" else now.food_id
            grams = "" if now.grams is None else f", {now.grams:g} g"
            stands = f"It now says: {name or 'grams only'}{grams}."
        note = Note(
            "conflict", "This was answered elsewhere meanwhile; yours was not saved",
            f"{stands} Choose again to replace it.",
        )  # fmt: skip
        self.desk.look()
        return self._line_or_list(request, key, note, 409)

    def _fault(
        self,
        request: Request,
        key: str,
        title: str,
        detail: str,
        status: int = 422,
        pack: Any = None,
        typed: dict[str, str] | None = None,
        split: str = "",
    ) -> Response:
        return self._line_or_list(
            request, key, Note("fault", title, detail), status, pack, typed or {}, split
        )

    def _line_or_list(
        self,
        request: Request,
        key: str,
        note: Note,
        status: int = 200,
        pack: Any = None,
        typed: dict[str, str] | None = None,
        split: str = "",
    ) -> Response:
        queue = self.desk.queue()
        if self.desk.text(key) is None:
            return self._show(request, queue, note, status)
        panel = pages.panel(self.desk, key, queue, note)
        panel.pack = pack
        if typed:
            panel.scope = "name" if typed.get("scope") == "name" else "line"
            panel.grams_typed = typed.get("grams", panel.grams_typed)[:40]
            if typed.get("act") == "grams" and status == 422:
                typed_now = panel.grams_typed
                panel.grams_fault = (
                    f"“{typed_now}” is no number of grams; write it plainly, such as 45 or 7.5 g."
                )
            if split:
                panel.split_fault = split
                panel.halves = (typed.get("one", "")[:300], typed.get("two", "")[:300])
        return self._show(request, queue, panel, status)

    # -- showing ---------------------------------------------------------------------------

    def _line_key(self, request: Request) -> str:
        key = str(request.path_params["key"])
        if not KEY.fullmatch(key):
            raise HTTPException(404)
        return key

    def _note(self, request: Request) -> Note | None:
        return self.notes.get(request.query_params.get("note", ""))

    def _around(self, queue: list[Item]) -> dict[str, Any]:
        """What stands around the panel: queue, progress, answers, recipes."""
        desk = self.desk
        done, asked = desk.progress(queue)
        verdicts = {r: now.verdict for r, now in desk.recipes.items()}
        shown = queue[: pages.SHOWN]
        settled = desk.settled()
        return {
            "queue": [
                (
                    item,
                    [str(desk.recipes[r].about["title"] or r) for r, _ in item.places],
                    verdicts[item.places[0][0]],
                )
                for item in shown
            ],
            "waiting": len(queue) - len(shown),
            "done": done,
            "asked": asked,
            "settled": settled[-pages.LISTED :],
            "answers": len(settled),
            "undo": next((a for a in reversed(desk.history())), None),
            "recipes": [
                (
                    recipe_key(r),
                    str(desk.recipes[r].about["title"] or r),
                    v,
                    len(desk.recipes[r].asks),
                )
                for r, v in sorted(verdicts.items(), key=lambda rv: pages.VERDICT_ORDER[rv[1]])
            ][: pages.LISTED],
            "verdicts": verdicts,
            "scripts": desk.scripts(),
            "habits": len(habits.questions(desk)),
            "version": desk.version,
            "problems": pages.shown_problems(desk),
        }

    def _show(
        self,
        request: Request,
        queue: list[Item],
        what: Panel | pages.RecipeCard | ScriptPanel | HabitPanel | Note | None,
        status: int = 200,
    ) -> Response:
        """A whole page, or its middle with what else changed when htmx asks."""
        values = self._around(queue)
        values["p"] = what if isinstance(what, Panel) else None
        values["recipe"] = what if isinstance(what, pages.RecipeCard) else None
        values["s"] = what if isinstance(what, ScriptPanel) else None
        values["h"] = what if isinstance(what, HabitPanel) else None
        note = what if isinstance(what, Note) else getattr(what, "note", None)
        values["note"] = note
        values["said"] = pages.note_sentence(note) if note else ""
        part = (
            "hx-request" in request.headers and "hx-history-restore-request" not in request.headers
        )
        name = "part.html.j2" if part else "page.html.j2"
        response = HTMLResponse(self._render(name, **values), status)
        if part and request.method == "POST" and isinstance(what, pages.RecipeCard):
            response.headers["hx-replace-url"] = f"/recipe/{what.key}"
        if part and request.method == "POST" and isinstance(what, Panel):
            response.headers["hx-replace-url"] = f"/line/{what.key}"  # to come back to
        if part and request.method == "POST" and isinstance(what, ScriptPanel):
            at = f"?at={what.fix.at}" if what.fix.at else ""
            response.headers["hx-replace-url"] = f"/script/{what.key}{at}"
        return response

    def _render(self, name: str, **values: Any) -> str:
        return _environment().get_template(name).render(
            form_key=self.key.form_key, folder=self.desk.root.resolve().name, desk=self.desk,
            paths=[str(p) for p in self.desk.paths], fields=FIELDS, **values,
        )  # fmt: skip

    def refused(self, request: Request, fault: Exception) -> Response:
        """An address that is not there."""
        status = fault.status_code if isinstance(fault, HTTPException) else 404
        return PlainTextResponse("There is nothing at this address.\n", status)

    def broken(self, request: Request, fault: Exception) -> Response:
        """A fault of the page itself; answers are on disk and nothing is lost."""
        said = f"The page met a fault of its own: {type(fault).__name__}. Your answers are saved.\n"
        return PlainTextResponse(said, 500)


def _why(fault: BaseException) -> str:
    """What stood in the way of a change of a file, and what to do, in sentences."""
    if isinstance(fault, SteelyardError):
        problem = fault.problem
        where = f" ({problem.where})" if problem.where else ""
        parts = (f"{problem.what}{where}: {problem.why}", problem.fix)
        return " ".join(f"{part[:1].upper()}{part[1:]}." for part in parts if part)
    if isinstance(fault, Changed):
        return "The file was changed elsewhere meanwhile; the page shows it as it stands now. Try again."
    return f"The file could not be written: {getattr(fault, 'strerror', None) or fault}."


@cache
def _file(name: str) -> bytes:
    folder = SHARED if name == "script.css" else HERE / "static"
    return (folder / name).read_bytes()


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    from pipeline.report import words
    from pipeline.report.script import short_time, summary

    made = Environment(
        loader=FileSystemLoader([HERE / "templates", SHARED]), autoescape=True, trim_blocks=True,
        lstrip_blocks=True, undefined=StrictUndefined,
    )  # fmt: skip
    made.filters.update(
        amount=pages.amount_text, grams=words.grams, percent=words.percent,
        verdict=words.verdict_word, basis=pages.basis_word, moved=pages.moved_sentence,
        plural=lambda n, one, many="": words.plural(n, one, many), count=lambda n: f"{n:,d}",
        n=lambda n: f"{n:,d}", summary=summary, clock=short_time, recipe_key=recipe_key,
    )  # fmt: skip
    made.globals.update(
        CAUTIONS=words.CAUTIONS, VERDICT=words.VERDICT, MACROS=pages.MAJOR,
        MACRO_WORDS={"kcal": "kcal", "protein_g": "protein", "carbs_g": "carbs", "fat_g": "fat"},
    )  # fmt: skip
    return made
