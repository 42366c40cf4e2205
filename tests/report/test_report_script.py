"""A script under its marks: every word once, links never in links, overlaps and shared lines."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from examples import examples
from growth import cpu_seconds, growth
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.collect import script_frames
from pipeline.problems import Problem, problems_frame
from pipeline.report import write
from pipeline.report.creators import only
from pipeline.report.page import render_all
from pipeline.report.script import Mark, ScriptView, fold_alike, script_view, short_time, summary
from pipeline.report.words import SCRIPT_KIND
from pipeline.run import Result
from pipeline.tables import SCRIPT_MARK, SCRIPT_MARK_KINDS

TEXT = (
    "morning crew the galley is open\nfirst the harbour dal two hundred grams of red lentils\n"
    "and a tin of tomatoes on that warm plate\nso that comes to four hundred calories\n\n"
    "same base again for the slaw with a spoon of mayo"
)
NAN = math.nan


def render(result):
    """The overview."""
    return dict(render_all(result))["report.html"]


def row(words: str, kind: str, recipe: str = "", line: int | None = None, s: float = NAN,
        note: str = "") -> dict[str, Any]:  # fmt: skip
    start = TEXT.index(words)
    values = ("talk.srt", start, start + len(words), kind, recipe, line, s, s + 2, note)
    return dict(zip(SCRIPT_MARK, values, strict=True))


MARKS = [
    row("harbour dal", "title", "dal", s=4.0),
    row("two hundred grams of red lentils", "ingredient", "dal", 1, 5.0),
    row("two hundred grams", "amount", "dal", 1, 5.0),
    row("a tin of tomatoes", "ingredient", "dal", 2, 8.0),
    row("plate", "left_out", note="a plate is no food"),
    row("four hundred calories", "total", "dal", s=12.0),
    row("same base again", "reference", "slaw", 1, 20.0, "the lines of Harbour dal"),
    row("a spoon of mayo", "ingredient", "slaw", 2, 3725.0),
]


def shown(marks: list[dict[str, Any]], text: str = TEXT, **more: Any) -> ScriptView:
    def link(mark: Mark) -> str:
        return f"#{mark.key}" if more.get("every") or mark.targets else ""

    return script_view(
        "talk.srt", text, marks, {"dal": "Dal", "slaw": "Slaw"}, {}, link, lambda r: f"#{r}",
        handles=more.get("handles", False),
    )  # fmt: skip


def said(view: ScriptView) -> str:
    return "".join(t.text for p in view.paragraphs for t in p.tokens)


def test_the_kinds_are_those_of_the_table() -> None:
    assert set(SCRIPT_KIND) == set(SCRIPT_MARK_KINDS)


def test_every_character_stands_once_and_paragraphs_say_where_they_begin() -> None:
    view = shown(MARKS)
    assert said(view) == TEXT
    at = 0
    for paragraph in view.paragraphs:
        assert paragraph.start == at
        at += sum(len(t.text) for t in paragraph.tokens)
    assert [p.recipe for p in view.paragraphs if p.recipe] == [("Dal", "#dal"), ("Slaw", "#slaw")]
    assert [p.time for p in view.paragraphs] == ["", "00:04", "00:20"]


def test_an_amount_lies_in_its_ingredient_and_the_outer_one_is_the_link() -> None:
    view = shown(MARKS)
    nodes = [t.node for p in view.paragraphs for t in p.tokens if t.node]
    outer = next(n for n in nodes if n.mark.kind == "ingredient")
    assert [n.mark.kind for n in outer.inside] == ["amount"]
    assert outer.href
    assert not outer.inside[0].href


def test_counts_and_words() -> None:
    view = shown(MARKS)
    counts = {kind: count for kind, _, _, count in view.counts}
    assert counts["ingredient"] == 3
    assert counts["left_out"] == 1
    assert "base" not in counts
    assert view.words == len(TEXT.split())
    understood = [m for m in MARKS if m["kind"] not in ("amount", "left_out")]
    marked = sum(len(TEXT[m["start"] : m["end"]].split()) for m in understood)
    assert view.marked_share == pytest.approx(marked / view.words)
    assert "1 stretch left out" in summary(view)


def test_a_base_with_lines_in_it_leads_nowhere_but_they_do() -> None:
    base = row("two hundred grams of red lentils\nand a tin of tomatoes", "base", "dal")
    view = shown([base, *MARKS])
    nodes = {t.node.mark.kind: t.node for p in view.paragraphs for t in p.tokens if t.node}
    assert not nodes["base"].href
    assert nodes["ingredient"].href
    view = shown([base, *MARKS], handles=True)
    nodes = {t.node.mark.kind: t.node for p in view.paragraphs for t in p.tokens if t.node}
    assert nodes["base"].handle
    assert nodes["base"].href


def test_a_line_of_several_recipes_is_one_mark() -> None:
    more = row("a tin of tomatoes", "ingredient", "slaw", 3, 8.0)
    view = shown([*MARKS, more])
    (mark,) = [m for m in view.marks if TEXT[m.start : m.end] == "a tin of tomatoes"]
    assert [(t.recipe_id, t.line_no) for t in mark.targets] == [("dal", 2), ("slaw", 3)]


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "00:00"), (192.9, "03:12"), (3792.0, "1:03:12"), (NAN, "")]
)
def test_times(seconds: float, text: str) -> None:
    assert short_time(seconds) == text


class Links(HTMLParser):
    """Checks nesting as a browser would: every mark closes, no link in a link; gathers the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text = ""
        self.ids: list[str] = []
        self.inside = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "p" and "data-at" in given:
            self.inside += 1
        if tag in ("mark", "a", "p"):
            assert not (tag == "a" and "a" in self.open)
            self.open.append(tag)
        if tag == "mark" and given.get("id"):
            self.ids.append(str(given["id"]))

    def handle_endtag(self, tag: str) -> None:
        if tag in ("mark", "a", "p"):
            assert self.open.pop() == tag
            if tag == "p" and self.inside:
                self.inside -= 1

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.text += data


def laid_out(view: ScriptView) -> Links:
    from pipeline.report.html import templates

    html = templates().from_string(
        '{% from "script.html.j2" import legend, script_text, reasons %}'
        "{{ legend(s) }}{{ script_text(s, 'm') }}{{ reasons(s, 'm') }}"
    )
    parser = Links()
    parser.feed(html.render(s=view))
    assert parser.open == []
    return parser


@settings(max_examples=examples(60), deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(-5, 220), st.integers(-5, 260), st.sampled_from([*SCRIPT_KIND, "novel"]),
            st.sampled_from(["", "dal", "slaw"]), st.sampled_from([None, 1, 2, 3]),
        ),
        max_size=25,
    ),
    st.booleans(),
)  # fmt: skip
def test_whatever_the_marks_are_the_words_stay(
    drawn: list[tuple[int, int, str, str, int | None]], handles: bool
) -> None:
    """Overlapping, nested, touching, empty, outside, unknown: the text is whole, links are apart."""
    rows = [dict(zip(SCRIPT_MARK, ("t", a, b, k, r, n, NAN, NAN, ""), strict=True))
            for a, b, k, r, n in drawn]  # fmt: skip
    view = shown(rows, handles=handles, every=True)
    assert said(view) == TEXT
    got = laid_out(view)
    if not handles:
        assert got.text == TEXT
    kept = {f"m-{m.number}" for m in view.marks}
    assert sorted(got.ids) == sorted(kept)


def test_hostile_words_are_text() -> None:
    text = 'add <script>alert(1)</script> & "quotes" to the pot'
    mark = dict(zip(SCRIPT_MARK, ("t", 4, 29, "left_out", "", None, NAN, NAN, "<b>why</b>"),
                    strict=True))  # fmt: skip
    assert laid_out(shown([mark], text)).text == text


@pytest.mark.soak
def test_a_long_script_stays_usable() -> None:
    """20,000 words with a mark every eight: linear work, and less than 20 bytes of markup a word."""

    def marked(lines: int) -> tuple[list[dict[str, Any]], str]:
        text = "\n".join(f"and word number {n} of it then" for n in range(lines))
        spans = (found.span() for found in re.finditer(r"number \d+", text))
        return [dict(zip(SCRIPT_MARK, ("t", *span, "ingredient", "dal", n, n * 1.0, NAN, ""), strict=True))
                for n, span in enumerate(spans)], text  # fmt: skip

    def seconds(lines: int) -> float:
        rows, text = marked(lines)
        return cpu_seconds(lambda: laid_out(shown(rows, text)))

    rows, text = marked(3400)
    view = shown(rows, text)
    assert laid_out(view).text == text
    assert growth(seconds, 850, within=6) <= 6
    assert max(sum(len(t.text) for t in p.tokens) for p in view.paragraphs) < 2500


# --- on the page ----------------------------------------------------------------------------------


@pytest.fixture
def spoken(make: Callable[..., Result]) -> Result:
    """The four recipes of the fixture, two of them with a script."""
    texts = {"dal": ["200 g red lentils", "1 tin tomatoes"], "slaw": ["as before", "1 tbsp mayo"]}
    collection = make(texts=texts)
    rows = [tuple(r.values()) for r in MARKS]
    scripts, marks = script_frames([("talk.srt", TEXT)], rows)
    return replace(
        collection, collection=replace(collection.collection, scripts=scripts, script_marks=marks)
    )


def test_marks_and_lines_lead_to_one_another(spoken: Result) -> None:
    pages = dict(render_all(spoken))
    page = pages["report.html"]
    targets = set(re.findall(r'\bid="([^"]+)"', page))
    part = page[page.index('id="scripts"') : page.index('id="how-to-read"')]
    assert set(re.findall(r'href="#([^"]+)"', part)) <= targets
    marks = re.findall(
        r'<mark class="k-ingredient"[^>]*id="(s-1-\d+)"[^>]*><a href="(pages/[\w-]+\.html)#(l\d+)"',
        part,
    )
    assert len(marks) == 3
    for mark, file, line in marks:
        line_row = pages[file][pages[file].index(f'id="{line}"') :]
        assert f'href="../report.html#{mark}"' in line_row[: line_row.index("</tr>")]
    page = "".join(pages.values())
    assert "said at 00:05" in page
    assert "a plate is no food" in part
    assert 'class="k-left_out"' in part


def test_a_report_without_scripts_says_nothing_of_them(collection: Result) -> None:
    page = render(collection)
    assert 'id="scripts"' not in page
    assert "k-ingredient" not in page


def test_marks_of_recipes_that_have_no_section_lead_nowhere(spoken: Result) -> None:
    page = render(only(spoken, {"slaw"}))
    assert 'id="scripts"' in page
    part = page[page.index('id="scripts"') :]
    assert "two hundred grams of red lentils" in re.sub(r"<[^>]+>", "", part)
    part = part[: part.index('id="how-to-read"')]
    assert len(re.findall(r'<mark class="k-ingredient"', part)) == 2
    assert 'id="scripts"' not in render(only(spoken, {"cake"}))


@pytest.mark.soak
def test_one_folder_a_creator_still_works(spoken: Result, tmp_path: Path) -> None:
    write(spoken, tmp_path, formats=["html"], by_creator=True)
    pages = list(tmp_path.rglob("report.html"))
    assert len(pages) > 1


def test_many_problems_of_one_kind_in_a_script_are_one_row(spoken: Result) -> None:
    many = [
        Problem("spoken-amount-unclear", f'"{n} g" belongs to no food', "it was left out",
                source="talk.srt", source_line=n, severity="warning")
        for n in range(1, 20)
    ]  # fmt: skip
    other = Problem("file-empty", "the file is empty", source="x.txt", severity="warning")
    bad = [Problem("torn", f"part {n} is torn", source="talk.srt") for n in range(4)]
    problems = problems_frame([*many, other, *bad])
    folded = fold_alike(problems, {"talk.srt"})
    assert folded["what"].tolist() == [
        '"1 g" belongs to no food, and 18 others like it', "the file is empty",
        *(b.what for b in bad),
    ]  # fmt: skip
    assert fold_alike(problems, set())["what"].tolist() == problems["what"].tolist()
    page = render(replace(spoken, problems=problems))
    assert page.count("belongs to no food") == 1
    assert '<a href="#s-1">See them in the script</a>' in page
    assert isinstance(folded, pd.DataFrame)
