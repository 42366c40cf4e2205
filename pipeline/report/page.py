"""The report as pages a creator reads, offline, on a phone or on paper: report.html, an overview that
says what to do now, and one compact page a recipe, to be sent to whom it concerns.

Each page is self-contained and nothing is fetched: styles, script and pictures stand in the file,
and its content security policy allows the one script by its hash and no network at all. Titles
and lines are escaped by Jinja2, so a hostile one is shown as it was written and never runs.
"""

from __future__ import annotations

import base64
import hashlib
import os
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.report.habits import shown_habits, shown_readings
from pipeline.report.html import asset, style, templates
from pipeline.report.plots import plots
from pipeline.report.recipe_view import gauge
from pipeline.report.view import view

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

#: The beam that "how to read this" explains; invented.
SAMPLE = gauge(
    {
        "nutrient": "kcal", "basis": "per_serving", "verdict": "disagrees", "stated": 430.0,
        "computed": 520.0, "low": 488.0, "high": 552.0, "allowed": 50.0,
    },
    "eu",
)  # fmt: skip


def render_all(
    result: Result, *, pages: Mapping[str, str] | None = None, creator: str = ""
) -> Iterator[tuple[str, str]]:
    """Every page of the report with its name: "report.html", then "pages/SLUG.html" a recipe.

    Args:
        pages: creator to the folder of their own report, relative to this page.
        creator: whose recipes these are, when the report shows one creator's alone.
    """
    shown = view(result, pages=pages, creator=creator)
    yield "report.html", _overview(shown, result, plots(result.findings, shown.numbers))
    template = templates().get_template("recipe.html.j2")
    common = _common(shown)
    for recipe in shown.recipes:
        yield str(recipe.href), template.render(r=recipe, **common)


def render_paged(
    shown: SimpleNamespace, first: Result, picture: pd.DataFrame
) -> Iterator[tuple[str, str]]:
    """The two pages of a large collection's report with their names; see ``report.paged``.

    Args:
        shown: what the overview shows.
        first: the recipes that stand on it.
        picture: findings for the picture, with ``number`` of the recipe and ``of``: how many there
            are of the nutrient.
    """
    numbers = dict(zip(picture["recipe_id"], picture["number"], strict=True))
    of = dict(zip(picture["nutrient"], picture["of"], strict=True))
    yield "report.html", _overview(shown, first, plots(picture, numbers, of))
    yield (
        "report-recipe.html",
        templates().get_template("paged.html.j2").render(**_common(shown)),
    )


def _overview(shown: SimpleNamespace, result: Result, pictures: list[SimpleNamespace]) -> str:
    return templates().get_template("report.html.j2").render(
        habits=shown_habits(result, shown.creator),
        readings=shown_readings(result, shown.creator),
        sample=SAMPLE,
        plots=pictures,
        **_common(shown),
    )  # fmt: skip


def _common(shown: SimpleNamespace) -> dict[str, Any]:
    """What both kinds of page are given."""
    script = asset("report.js") + (asset("paged.js") if shown.paged else "")
    digest = hashlib.sha256(script.encode()).digest()
    return {
        "v": shown,
        "paged": Markup(shown.paged),
        "style": style("base", "report", *(["script"] if shown.scripts else [])),
        "script": Markup(script),
        "script_hash": f"sha256-{base64.b64encode(digest).decode()}",
        "written": _today(),
    }


def _today() -> str:
    """The day of writing, UTC; SOURCE_DATE_EPOCH stands in for it where files must be the same."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    when = datetime.fromtimestamp(int(epoch), UTC) if epoch.isdigit() else datetime.now(UTC)
    return when.date().isoformat()
