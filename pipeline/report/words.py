"""The wording of the reports: names of verdicts, bases and slips, and how numbers are printed.

The words come from ``shared/report_words.csv``, so that page, terminal, Markdown, JUnit and SARIF
use the same ones.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pipeline.nutrients import BY_COLUMN
from pipeline.resources import shared_rows

_ROWS = list(shared_rows("report_words.csv"))


def _table(name: str, column: str = "word") -> dict[str, str]:
    """Key to a word of one table of ``shared/report_words.csv``, in the order of the file.

    The word stands in for a meaning that is left out.
    """
    return {row["key"]: row[column] or row["word"] for row in _ROWS if row["table"] == name}


def _with_meaning(name: str) -> dict[str, tuple[str, str]]:
    """Key to word and meaning."""
    meanings = _table(name, "meaning")
    return {key: (word, meanings[key]) for key, word in _table(name).items()}


#: Verdict, or ``accepted`` for an accepted difference, to its word and its meaning in a sentence; in
#: the order of lists.
VERDICT = _with_meaning("verdict")
STANDING = _table("verdict")
_OF_SEVERAL = _table("verdict_of_several")
#: How the grams of a line were found, and why a line does not count.
BASIS, ROLE = _table("basis"), _table("role")
#: A kind of slip: its name in headings and counts, and after the line that it is about.
KIND = _table("slip")
SLIP = _table("slip", "meaning")
#: What to do about a kind of slip that several recipes share.
SLIP_ADVICE = {row["key"]: row["advice"] for row in _ROWS if row["table"] == "slip"}
#: What a stated number refers to.
PER = _table("per")
#: A slip of an uncertain recipe that is less likely than this is not called what happened.
LEAST_LIKELY = 0.1
#: What would have to be so for the stated number to be right, by the likeliest slip.
INSTEAD = _table("instead")
#: The verdict on a recipe in a sentence; {} are the numbers meant.
SAYING = _table("saying")
#: Whose energy the numbers to publish give; 4-4-9 of the macros shown need not match it.
ENERGY_FROM = _table("energy_from")
PROFILE = _table("profile")
#: Systems of cups and spoons.
SPOONS = _table("spoons")
#: Topic and statement; printed in every report.
CAUTIONS = tuple(_table("caution").items())
#: A mark in a script: its name and its meaning, in the order of the legend. Of marks over the same
#: words the first is the outer one.
SCRIPT_KIND = _with_meaning("script_mark")

#: Rules of SARIF: what does not hold, and what to do.
RULE = {row["key"]: (row["word"], row["advice"]) for row in _ROWS if row["table"] == "rule"}

NET_CARBS = "net_carbs_g"
#: Numbers that have a column of their own in lists.
MACROS = ("kcal", "protein_g", "carbs_g", "fat_g")


def written_line(row: Mapping[Any, Any]) -> int:
    """The number of the line as it is written, for a person who counts lines: of a food of a line
    that holds several, the number of that line.

    Args:
        row: of LINE_RESULT, with ``part_of`` where that is known.
    """
    part_of: Any = row.get("part_of")
    return int(part_of if known(part_of) else row["line_no"])


def verdict_word(code: str) -> str:
    """The verdict as people say it."""
    return VERDICT.get(code, (code, ""))[0]


def standing_of(count: int, code: str) -> str:
    """The verdict on so many recipes: "disagrees" of one, "disagree" of none or several."""
    return STANDING[code] if count == 1 else _OF_SEVERAL.get(code, STANDING[code])


def standing_counts(counts: Mapping[str, int]) -> str:
    """ "13 disagree, 1 agrees": verdicts that no recipe has are left out."""
    return ", ".join(f"{n:,d} {standing_of(n, code)}" for code, n in counts.items() if n)


def nutrient_word(column: str) -> str:
    """ "energy", "carbohydrate": what a creator reads for a column."""
    if column == NET_CARBS:
        return "carbohydrate without fibre"
    return BY_COLUMN[column].label if column in BY_COLUMN else column.replace("_", " ")


def unit_of(column: str) -> str:
    """kcal, g or mg."""
    if column == NET_CARBS:
        return "g"
    return BY_COLUMN[column].unit if column in BY_COLUMN else ""


def known(value: object) -> bool:
    """Whether it is a finite number."""
    return isinstance(value, (int, float)) and math.isfinite(value)


def number(value: float | None, unit: str = "g", *, fine: bool = False) -> str:
    """A number for people, without its unit; a missing one is a dash, never a zero.

    Grams below ten show a decimal; ``fine`` ones all do, as those that are stated.
    """
    if value is None or math.isnan(value):
        return "–"
    if math.isinf(value):
        return "no limit"
    if unit == "g" and (fine or abs(value) < 10) and round(value, 1) != round(value):
        return f"{value:,.1f}".replace("-", "−")
    return f"{round(value) + 0:,d}".replace("-", "−")


def stated_amount(value: float | None, column: str) -> str:
    """ "20.5 g": a number as a recipe states it, with its decimal."""
    return amount(value, column, fine=True)


def amount(value: float | None, column: str, *, fine: bool = False) -> str:
    """ "412 kcal", "9.5 g", "–"."""
    unit = unit_of(column)
    text = number(value, unit, fine=fine)
    return text if text in ("–", "no limit") else f"{text}\u00a0{unit}"


def grams(value: float | None) -> str:
    """Grams of a line: a decimal below ten."""
    text = number(value, "g")
    return text if text == "–" else f"{text}\u00a0g"


def percent(share: float | None) -> str:
    """ "43 %"; a small share is "under 1 %", a missing one a dash."""
    if share is None or math.isnan(share):
        return "–"
    if 0 < share < 0.01:
        return "under 1\u00a0%"
    if 0.99 < share < 1:
        return "over 99\u00a0%"
    return f"{100 * share:.0f}\u00a0%"


def sure(confidence: float | None, status: str) -> str:
    """How sure the food is, as a word beside the number."""
    if status == "unmatched" or confidence is None or math.isnan(confidence):
        return "not found"
    if status == "to review":
        return "please look"
    return "sure" if confidence >= 0.9 else "likely"


def listing(items: list[str], most: int = 3) -> str:
    """ "a, b and c"; more than ``most`` are counted."""
    if len(items) > most:
        items = [*items[:most], f"{len(items) - most} more"]
    return " and ".join(filter(None, [", ".join(items[:-1]), *items[-1:]]))


def upper_first(text: str) -> str:
    """The text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def plural(n: int, one: str, many: str = "") -> str:
    """ "1 recipe", "3 recipes"."""
    return f"{n:,d} {one if n == 1 else many or one + 's'}"


def titled(row: Mapping[str, Any]) -> str:
    """A recipe's title, with what its numbers are for where that is no serving."""
    title = str(row["title"] or row["recipe_id"])
    return f"{title} ({per})" if (per := per_other(row.get("basis"))) else title


def per_other(basis: object) -> str:
    """ "per 100 g", "for the whole recipe"; "" for numbers per serving."""
    return "" if basis == "per_serving" else PER.get(str(basis), "")


def unlikely(verdict: str, first: Mapping[str, Any] | None) -> bool:
    """Whether the likeliest slip of a recipe is none to name: its lines leave room without one."""
    return (
        verdict == "uncertain" and first is not None and first.get("kind") != "habit"
        and known(first.get("probability")) and first["probability"] < LEAST_LIKELY
    )  # fmt: skip


def servings_word(servings: float, word: str = "") -> str:
    """ "1 serving", "4 servings", "2.5 servings", "12 squares"."""
    if word and word not in ("serving", "servings"):
        return f"{servings:g} {word}"
    return f"{servings:g} serving{'' if servings == 1 else 's'}"


def difference_sentence(column: str, stated: float, computed: float) -> str:
    """The difference in words: "38 kcal (8 %) below the sum", "4.2 times the sum"."""
    if not (known(stated) and known(computed)):
        return ""
    off = stated - computed
    if abs(off) < (0.5 if unit_of(column) != "g" else 0.05):
        return "the same as the sum"
    if computed > 0 and stated >= 2.5 * computed:
        return f"{stated / computed:.1f} times the sum"
    share = f" ({percent(abs(off) / computed)})" if computed > 0 else ""
    return f"{amount(abs(off), column)}{share} {'above' if off > 0 else 'below'} the sum"
