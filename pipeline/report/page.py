"""report.html: one self-contained document a creator reads, offline, on a phone or on paper."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pipeline.report.facts import facts

if TYPE_CHECKING:
    from pipeline.run import Result


def render(result: Result, *, pages: Mapping[str, str] | None = None, creator: str = "") -> str:
    """The page as text."""
    from jinja2 import Environment, PackageLoader

    env = Environment(loader=PackageLoader("pipeline.report"), autoescape=True)
    rows = result.recipes_by_size().to_dict("records")
    return env.get_template("report.html.j2").render(
        facts=facts(result), rows=rows, best=result.best_explanations()
    )
