"""The Jinja2 environment of every page: the report, its recipe pages, drift and the review page."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemBytecodeCache, FileSystemLoader, StrictUndefined
from jinja2.bccache import Bucket
from markupsafe import Markup, escape

from pipeline.problems import place_of
from pipeline.report import words
from pipeline.report.script import short_time, summary

#: Templates, styles and scripts of the report; the review page shares some of them.
TEMPLATES = Path(__file__).parent / "templates"

#: An amount of energy in running text, to be hidden on request.
_ENERGY = re.compile(r"[<−-]?\d[\d,.]*\s?(?:kcal|kJ|calories)\b")


class _CompiledTemplates(FileSystemBytecodeCache):
    """Compiled templates in ``__pycache__`` beside their sources, as Python keeps its modules.

    Compiling takes longer than rendering a small report. Where the folder cannot be written, as in
    an installation for all users, templates are compiled in every run.
    """

    def dump_bytecode(self, bucket: Bucket) -> None:
        with contextlib.suppress(OSError):
            Path(self.directory).mkdir(exist_ok=True)
            super().dump_bytecode(bucket)


def environment(folders: Sequence[Path] = (TEMPLATES,)) -> Environment:
    """An environment that escapes every value and fails on names that a template misspells.

    Args:
        folders: of templates, the first that has a name wins.
    """
    made = Environment(
        loader=FileSystemLoader(folders), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, auto_reload=False,
        bytecode_cache=_CompiledTemplates(str(folders[0] / "__pycache__")),
    )  # fmt: skip
    made.filters.update(
        place=place_of, plural=words.plural, percent=words.percent, grams=words.grams,
        verdict=words.verdict_word, standing=words.standing_of, n=lambda value: f"{value:,d}", summary=summary,
        clock=short_time, upper_first=words.upper_first, e_able=hide_energy, amount=words.amount,
        number=words.number, nutrient=words.nutrient_word,
    )  # fmt: skip
    made.tests["known"] = words.known
    made.globals.update(
        VERDICT=words.VERDICT, STANDING=words.STANDING, SPOONS=words.SPOONS, CAUTIONS=words.CAUTIONS,
        KIND=words.KIND, BY_DOUBT=words.SAYING["by_doubt"],
    )  # fmt: skip
    return made


@cache
def templates() -> Environment:
    """The environment of the report's own templates."""
    return environment()


def hide_energy(text: object) -> Markup:
    """Escaped text in which every amount of energy can be hidden by the page's switch."""
    plain, out, end = str(text), Markup(""), 0
    for match in _ENERGY.finditer(plain):
        out += escape(plain[end : match.start()])
        out += Markup('<span class="e">{}</span>').format(match[0])
        end = match.end()
    return out + escape(plain[end:])


def style(*names: str) -> Markup:
    """Styles of the report, one after the other, to stand in a page."""
    return Markup("".join(asset(f"{name}.css") for name in names))


@cache
def asset(name: str) -> str:
    """Text of a style or script of the report."""
    return (TEMPLATES / name).read_text(encoding="utf-8")
