"""Addresses of recipes: one with its lines, and changes of its own file."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from pipeline.publish.amend import Amendment
from pipeline.web import pages
from pipeline.web.model import Answer, ChangedElsewhere, recipe_key
from pipeline.web.pack import typed_number
from pipeline.web.pages import Note
from pipeline.web.view import WRITE_FAULTS, View

#: A recipe makes and weighs no more.
MOST = 1_000_000.0
NO_RECIPE = Note("fault", "This recipe is no longer in the collection.")


@dataclass(frozen=True, slots=True)
class RecipeRoutes:
    """Handlers."""

    view: View

    def recipe(self, request: Request) -> Response:
        """One recipe with all its lines, any of which can be opened."""
        state = self.view.session.state
        state.refresh()
        recipe_id = state.recipe_id(request.path_params["key"])
        if recipe_id is None:
            return self.view.show(request, NO_RECIPE, 404)
        return self._show(request, recipe_id, self.view.note(request))

    def change(self, request: Request, typed: dict[str, str]) -> Response:
        """Servings or weight in the recipe's own file; or its difference accepted."""
        act, value = typed.get("act", ""), typed.get("value", "")
        recipe_id = self.view.session.state.recipe_id(request.path_params["key"])
        if recipe_id is None:
            return self.view.show(request, NO_RECIPE, 404)
        try:
            answer = self._do(recipe_id, act, value)
        except (ChangedElsewhere, ValueError, *WRITE_FAULTS) as fault:
            why = pages.file_fault(fault)
            return self._show(request, recipe_id, None, (act, why), value, 422)
        except KeyError:
            gone = Note("fault", "There is nothing to take back any more")
            return self._show(request, recipe_id, gone, status=409)
        return self.page(request, answer.recipe_id, Note.of(answer))

    def page(self, request: Request, recipe_id: str, note: Note) -> Response:
        """The recipe with what was done; by a redirect where there are no scripts."""
        if recipe_id not in self.view.session.state.recipes:
            return self.view.show(request, note)
        if "hx-request" not in request.headers:
            return self.view.redirect(note, f"/recipe/{recipe_key(recipe_id)}")
        return self._show(request, recipe_id, note)

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
        title = session.state.title(recipe_id)
        if act == "yield":
            return session.recipe_edits.amend(
                recipe_id, f"“{title}” weighs {amount:g} g as served", Amendment(yield_g=amount)
            )
        return session.recipe_edits.amend(
            recipe_id, f"“{title}” makes {amount:g}", Amendment(servings=amount)
        )

    def _show(
        self, request: Request, recipe_id: str, note: Note | None,
        fault: tuple[str, str] | None = None, typed: str = "", status: int = 200,
    ) -> Response:  # fmt: skip
        """The recipe as it stands now."""
        self.view.session.state.finish([recipe_id])
        card = pages.RecipeCard(self.view.session, recipe_id)
        card.note, card.fault, card.typed = note, fault, typed[:300]
        return self.view.show(request, card, status)
