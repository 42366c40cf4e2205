"""Refit what the text decoder goes by: ``python benchmarks/fit_text.py FOLDER...``.

Structured perceptron over explanations of whole texts, averaged and drawn back to the weights set by
hand: the explanation that is right of those liked best is preferred to the one that is wrong of them.
Texts: folders of strangers with truth (``folders.py``), the invented files of ``tests/intake``, and
texts made by a grammar of layouts (``text_layouts.py``). Prints, for the weights set by hand and for
those fitted, what each author's texts give when that author was left out, and
``shared/text_weights.csv`` fitted on all; writes it only with ``--write``.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from spoken import stems
from text_layouts import half, make_file

from pipeline.intake import reading
from pipeline.intake.facts_line import find_facts, yield_line
from pipeline.intake.files import SourceFile
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text import card, decoder, features, markdown, plain_lines
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.clauses import Span, clauses_of
from pipeline.intake.text.decoder import Step, Style
from pipeline.intake.text.features import Scores, title_parts, weights

ROOT = Path(__file__).parent.parent
TABLE = ROOT / "shared" / "text_weights.csv"
_ROUNDS, _STEP, _BACK = 6, 0.02, 0.02
_HOPE, _MARGIN = 4.0, 1.0
_KCAL_OF_KJ = 1 / 4.184
_TITLES = ("title", "titled")


def _letters(text: str) -> tuple[str, list[int]]:
    at = [i for i, c in enumerate(text) if c.isalnum()]
    return "".join(text[i].lower() for i in at), at


class Gold:
    """Where the lines, titles and numbers of true recipes stand in a text."""

    def __init__(self, lines: Sequence[CardLine], recipes: Sequence[dict[str, Any]]) -> None:
        self.items: list[tuple[int, int, int, int]] = []  # line, start, end, recipe
        self.titles: dict[int, int] = {}  # line → recipe
        flat = [_letters(line.text) for line in lines]
        first: dict[int, int] = {}
        taken: set[tuple[int, int]] = set()
        for no, recipe in enumerate(recipes):
            for item in recipe["lines"]:
                found = self._find(flat, _letters(item["text"])[0], taken, first.get(no, 0))
                if found:
                    at, start, end = found
                    taken.add((at, start))
                    self.items.append((at, start, end, no))
                    first.setdefault(no, at)
        self.order = sorted(first, key=lambda no: first[no])
        above = 0
        for no in self.order:
            wanted = stems(recipes[no]["title"])
            near = range(above, first[no] + 1)
            best = max(near, key=lambda at: (len(wanted & stems(lines[at].text)), at), default=None)
            if best is not None and wanted & stems(lines[best].text):
                self.titles[best] = no
            above = max((a for a, _, _, r in self.items if r == no), default=above)
        self.begins = {no: at for at, no in self.titles.items()} | {
            no: first[no] for no in self.order if no not in self.titles.values()
        }

    @staticmethod
    def _find(
        flat: Sequence[tuple[str, list[int]]], wanted: str, taken: set[tuple[int, int]], begin: int
    ) -> tuple[int, int, int] | None:
        for at in (*range(begin, len(flat)), *range(begin)):
            text, places = flat[at]
            where = text.find(wanted) if len(wanted) > 2 else -1
            while where >= 0:
                start, end = places[where], places[where + len(wanted) - 1] + 1
                if (at, start) not in taken:
                    return at, start, end
                where = text.find(wanted, where + 1)
        return None

    def recipe_at(self, line: int) -> int | None:
        """The recipe that a line belongs to by its place."""
        here = [no for no in self.order if self.begins[no] <= line]
        return max(here, key=lambda no: self.begins[no], default=None)


@dataclass(slots=True)
class Example:
    """A text with its spans, and how right each reading of each span is."""

    author: str
    name: str
    scores: Scores
    right: list[dict[str, float]]
    of_what: list[dict[str, tuple[str, float]]]
    total: Counter[str] = field(default_factory=Counter)


def _judged(
    gold: Gold, recipes: Sequence[dict[str, Any]], scores: Scores, span: Span, label: str
) -> tuple[float, tuple[str, float]]:
    """How right a label of a span is, and what it counts as found or as too many."""
    clause = scores.clauses[span.first]
    at, start, end = clause.at, clause.start, scores.clauses[span.last].end
    no = gold.recipe_at(at)
    if label in _TITLES:
        true = gold.titles.get(at)
        if true is None or not stems(title_parts(span.text)[0]) & stems(recipes[true]["title"]):
            return -2.0, ("title", -1.0)
        return 2.0, ("title", 1.0)
    inside = [(a, b) for line, a, b, _ in gold.items if line == at and a < end and b > start]
    if label in ("item", "bare"):
        if not inside:
            return (-0.1 if label == "bare" else -0.3), ("item", -1.0)
        whole = len(inside) == 1 and start <= inside[0][0] and end >= inside[0][1]
        beyond = whole and start < inside[0][0]  # "Sauce: 30 g butter"
        good = 0.3 if beyond else 1.0
        return (good, ("item", 1.0)) if whole else (-0.5 * len(inside), ("item", -1.0))
    lost = -0.5 * len(inside)
    if label == "numbers":
        stated = recipes[no]["stated"] if no is not None else {}
        wanted = [v * (_KCAL_OF_KJ if name == "kj" else 1) for name, v in stated.items()]
        found = read_stated_line(span.text).found
        good = sum(any(abs(f.amount - v) <= 0.01 * v + 0.05 for v in wanted) for f in found)
        wrong = sum(f.tag == "ENERC_KCAL" for f in found) if not good else 0
        return lost + good - 0.7 * wrong, ("number", float(good))
    if label in ("yield", "count"):
        told = yield_line(span.text) or next(iter(find_facts(span.text).yields), span.text)
        told_is = read_yield(told).servings
        right = no is not None and told_is == float(recipes[no].get("servings") or 0)
        return lost + (1.0 if right else -0.5), ("servings", float(right))
    return lost, ("", 0.0)


def example(
    author: str, name: str, lines: Sequence[CardLine], recipes: Sequence[dict[str, Any]]
) -> Example:
    """A text made ready; spans are scored anew in each round."""
    clauses = clauses_of(lines)
    scores = Scores(clauses)
    gold = Gold(lines, recipes)
    right, what = [], []
    for span, labels in zip(scores.spans, scores.features, strict=True):
        judged = {label: _judged(gold, recipes, scores, span, label) for label in labels}
        right.append({label: j[0] for label, j in judged.items()})
        what.append({label: j[1] for label, j in judged.items()})
    out = Example(author, name, scores, right, what)
    out.total.update(item=len(gold.items), title=len(gold.titles),
                     number=sum(len(r["stated"]) for r in recipes),
                     servings=sum(bool(r.get("servings")) for r in recipes))  # fmt: skip
    return out


def examples(folders: Sequence[Path], count: int) -> Iterator[Example]:
    """Every labelled text, by its author."""
    for folder in folders:
        truth = json.loads((folder.parent / f"{folder.name}-TRUTH.json").read_text("utf-8"))
        for path in sorted(p for p in folder.rglob("*") if p.is_file()):
            inside = str(path.relative_to(folder))
            of_file = [r for r in truth["recipes"] if r["file"] == inside]
            for lines in texts_of(path):
                one = example(folder.name, inside, lines, of_file)
                if one.total["item"] or not of_file:  # its recipes stand in this text
                    yield one
    tests = yaml.safe_load((ROOT / "tests/intake/test_intake_decoder.yaml").read_text("utf-8"))
    for name, one in tests["files"].items():
        if one["file"].endswith((".txt", ".md")):
            recipes = [
                {"title": r["title"], "servings": r.get("servings"),
                 "lines": [{"text": t} for t in r["lines"]],
                 "stated": dict(enumerate(r["kcal"]))} for r in one["recipes"]
            ]  # fmt: skip
            yield example("tests", name, lines_of(one["file"], one["text"]), recipes)
    with tempfile.TemporaryDirectory() as place:
        for at in range(count):
            drawn = make_file(f"layouts-{at}", half(held=False), f"f{at}", Path(place))
            printed: list[dict[str, Any]] = [
                {"title": r.title,
                 "servings": r.servings * (r.many if "{m}" in layout["numbers_basis"][1] else 1),
                 "lines": [{"text": text} for text in r.lines],
                 "stated": {tag: value for tag, value, _ in r.numbers}}
                for r, layout in zip(drawn.recipes, drawn.layouts, strict=True)
            ]  # fmt: skip
            for file in Path(place).glob(f"f{at}.*"):
                for lines in texts_of(file):
                    yield example("made", file.name, lines, printed)


def lines_of(name: str, text: str) -> list[CardLine]:
    """Lines as the readers of cards and of Markdown make them."""
    if name.endswith(".md") or name.startswith("markdown"):
        return markdown._body_lines(text, 1)
    return plain_lines.card_lines(text)


def texts_of(path: Path) -> list[list[CardLine]]:
    """The lines of every text that reading a file hands to the reader of cards."""
    kept: list[list[CardLine]] = []
    real = card.parted_columns  # type: ignore[attr-defined]

    def keep(lines: Sequence[CardLine]) -> list[CardLine]:
        kept.append(real(lines))
        return kept[-1]

    card.parted_columns = keep  # type: ignore[attr-defined]
    try:
        reading.read_file(SourceFile(path, path.name, named=True))
    finally:
        card.parted_columns = real  # type: ignore[attr-defined]
    return [max(kept, key=len)] if kept else []


def put(table: dict[tuple[str, str], float]) -> None:
    """Put weights in force."""
    for (label, name), weight in table.items():
        weights().setdefault(label, {})[name] = weight
    decoder._steps.cache_clear()
    decoder.closes.cache_clear()


def scored(one: Example, right: float = 0.0) -> None:
    """Score the spans of a text, with so much for each right reading."""
    for features_of, of, good in zip(one.scores.features, one.scores.of, one.right, strict=True):
        of.clear()
        for label, own in features_of.items():
            score = features.score(label, own)
            if score > features._LEAST or label not in ("item", "bare", *_TITLES):
                of[label] = score + right * good[label]


def counted(one: Example) -> tuple[Counter[str], float]:
    """What is found of a text, and how right that is."""
    scored(one)
    path, _ = decoder.explained(one.scores)
    out: Counter[str] = Counter()
    right, begun = 0.0, False
    for _, label, span in path:
        begun = begun or label in _TITLES
        if not begun:
            continue
        kind, much = one.of_what[span][label]
        right += one.right[span][label]
        if kind:
            out[kind if much > 0 else f"{kind} wrong"] += int(abs(much))
    return out, right


def _right(one: Example, path: Sequence[Step]) -> float:
    return sum(one.right[span][label] for _, label, span in path)


def fit(
    given: Sequence[Example], prior: dict[tuple[str, str], float], rng: random.Random
) -> dict[tuple[str, str], float]:
    """Weights by label and feature, fitted on texts."""
    now, total, steps = dict(prior), dict.fromkeys(prior, 0.0), 0
    share = {a: 1 / n for a, n in Counter(e.author for e in given).items()}
    most = max(share.values())
    for _ in range(_ROUNDS):
        for one in rng.sample(list(given), len(given)):
            put(now)
            scored(one)
            _, style = decoder.explained(one.scores)
            hope, fear = (_liked(one, by, style) for by in (_HOPE, -_MARGIN))
            if _right(one, hope) > _right(one, fear) + 1e-9:
                up = _features_of(one.scores, hope, style)
                down = _features_of(one.scores, fear, style)
                size = max(1.0, len(one.scores.clauses) / 20)
                pace = _STEP * (share[one.author] / most) ** 0.5 / size**0.5
                for key in up.keys() | down.keys():
                    if key[0] != "words":
                        now[key] = now.get(key, 0.0) + pace * (up.get(key, 0) - down.get(key, 0))
            for key in now:
                back = _BACK / len(given)
                now[key] += back * (prior.get(key, 0.0) - now[key])
                total[key] = total.get(key, 0.0) + now[key]
            steps += 1
    return {key: value / steps for key, value in total.items()}


def _features_of(
    scores: Scores, path: Sequence[Step], style: Style
) -> dict[tuple[str, str], float]:
    """(label, feature) → how much of it a path has: its score is their weighted sum."""
    total: dict[tuple[str, str], float] = {}

    def add(label: str, own: features.Features) -> None:
        for name, much in own.items():
            total[label, name] = total.get((label, name), 0.0) + much

    state = decoder.State()
    for step in path:
        title = step.label in _TITLES
        clause = scores.clauses[scores.spans[step.span].first]
        moved = decoder._steps(step.state, step.label, bool(clause.mark), clause.blank)
        assert moved is not None
        if title:
            add("end", decoder._ending(step.state))
            add("title", {"style": decoder._shared(scores, step.span, style)})
        if title or step.state.items >= 0:
            add(step.label, scores.features[step.span].get(step.label, {}))
        add("step", moved[1])
        if step.label == "numbers":
            add("step", decoder._in_order(step.state, style))
        state = moved[0]
    add("end", decoder._ending(state))
    return total


def _liked(one: Example, right: float, style: Style) -> list[Step]:
    scored(one, right)
    return decoder.best_path(one.scores, style)


def row(name: str, given: Sequence[Example]) -> str:
    """Counts of some texts in a line."""
    found: Counter[str] = Counter()
    of: Counter[str] = Counter()
    right = 0.0
    for one in given:
        counts, good = counted(one)
        found += counts
        of += one.total
        right += good
    parts = [f"{k} {found[k]} of {of[k]}" + (f" ({n} wrong)" if (n := found[f"{k} wrong"]) else "")
             for k in ("title", "item", "number", "servings")]  # fmt: skip
    return f"{name:28} right {right:7.1f}  " + ", ".join(parts)


def read_table(column: str = "by_hand") -> dict[tuple[str, str], float]:
    """Weights set by hand, or those in force."""
    with TABLE.open(encoding="utf-8") as handle:
        return {(r["label"], r["feature"]): float(r[column]) for r in csv.DictReader(handle)}


def write_table(fitted: dict[tuple[str, str], float]) -> None:
    """The table anew, in its order, with features that the fit has found behind."""
    prior = read_table()
    keys = [*prior, *sorted(k for k in fitted.keys() - prior.keys() if abs(fitted[k]) >= 0.05)]
    with TABLE.open("w", encoding="utf-8", newline="") as handle:
        out = csv.writer(handle, lineterminator="\n")
        out.writerow(("label", "feature", "by_hand", "weight"))
        for key in keys:
            out.writerow(
                (*key, f"{prior.get(key, 0):g}", f"{fitted.get(key, prior.get(key, 0)):.3g}")
            )


def main() -> None:
    """Print what the weights give, and write them where that is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--made", type=int, default=150)
    parser.add_argument("--write", action="store_true")
    parser.add_argument(
        "--on",
        action="store_true",
        help="go on from the weights in force, for want of the texts behind them",
    )
    args = parser.parse_args()
    given = list(examples(args.folders, args.made))
    prior = read_table("weight" if args.on else "by_hand")
    authors = [] if args.on else sorted({one.author for one in given})
    for author in authors:
        held = [one for one in given if one.author == author]
        put(prior)
        print(row(f"{author}, by hand", held), flush=True)
        fitted = fit([o for o in given if o.author != author], prior, random.Random(author))
        put(dict.fromkeys(prior, 0.0) | fitted)
        print(row(f"{author}, left out", held), flush=True)
        put(dict.fromkeys(fitted, 0.0) | prior)
    fitted = fit(given, prior, random.Random("all"))
    put(fitted)
    print(row("all, in-sample", given))
    for key in sorted(fitted, key=lambda k: -abs(fitted[k] - prior.get(k, 0)))[:40]:
        print(*key, f"{prior.get(key, 0):g} -> {fitted[key]:.2f}", sep="\t")
    if args.write:
        write_table(fitted)


if __name__ == "__main__":
    main()
