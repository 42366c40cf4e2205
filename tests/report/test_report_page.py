"""report.html as a document: self-contained, escaped, named parts, the right words."""

from __future__ import annotations

import base64
import hashlib
import posixpath
import re
from collections.abc import Callable
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from pipeline.problems import Problem
from pipeline.report import words
from pipeline.report.html import hide_energy
from pipeline.report.page import render_all
from pipeline.report.todo import alternative, open_energy, to_do
from pipeline.report.view import view
from pipeline.run import Result

EVIL = "<img src=x onerror=alert(1)>\"'</script><script>alert(2)</script>{{7*7}}&amp;"


class Page(HTMLParser):
    """Elements with their attributes, ids, and the text of scripts."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self._script = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._script = tag == "script"

    def handle_data(self, data: str) -> None:
        if self._script:
            self.scripts.append(data)
            self._script = False

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [a for t, a in self.elements if t == tag]


def render(result):
    """The overview."""
    return dict(render_all(result))["report.html"]


@pytest.fixture
def page(collection: Result) -> Page:
    return Page(render(collection))


@pytest.fixture
def every(collection: Result) -> dict[str, Page]:
    """The overview and the page of each recipe, by their names."""
    return {name: Page(text) for name, text in render_all(collection)}


def test_nothing_is_fetched(every: dict[str, Page]) -> None:
    assert len(every) == 5
    for name, page in every.items():
        for tag, attributes in page.elements:
            for kind in ("src", "data", "poster", "action", "srcset"):
                assert attributes.get(kind) is None, (name, tag, kind)
            assert not [n for n in attributes if n.startswith("on")], (tag, attributes)
        for tag in ("link", "iframe", "img", "form"):
            assert not page.all(tag)


def test_the_policy_allows_the_one_script_by_its_hash(every: dict[str, Page]) -> None:
    for page in every.values():
        policy = next(m["content"] for m in page.all("meta") if m.get("http-equiv"))
        assert policy is not None
        assert len(page.scripts) == 1
        digest = base64.b64encode(hashlib.sha256(page.scripts[0].encode()).digest()).decode()
        assert f"script-src 'sha256-{digest}'" in policy
        assert policy.startswith("default-src 'none'")
        assert "'unsafe-eval'" not in policy


def test_hostile_text_stays_text(make: Callable[..., Result]) -> None:
    spec = [("a", EVIL, EVIL, "disagrees",
             {"kcal": (900.0, 300.0, 290.0, 310.0, 30.0, "disagrees")})]  # fmt: skip
    result = make(
        spec,
        texts={"a": [EVIL, "javascript:alert(3)"]},
        problems=[Problem(EVIL, EVIL, EVIL, EVIL, source=EVIL, recipe_id="a", text=EVIL)],
        explanations=[("a", 1, EVIL, 1, 0.9, EVIL, 1.0, 1.0, 1.0, 1.0, 1.0, "per_serving")],
    )
    for frame in ("claims", "corrected", "checks"):
        table = getattr(result, frame)
        setattr(result, frame, table.assign(**{c: EVIL for c in table.columns if c != "recipe_id"}))
    result.to_review = result.to_review.assign(why=EVIL, text=EVIL, description=EVIL)
    shown = dict(render_all(result, pages={EVIL: "creators/a"}, creator=EVIL))
    assert len(shown) == 2
    for name, html in shown.items():
        assert re.fullmatch(r"report\.html|pages/[a-z0-9-]+\.html", name)
        found = Page(html)
        assert len(found.scripts) == 1
        assert not found.all("img")
        assert "<script>alert" not in html
        assert "49" not in re.findall(r"onerror=alert\(1\).{0,120}", html)[0]
        assert html.count("&lt;img src=x onerror=alert(1)&gt;") > 9


def test_every_id_is_there_once_and_every_link_leads_to_one(every: dict[str, Page]) -> None:
    ids = {name: [a["id"] for _, a in page.elements if a.get("id")] for name, page in every.items()}
    for name, page in every.items():
        assert len(ids[name]) == len(set(ids[name]))
        for attributes in page.all("a"):
            file, _, anchor = (attributes["href"] or "").partition("#")
            there = (
                posixpath.normpath(posixpath.join(posixpath.dirname(name), file)) if file else name
            )
            assert there in every, attributes
            assert not anchor or anchor in ids[there], attributes
        for _, attributes in page.elements:
            assert not attributes.get("data-copy") or attributes["data-copy"] in ids[name]


@pytest.mark.parametrize("which", ["report.html", "pages/ferry-lentil-dal.html"])
def test_landmarks_headings_tables_and_pictures_have_names(
    every: dict[str, Page], which: str
) -> None:
    page = every[which]
    tags = [t for t, _ in page.elements]
    assert [tags.count(t) for t in ("main", "footer", "h1")] == [1, 1, 1]
    assert page.all("html")[0]["lang"] == "en"
    assert page.all("a")[0]["href"] == "#main"  # the skip link comes first
    levels = [int(t[1]) for t in tags if re.fullmatch(r"h[1-6]", t)]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    for attributes in page.all("th"):
        assert attributes.get("scope") in ("col", "row")
    named = [a for a in page.all("table") if a.get("aria-labelledby") or a.get("aria-label")]
    assert tags.count("table") == tags.count("caption") + len(named)
    for _, attributes in page.elements:
        if attributes.get("role") == "img":
            assert attributes.get("aria-label")
    for attributes in page.all("svg"):
        assert attributes.get("aria-hidden") == "true"


def test_the_page_says_what_was_found(collection: Result) -> None:
    html = "".join(text for _, text in render_all(collection))
    text = " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())
    assert "1 of 4 recipes states numbers its ingredients do not add up to" in text
    assert "kilojoules" in text
    assert "full of fibre" in text
    assert "not decidable" in text
    assert "A food table (28)" in text
    assert "the amount can be read two ways" in text
    for topic, statement in words.CAUTIONS:
        assert topic in text
        assert " ".join(statement.split()) in text


def test_pictures_say_in_words_what_they_show(collection: Result) -> None:
    shown = view(collection)
    dal = next(r for r in shown.recipes if r.recipe_id == "dal")
    energy = dal.gauges[0]
    alt = energy.alt.replace("\u00a0", " ")
    assert alt == (
        "Energy, per serving: stated 1,800 kcal; the lines add up to 430 kcal; likely between 405"
        " and 455 kcal; allowed from 1,740 to 1,860 kcal. Disagrees."
    )
    assert energy.stated is not None
    assert energy.computed is not None
    assert energy.range is not None
    assert energy.band is not None
    assert 0 <= energy.computed < energy.stated <= 100
    assert energy.band[0] < energy.stated < energy.band[0] + energy.band[1]
    assert energy.range[0] < energy.computed < energy.range[0] + energy.range[1]


@pytest.mark.parametrize(
    ("numbers", "shown"),
    [
        (
            (0.0, 0.0, 0.0, 0.0, 2.0),
            "Stated the same as the sum; the sum is likely between 0 and 0 g; allowed from 0 to 2 g",
        ),
        (
            (5.0, 0.0, 0.0, 0.0, 2.0),
            "Stated 5 g above the sum; the sum is likely between 0 and 0 g; allowed from 3 to 7 g",
        ),
        (
            (10.0, 20.0, 18.0, 22.0, 2.0),
            "Stated 10 g (50 %) below the sum; the sum is likely between 18 and 22 g; allowed from 8 to 12 g",
        ),
        (
            (50.0, 20.0, 18.0, 22.0, 2.0),
            "Stated 2.5 times the sum; the sum is likely between 18 and 22 g; allowed from 48 to 52 g",
        ),
        ((5.0, float("nan"), float("nan"), float("nan"), float("nan")), ""),
    ],
)
def test_odd_numbers_find_their_place_on_the_beam(
    make: Callable[..., Result], numbers: tuple[float, ...], shown: str
) -> None:
    spec = [("a", "A", "", "agrees", {"protein_g": (*numbers, "agrees")})]
    gauge = view(make(spec)).recipes[0].gauges[0]
    assert gauge.in_words.replace("\u00a0", " ") == shown
    for place in (gauge.stated, gauge.computed):
        assert place is None or 0 <= place <= 100


def test_a_one_sided_rule_is_drawn_on_one_side(make: Callable[..., Result]) -> None:
    inf = float("inf")
    spec = [("a", "A", "", "agrees", {"kcal": (500.0, 400.0, 390.0, 410.0, inf, "agrees")})]
    gauge = view(make(spec, profile="us")).recipes[0].gauges[0]
    assert gauge.band is None
    assert "allowed any difference to this side" in gauge.in_words


def test_one_recipe_and_none_at_all(make: Callable[..., Result]) -> None:
    assert "No recipe was found" in render(make([]))
    spec = [("a", "A", "", "agrees", {"kcal": (300.0, 305.0, 290.0, 320.0, 35.0, "agrees")})]
    assert "The recipe states what its ingredients add up to" in render(make(spec))


@pytest.mark.parametrize(
    ("counts", "headline"),
    [
        ((0, 0, 5, 0), "All 5 recipes that could be judged state what their ingredients add up to"),
        ((3, 1, 5, 0), "3 of 9 recipes state numbers their ingredients do not add up to"),
        ((0, 2, 5, 1), "No recipe disagrees with its ingredients; 2 of 8 stay open"),
        ((0, 0, 0, 4), "No recipe could be judged"),
        ((0, 0, 5, 1, 2), "No recipe waits for an answer: 2 accepted, 5 of 8 agree"),
        ((1, 0, 5, 1, 2), "1 of 9 recipes states numbers its ingredients do not add up to"),
    ],
)
def test_the_headline(counts: tuple[int, ...], headline: str) -> None:
    from pipeline.report.view import headline as told

    names = ("disagrees", "uncertain", "agrees", "not_judged", "accepted")
    assert told(dict.fromkeys(names, 0) | dict(zip(names, counts, strict=False))) == headline


def test_amounts_of_energy_in_sentences_can_be_hidden() -> None:
    hidden = hide_energy("gives 1,987 kJ & 475 kcal, 5 g protein; 100 kcalm")
    assert str(hidden) == (
        'gives <span class="e">1,987 kJ</span> &amp; <span class="e">475 kcal</span>, 5 g protein;'
        " 100 kcalm"
    )


def test_the_same_result_gives_the_same_page(
    collection: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert render(collection) == render(collection)
    assert "1970-01-01" in render(collection)


def contrast(a: str, b: str) -> float:
    """WCAG 2.2 contrast ratio of two #rrggbb colours."""

    def light(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    low, high = sorted((light(a), light(b)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_reaches_aa_in_light_dark_and_on_paper() -> None:
    """4.5:1 for text: WCAG 2.2, success criterion 1.4.3. Black on white is 21:1 by definition."""
    from pipeline.report.html import asset

    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    css = asset("base.css") + asset("report.css")
    blocks = re.findall(r":root \{(.*?)\}", css, flags=re.DOTALL)
    assert len(blocks) == 3
    base = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", blocks[0]))
    for block in blocks:
        p = {**base, **dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))}
        for name in ("ink", "muted", "link", "brass", "agrees", "uncertain", "disagrees",
                     "unjudged"):  # fmt: skip
            for under in ("page", "panel", "sunk"):
                assert contrast(p[name], p[under]) >= 4.5, (name, under)
        for name in ("agrees", "uncertain", "disagrees", "unjudged"):
            assert contrast(p[name], p[f"{name}-soft"]) >= 4.5, name


def test_the_view_knows_every_verdict(collection: Result) -> None:
    from pipeline.tables import VERDICTS

    shown = view(collection)
    assert set(words.VERDICT) == {*VERDICTS, "accepted"}
    assert {e.verdict for e in shown.index} == set(VERDICTS)


# --- what to do now ------------------------------------------------------------------------------


def groups(result: Result) -> dict[str, object]:
    titles = dict(zip(result.recipes["recipe_id"], result.recipes["title"], strict=True))
    return {g.kind: g for g in to_do(result, titles, {"dal": "pages/dal.html"})}


def test_each_recipe_that_disagrees_is_one_thing_to_fix(collection: Result) -> None:
    fix = groups(collection)["fix"]
    assert fix.headline == "Fix the numbers of 1 recipe"
    assert fix.command == "steelyard verify /collection --write-corrected fixed"
    (task,) = fix.tasks
    assert (task.title, task.href) == ("Ferry lentil dal", "pages/dal.html")
    name, stated, should, column = task.numbers[0]
    assert (name, stated.replace("\u00a0", " "), should, column) == (
        "Energy", "1,800 kcal", "430 kcal", "kcal",
    )  # fmt: skip
    assert task.copy == "Per serving: 430 kcal, P 12 g, C 54 g, F 9 g"
    assert task.why == "kilojoules stated as kilocalories"
    assert "write kJ" in task.other


def test_the_line_that_a_slip_is_about_is_named(collection: Result) -> None:
    of_dal = collection.explanations["recipe_id"] == "dal"
    collection.explanations.loc[of_dal, "kind"] = "line_doubled"
    collection.explanations.loc[of_dal, "line_no"] = 1
    (task,) = groups(collection)["fix"].tasks
    assert task.why.startswith("line 1 “")


def test_numbers_of_100_g_say_so(collection: Result) -> None:
    collection.findings = collection.findings.assign(basis="per_100g")
    (task,) = groups(collection)["fix"].tasks
    assert task.numbers[0][0] == "Energy per 100 g"


def test_an_uncertain_recipe_is_one_thing_to_weigh(collection: Result) -> None:
    (task,) = groups(collection)["weigh"].tasks
    assert task.title == "Signal box slaw"
    assert task.subject == "200 g lentils"
    assert "150 to 250" in task.why
    assert task.copy.startswith("steelyard review /collection --line ")


def test_what_could_not_be_read_is_to_be_mended(collection: Result) -> None:
    correct = groups(collection)["correct"]
    assert [t.subject for t in correct.tasks] == ["x.bin"]
    assert correct.tasks[0].other == "remove it"


def test_lines_come_by_the_energy_that_is_open_and_trivial_ones_last(
    make: Callable[..., Result],
) -> None:
    spec = [
        (
            f"r{n}",
            f"Recipe {n}",
            "",
            "not_judged",
            {"kcal": (300.0, 250.0, 200.0, 300.0, 30.0, "not_judged")},
        )
        for n in range(3)
    ]
    result = make(spec, texts={f"r{n}": [f"{n} handful kelp"] for n in range(3)}, explanations=[])
    result.doubt = result.doubt.assign(share=[0.04, 0.9, 0.0])
    is_open = open_energy(result).set_index(["recipe_id", "line_no"])["open_kcal"]
    assert is_open["r1", 1] > is_open["r0", 1] > is_open["r2", 1] == 0
    answer = groups(result)["answer"]
    assert [t.subject for t in answer.tasks] == ["1 handful kelp", "0 handful kelp"]
    assert answer.trivial == 1
    assert [r["text"] for r in view(result).review] == [
        "1 handful kelp",
        "0 handful kelp",
        "2 handful kelp",
    ]


def test_a_line_owns_no_more_than_it_brings(collection: Result) -> None:
    lines = collection.lines.set_index(["recipe_id", "line_no"])["kcal"]
    rows = open_energy(collection)
    assert len(rows)
    for recipe_id, line_no, kcal in zip(
        rows["recipe_id"], rows["line_no"], rows["open_kcal"], strict=True
    ):
        place = (recipe_id, line_no)
        assert kcal <= lines[place] or lines[place] != lines[place]


LINE = {"line_no": 4, "text": "4 tbsp butter", "grams": 57.0, "kcal": 409.0, "fat_g": 46.0,
        "description": "Rice, white, cooked"}  # fmt: skip
OFF = [{"nutrient": "fat_g", "stated": 10.4, "computed": 15.6, "basis": "per_serving"}]


@pytest.mark.parametrize(
    ("kind", "line", "said"),
    [
        ("unit_slip", LINE, "if you really used about 18 g, fix line 4"),
        ("line_left_out", LINE, "if it is not in the dish, take line 4 out"),
        ("line_doubled", LINE, "if you used it twice (114 g), fix line 4"),
        ("raw_cooked_slip", LINE, "if you weighed it raw, say so on line 4"),
        ("product_variant", LINE, "if you used another product, name it on line 4"),
        (
            "habit", LINE,
            "if that is what yours weighs or holds, answer once for all its recipes on the review page",
        ),
        ("kilojoules_as_kcal", None, "if kilojoules are meant, write kJ behind the number"),
        ("macros_swapped", None, ""),
        ("a kind of tomorrow", LINE, "if you really used about 18 g, fix line 4"),
        ("a kind of tomorrow", None, ""),
    ],
)  # fmt: skip
def test_the_line_may_be_wrong_instead(kind: str, line: dict | None, said: str) -> None:
    # 57 g - 5.2 g fat x 6 servings / (46 g fat / 57 g) = 18.3 g
    assert alternative({"kind": kind, "line_no": 4}, line, OFF, 6.0, 2700.0) == said


def test_the_servings_may_be_wrong_instead() -> None:
    energy = [{"nutrient": "kcal", "stated": 130.0, "computed": 97.0, "basis": "per_serving"}]
    said = alternative({"kind": "servings_slip"}, None, energy, 16.0, 16 * 97.0)
    assert said == "if it makes 12, change the servings"


def test_an_accepted_difference_is_no_task_and_says_why(make: Callable[..., Result]) -> None:
    result = make()
    result.recipes["accepted"] = ["", "we like it so (2026-01-02)", "", ""]
    assert "fix" not in groups(result)
    shown = dict(render_all(result))
    assert "we like it so (2026-01-02)" in shown["report.html"]
    assert "No recipe disagrees with its ingredients" in shown["report.html"]
    page = shown["pages/ferry-lentil-dal.html"]
    assert "asked again when the numbers change" in page
    assert "What to do</h2>" not in page
