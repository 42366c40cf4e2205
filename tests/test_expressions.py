"""Expressions that are read compiled are those that the library compiles."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from re import _compiler  # type: ignore[attr-defined]
from typing import Any

import pytest

from pipeline import expressions, kept
from pipeline.expressions import LEAST_LETTERS, kept_expressions
from pipeline.intake import patterns
from pipeline.intake.numbers import NUMBER
from pipeline.resources import column_of

LONG = "x" * LEAST_LETTERS
WRITTEN: list[tuple[Any, int]] = [
    (rf"(?P<first>{NUMBER})\s*(?:to|-)\s*(?P<last>{NUMBER})", re.IGNORECASE),
    (rf"(?<![^\W\d_])(?i:kcal|{LONG})(?=\d)|[½⅓–]+|[^\u2300-\U0010ffff]", 0),
    (rf"(?x) a  b # {LONG}", re.MULTILINE | re.DOTALL),
    (b"<meta[^>]{0,200}charset\\s*=" + LONG.encode(), re.IGNORECASE),
    (rf"(a)(?P<b>c)?(?(b)d|e)\1{LONG}++", re.ASCII),
]


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("STEELYARD_HOME", str(tmp_path))
    return tmp_path


@contextmanager
def counted(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Any]]:
    """The expressions that the library itself compiles meanwhile."""
    made: list[Any] = []
    plain = _compiler.compile
    with monkeypatch.context() as patch:
        patch.setattr(_compiler, "compile", lambda e, f=0: made.append(e) or plain(e, f))
        yield made


def afresh(written: list[tuple[Any, int]]) -> list[Any]:
    """Compiled or read within a command, by a library that has forgotten them."""
    re.purge()
    with kept_expressions():
        return [from_the_program(*one) for one in written]


#: ``re.compile`` as a module of the program calls it.
from_the_program = eval("lambda e, f: re.compile(e, f)", {"re": re, "__name__": "pipeline.some"})


def test_they_are_compiled_once_and_equal(monkeypatch: pytest.MonkeyPatch) -> None:
    names = column_of("card_phrases.csv", "name", "pattern")
    card = [(patterns._filled(name), int(re.IGNORECASE)) for name in names]
    every = WRITTEN + [one for one in card if len(one[0]) >= LEAST_LETTERS]
    plain = [re.compile(*one) for one in every]
    with counted(monkeypatch) as made:
        assert afresh(every) == plain  # patterns are equal when their compiled forms are
        assert {e for e, _ in every} <= set(made)
        made.clear()
        again = afresh(every)
        assert again == plain
        assert {e for e, _ in every}.isdisjoint(made)
    for one, other in zip(again, plain, strict=True):
        assert (one.groupindex, one.flags) == (other.groupindex, other.flags)
    assert again[0].search("2 – 3 to 4½ g")["last"] == "4½"


def test_nothing_is_left_behind() -> None:
    before = _compiler.compile
    with kept_expressions():
        assert _compiler.compile is not before
    assert _compiler.compile is before


def test_short_ones_and_other_flags_are_not_kept(home: Path) -> None:
    afresh([("short", 0), (b"(?L)" + LONG.encode(), 0)])
    (path,) = [*home.glob("expressions-*.bin")] or [None]
    assert path is None or not (kept.read(path) or {})["compiled"]


def test_those_of_libraries_are_not_kept(home: Path) -> None:
    with kept_expressions():
        re.compile(f"a library's {LONG}")
    assert not [*home.glob("expressions-*.bin")]


def test_what_the_engine_refuses_is_compiled(home: Path) -> None:
    afresh(WRITTEN)
    (path,) = home.glob("expressions-*.bin")
    body = kept.read(path) or {}
    broken = {k: (f, b"\x01\0\0\0" * 9, *rest) for k, (f, _, *rest) in body["compiled"].items()}
    kept.save(path, {"compiled": broken})
    assert afresh(WRITTEN) == [re.compile(*one) for one in WRITTEN]


def test_another_python_has_a_file_of_its_own(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    afresh(WRITTEN)
    first = set(home.iterdir())
    monkeypatch.setattr(sys, "version", "3.99.0")
    afresh(WRITTEN)
    assert set(home.iterdir()).isdisjoint(first)


def test_too_many_are_forgotten(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(expressions, "MOST", 3)
    afresh(WRITTEN[:3])
    afresh(WRITTEN[2:5])
    (path,) = home.glob("expressions-*.bin")
    assert [*(kept.read(path) or {})["compiled"]] == [(e, int(f)) for e, f in WRITTEN[2:5]]


def test_a_library_without_these_parts_compiles_as_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(_compiler, "MAGIC")
    assert afresh(WRITTEN[:1]) == [re.compile(*WRITTEN[0])]
