"""Addresses of habits: the questions about many recipes, and their answers."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from pipeline.web import habits
from pipeline.web.line_routes import key_of
from pipeline.web.pack import Pack, read_pack
from pipeline.web.pages import Note
from pipeline.web.view import WRITE_FAULTS, View, write_fault


@dataclass(frozen=True, slots=True)
class HabitRoutes:
    """Handlers."""

    view: View

    def habits(self, request: Request) -> Response:
        """What the whole collection shows of its creators' habits, as questions."""
        self.view.session.state.refresh()
        return self.view.show(
            request, habits.HabitPanel(self.view.session, self.view.note(request))
        )

    def answer(self, request: Request, typed: dict[str, str]) -> Response:
        """An answer about a habit: one click, or the values of the pack."""
        key, act = key_of(request), typed.get("act", "")
        pack = read_pack(typed) if act == "pack" else None
        if pack is not None and (pack.faults or (pack.doubts and not typed.get("insist"))):
            note = Note("fault", "Please check against the pack", "Nothing was saved yet.")
            return self.page(request, note, 422, key, pack)
        try:
            answer = habits.answer(self.view.session, key, act, pack.row if pack else None)
        except KeyError:
            note = Note("conflict", "This question is no longer open", "The page shows what is.")
            return self.page(request, note, 409)
        except ValueError as fault:
            return self.page(request, Note("fault", "It was not saved", str(fault)), 422)
        except WRITE_FAULTS as fault:
            return self.page(request, write_fault(fault), 503)
        return self.page(request, Note.of(answer))

    def page(
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
