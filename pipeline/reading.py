"""From line texts to LINE_RESULT: parse, match and weigh, once per distinct text, as tables.

The run, a part of a large one and the review page read lines by these functions. ``read_table`` is
all that looks at words; after it stand joins: what was read of a text comes back to every line that
says it, and lines that name another recipe of the collection come to mean that recipe.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import duckdb
import pandas as pd

from pipeline.foods.title_words import key_of, title_key
from pipeline.intake.model import UNREADABLE
from pipeline.kept import without_collecting
from pipeline.lines import parse_many, split_lines
from pipeline.lines.model import ParsedLine
from pipeline.match import load_index, matched_frames
from pipeline.match.model import Match
from pipeline.match.titles import DISH_UNITS, counting_word, portion_of, refers
from pipeline.memory import Decisions, Pantry
from pipeline.problems import Problem, is_of_the_input, line_problem
from pipeline.progress import Progress
from pipeline.progress import no_progress as no_progress
from pipeline.resources import sql
from pipeline.settings import Settings
from pipeline.tables import LINE_RESULT, PART, WEIGHED, Table

if TYPE_CHECKING:
    from pipeline.intake import Collection
    from pipeline.match.matcher import Matcher
    from pipeline.snapshot import Snapshot
    from pipeline.weigh import Weigher
    from pipeline.weigh.weight import Weight


@dataclass(slots=True)
class Tools:
    """What is loaded once and used for every line: the stages' own state.

    ``problems`` are those of answers that cannot be used with these tables.
    """

    snapshot: Snapshot
    matcher: Matcher
    weigher: Weigher
    pantry: Pantry
    decisions: Decisions
    problems: list[Problem] = field(default_factory=list)

    def answer(self, decisions: Decisions) -> None:
        """Obey other answers, but for the foods that no table and no pantry has."""
        usable, self.problems = decisions.with_foods(
            lambda food_id: self.matcher.describe(food_id) is not None
        )
        self.decisions = self.matcher.decisions = usable


@dataclass(slots=True)
class Read:
    """One distinct line text after parse, match and weigh; ``parts``: the foods it holds, read."""

    parsed: ParsedLine
    match: Match
    weight: Weight
    parts: tuple[Read, ...] = ()


def load_tools(
    snapshot: Snapshot,
    *,
    pantry: Pantry | None = None,
    decisions: Decisions | None = None,
    settings: Settings | None = None,
) -> Tools:
    """Load index, tables and memory for matching and weighing."""
    from pipeline.match.matcher import Matcher
    from pipeline.weigh import Weigher

    pantry = pantry or Pantry()
    decisions = decisions or Decisions()
    with snapshot.connect() as con:
        index = load_index(con, snapshot.folder)
    matcher = Matcher(index, pantry=pantry)
    spoons = (settings or Settings()).spoons
    tools = Tools(
        snapshot, matcher, Weigher(snapshot, pantry=pantry, spoons=spoons), pantry, decisions
    )
    tools.answer(decisions)
    return tools


def read_lines(texts: Sequence[str], tools: Tools) -> list[Read]:
    """Parse, match and weigh distinct line texts, in order.

    A text on which a stage fails, or that stands for something unreadable, is a food that is
    not known: it costs itself alone. One that holds several foods has the sum of their grams and no
    food of its own, unless a person has decided that it means one.
    """
    wanted = [text for text in texts if not text.startswith(UNREADABLE)]
    try:
        read = _read_lines(wanted, tools)
    except Exception as fault:
        if not is_of_the_input(fault):
            raise
        read = [_read_one(text, tools) for text in wanted]
    if len(wanted) == len(texts):
        return read
    known = {one.parsed.text: one for one in read}
    return [known.get(text) or _not_read(text, "it could not be read", ()) for text in texts]


def _read_lines(texts: Sequence[str], tools: Tools) -> list[Read]:
    from pipeline.doubts import asked, parts_in, read_otherwise, slips_in_work

    parsed = slips_in_work(parse_many(list(texts)), tools.matcher)
    matches = tools.matcher.match(parsed)  # all at once, before ``parts_in`` asks line by line
    held = {
        line.text: parts
        for line in parsed
        if (parts := parts_in(line, tools.matcher))
        and not decided_whole(line.text, tools.decisions)
    }
    known = {line.text for line in parsed}
    more = dict.fromkeys(p for parts in held.values() for p in parts if p not in known)
    of_parts = parse_many(more)
    parsed, matches = parsed + of_parts, matches + tools.matcher.match(of_parts)
    parsed, matches = read_otherwise(parsed, matches, tools)
    weights = tools.weigher.weigh(parsed, matches)
    if len(tools.decisions):
        decisions = tools.decisions
        weights = [_decided_weight(p, w, decisions) for p, w in zip(parsed, weights, strict=True)]
    read = [
        Read(p, asked(p, m, weight, tools.matcher), weight)
        for p, m, weight in zip(parsed, matches, map(_possible, weights), strict=True)
    ]
    if held:
        by_text = {r.parsed.text: r for r in read}
        read = [
            _summed(r, [by_text[p] for p in held[r.parsed.text]]) if r.parsed.text in held else r
            for r in read
        ]
    return read[: len(texts)]


def decided_whole(text: str, decisions: Decisions) -> bool:
    """Whether a person has said what the whole line means, so that it is not split.

    Grams alone do not: they would all go to one of its foods.
    """
    decision = decisions.find(text) if len(decisions) else None
    return decision is not None and bool(decision.food_id)


def _summed(whole: Read, parts: list[Read]) -> Read:
    """A line of several foods: no food of its own, the grams of all of them together."""
    weights = [part.weight for part in parts]
    grams = [w.grams for w in weights if w.grams is not None]
    told = f"{len(parts)} foods on one line, each counted by itself: " + "; ".join(
        f'"{part.parsed.text}"' for part in parts
    )
    match = replace(
        whole.match, food_id=None, description="", confidence=0.0, status="unmatched",
        origin="none", reason=told, runners_up=(), names_food=False, reference_id=None,
    )  # fmt: skip
    weight = replace(
        whole.weight, grams=sum(grams) if grams else None,
        low=sum(w.low or 0.0 for w in weights) if grams else None,
        high=sum(w.high or 0.0 for w in weights) if grams else None,
        basis="parts", reason="the sum of its foods", problems=(),
    )  # fmt: skip
    return Read(whole.parsed, match, weight, tuple(parts))


def _read_one(text: str, tools: Tools) -> Read:
    """One text alone, on which a stage may fail."""
    try:
        return _read_lines([text], tools)[0]
    except Exception as fault:
        if not is_of_the_input(fault):
            raise
        return _not_read(text, f"{type(fault).__name__}: {str(fault)[:100]}", ("line-unreadable",))


def _not_read(text: str, why: str, codes: tuple[str, ...]) -> Read:
    from pipeline.weigh.weight import Weight

    return Read(
        ParsedLine(text, "food", problems=codes),
        Match(text, None, "", 0.0, "unmatched", "none", why),
        Weight(None, None, None, "none", why),
    )


#: A line of a recipe weighs no more, in grams: ten tonnes.
MOST_GRAMS = 1e7


def _possible(weight: Weight) -> Weight:
    """The same, or unweighed when no line can weigh so much: a sum would drown in it."""
    if weight.grams is None or (weight.grams <= MOST_GRAMS and (weight.high or 0.0) <= MOST_GRAMS):
        return weight
    said = f"{weight.grams:g} g is more than any line can mean"
    return replace(
        weight, grams=None, low=None, high=None, basis="none", reason=said,
        problems=(*weight.problems, "amount-not-a-number"),
    )  # fmt: skip


def _decided_weight(parsed: ParsedLine, weight: Weight, decisions: Decisions) -> Weight:
    decision = decisions.find(parsed.text)
    if decision is None or decision.grams is None:
        return weight
    grams = decision.grams
    return replace(
        weight, grams=grams, low=grams, high=grams, basis="decision",
        reason=f"{grams:g} g decided by a person",
    )  # fmt: skip


# --- texts as a table -----------------------------------------------------------------------------

#: Distinct lines read between two reports of progress.
CHUNK = 20_000

#: What a text says beside MATCHED and WEIGHED: codes of what could not be settled, and what decides
#: whether it names a recipe (``sql/read_uses.sql``).
SAID = Table(
    codes="varchar", name_key="varchar", dish="boolean", said_unit="varchar", said_amount="double",
    said_piece="varchar", said="varchar", known="boolean",
)  # fmt: skip
_WEIGHTS = WEIGHED.only(
    "text", "grams", "grams_low", "grams_high", "basis", "weigh_reason", "unit", "amount"
)


def read_table(
    texts: Sequence[str], tools: Tools
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """What is known of distinct texts, before it is known where they stand.

    Returns:
        One row per text: MATCHED, WEIGHED and SAID; RUNNER_UP; and PART.
    """
    with without_collecting():  # what is let go of before it ends is never looked at
        return _as_tables(read_lines(texts, tools))


def _as_tables(read: Sequence[Read]) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """What ``read_table`` gives of texts that are read."""
    matched, runners = matched_frames([r.match for r in read])
    refer = refers([r.parsed.text for r in read])
    said = SAID.frame(map(_said, read, refer))
    columns = [matched, weighed_frame(read).drop(columns="text"), said]
    parts = PART.frame(
        (r.parsed.text, no, part.parsed.text)
        for r in read for no, part in enumerate(r.parts, start=1)
    )  # fmt: skip
    return pd.concat(columns, axis=1), runners, parts


def weighed_frame(read: Sequence[Read]) -> pd.DataFrame:
    """What WEIGHED says of each distinct text, the food apart."""
    return _WEIGHTS.frame(
        (r.parsed.text, w.grams, w.low, w.high, w.basis, w.reason, w.unit, w.amount)
        for r in read for w in (r.weight,)
    )  # fmt: skip


_STUMBLED = ("line-unreadable",)


def codes_of(read: Read) -> tuple[str, ...]:
    """Codes of what parse, match and weigh could not settle on a line."""
    parsed, match, weight = read.parsed, read.match, read.weight
    codes = parsed.problems + weight.problems
    if not parsed.name and (codes == _STUMBLED or parsed.text.startswith(UNREADABLE)):
        return codes  # what cannot be read is reported where it was met
    if match.names_food and parsed.kind == "food":
        if match.food_id is None:
            codes += ("food-unknown",)
        if weight.grams is None and weight.basis == "none":
            codes += ("grams-unknown",)
    return tuple(dict.fromkeys(codes)) if codes else codes


def _said(read: Read, pointed: str) -> tuple[str, str, bool, str, float, str, str, bool]:
    """Codes of a text, and what decides whether it names a recipe; see ``match.titles``."""
    parsed, match, codes = read.parsed, read.match, " ".join(codes_of(read))
    if parsed.kind != "food" or not parsed.name or read.parts or (
        match.origin in ("decision", "pantry")
    ):  # fmt: skip
        return codes, "", False, "", float("nan"), "", "", True
    unit, amount, dish, piece = "whole", 1.0, False, ""
    if measures := parsed.measures:
        first = next(  # "half the sauce (about 830 g)": of a pot whose cooked weight nobody knows
            (m for kind in ("share", "mass") for m in measures if m.kind == kind), measures[0]
        )
        unit, amount = first.unit, first.amount
        dish = not DISH_UNITS.isdisjoint([m.unit for m in measures])
        piece = counting_word(parsed)
    certain = match.food_id is not None and match.status == "accepted"
    known = certain or bool(parsed.alternatives)
    key = " ".join(key_of(parsed.name))
    pointed = "recipe" if dish and pointed != "share" else pointed
    return codes, key, dish, unit, amount, piece, pointed, known


# --- lines ------------------------------------------------------------------------------------------


def parts_as_read(texts: Iterable[str], tools: Tools) -> dict[str, tuple[str, ...]]:
    """The text of each food of those texts that hold several and are not decided as a whole."""
    from pipeline.doubts import parts_in

    with without_collecting():
        return {
            line.text: parts
            for line in parse_many(texts)
            if (parts := parts_in(line, tools.matcher))
            and not decided_whole(line.text, tools.decisions)
        }


def read_all(
    collection: Collection, tools: Tools, progress: Progress = no_progress
) -> tuple[pd.DataFrame, pd.DataFrame, list[Problem]]:
    """LINE_RESULT, RUNNER_UP and problems of all lines; each distinct text is read once."""
    texts = dict.fromkeys(collection.line["text"].tolist())
    matched, runners, parts = _in_chunks(list(texts), tools, progress)
    more = [text for text in parts["part"].unique() if text not in texts]
    if more:
        found = _in_chunks(more, tools, progress)
        matched, runners = (
            pd.concat(both, ignore_index=True)
            for both in zip((matched, runners), found, strict=False)
        )
    held: dict[str, list[str]] = {}
    for text, part in zip(parts["text"].tolist(), parts["part"].tolist(), strict=True):
        held.setdefault(text, []).append(part)
    line = split_lines(collection.line.astype({"text": object}), held)
    recipe = collection.recipe
    joined = line.merge(matched, on="text", how="left")
    joined = with_uses(joined, recipe, _uses(line, recipe, matched), tools.weigher.spoons)
    return (
        joined.loc[:, [*LINE_RESULT, "part_of"]], runners, line_problems(joined, recipe)
    )  # fmt: skip


def _in_chunks(texts: list[str], tools: Tools, progress: Progress) -> list[pd.DataFrame]:
    """The tables of ``read_table`` for however many texts."""
    read = []
    for start in range(0, max(len(texts), 1), CHUNK):
        read.append(read_table(texts[start : start + CHUNK], tools))
        progress("reading lines", min(start + CHUNK, len(texts)), len(texts))
    return [pd.concat(tables, ignore_index=True) for tables in zip(*read, strict=True)]


def title_keys(titles: pd.Series) -> list[str]:
    """Words of each title that decide whether a line names it."""
    return [" ".join(title_key(title)) for title in titles.fillna("").tolist()]


def _uses(line: pd.DataFrame, recipe: pd.DataFrame, matched: pd.DataFrame) -> pd.DataFrame:
    """Rows of ``find_uses`` for tables in memory."""
    if len(recipe) < 2 or not (matched["name_key"] != "").any():
        return pd.DataFrame(columns=USE)
    titled = recipe[["recipe_id", "creator", "source", "servings"]].assign(
        title_key=title_keys(recipe["title"]), portion=recipe["serving_word"].map(portion_of)
    )
    with duckdb.connect() as con:
        con.execute("set threads = 1")
        con.register("line", line[["recipe_id", "line_no", "section", "text"]])
        con.register("recipe", titled)
        con.register("matched", matched[["text", *SAID]])
        uses: pd.DataFrame = find_uses(con).df()
        return uses


#: recipe_id and line_no of a line that names a recipe, that recipe, and how much of it is said.
USE = ["key", "line_no", "used_key", "unit", "amount"]


def find_uses(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyRelation:
    """USE: lines that name another recipe of the collection.

    Args:
        con: holds ``line``, ``recipe`` and ``matched`` as ``sql/read_uses.sql`` wants them.
    """
    return con.sql(sql("read_uses"))


def with_uses(
    line: pd.DataFrame, recipe: pd.DataFrame, uses: pd.DataFrame, spoons: str
) -> pd.DataFrame:
    """Lines weighed by the measures their recipe defines, those of ``uses`` as the recipes they name.

    Args:
        line: lines joined with ``read_table``.
        recipe: RECIPE, those named among them.
        uses: USE.
        spoons: system of cups and spoons.
    """
    from pipeline.weigh.page_units import with_own_units

    line = with_own_units(line, recipe, spoons)
    if uses.empty:
        return line
    keys = list(zip(line["recipe_id"].tolist(), line["line_no"].tolist(), strict=True))
    at = dict(zip(keys, line.index.tolist(), strict=True))
    titles = dict(zip(recipe["recipe_id"].tolist(), recipe["title"].tolist(), strict=True))
    changes = {
        at[key, line_no]: recipe_cells(used, titles[used], unit, amount)
        for key, line_no, used, unit, amount in zip(*(uses[c].tolist() for c in USE), strict=True)
        if (key, line_no) in at and used in titles
    }
    told = line["basis"] == "mass"  # a weight on the line stays, its food is another
    for row in changes.keys() & {*line.index[told]}:
        for column in ("grams", "grams_low", "grams_high"):
            changes[row][column] = line.at[row, column]
    return with_cells(line, changes)


def line_problems(line: pd.DataFrame, recipe: pd.DataFrame) -> list[Problem]:
    """What parse, match and weigh could not settle, once per line it happens on.

    Args:
        line: of ``with_uses``.
        recipe: RECIPE; lines of others are passed over.
    """
    sources = dict(zip(recipe["recipe_id"].tolist(), recipe["source"].tolist(), strict=True))
    shown = ("codes", "recipe_id", "text", "reason", "weigh_reason", "source_line", "line_no")
    return [
        line_problem(
            code, text, reason or "", weigh_reason or "", source=sources[recipe_id],
            source_line=None if pd.isna(source_line) else int(source_line),
            recipe_id=recipe_id, line_no=int(line_no),
        )
        for codes, recipe_id, text, reason, weigh_reason, source_line, line_no in zip(
            *(line[c].tolist() for c in shown), strict=True
        )
        if codes and isinstance(codes, str) and recipe_id in sources
        for code in codes.split(" ")
    ]  # fmt: skip


def recipe_cells(recipe_id: str, title: str, unit: str, amount: float) -> dict[str, Any]:
    """What LINE_RESULT holds on a line that means another recipe."""
    return {
        "food_id": f"recipe:{recipe_id}",
        "description": title,
        "confidence": 0.98,
        "status": "accepted",
        "origin": "recipe",
        "reason": f'"{title}" is a recipe of this collection',
        "names_food": True,
        "basis": "recipe",
        "grams": float("nan"),
        "grams_low": float("nan"),
        "grams_high": float("nan"),
        "weigh_reason": "counted as a share of that recipe",
        "unit": unit,
        "amount": amount,
        "codes": "",
    }


def with_cells(frame: pd.DataFrame, changes: dict[int, dict[str, Any]]) -> pd.DataFrame:
    """A copy of ``frame`` with some rows' cells replaced, by index."""
    changed = pd.DataFrame.from_dict(changes, orient="index")
    frame = frame.copy(deep=False)  # the columns that change are made again, the others shared
    rows = frame.index.get_indexer(changed.index)
    for column in changed.columns:
        cells = frame[column].copy()
        cells.iloc[rows] = changed[column].to_numpy()
        frame[column] = cells
    return frame
