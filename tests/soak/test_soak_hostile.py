"""Over two thousand generated hostile inputs at every door. Run by ``make soak``.

For each: nothing is raised but the fault that the door promises, it takes no longer than a bounded
time, and nothing is lost in silence: what was not touched is there, and what is not there is told.
The table of it is printed at the end.
"""

from __future__ import annotations

import hashlib
import http.client
import io
import json
import random
import shutil
import socket
import sys
import time
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from generated import (
    COUNT,
    NUMBERS,
    ODD,
    SEEDS,
    SPOIL,
    TALLY,
    TITLES,
    Dice,
    f32,
    number_texts,
    parquet,
    spoiled_bytes,
    spoiled_one,
)

from pipeline.intake.files import SourceFile
from pipeline.intake.reading import read_file, read_text
from pipeline.memory import load_decisions, load_pantry
from pipeline.problems import SteelyardError
from pipeline.reading import load_tools, read_lines
from pipeline.report import write
from pipeline.run import verify
from pipeline.settings import load_settings

pytestmark = pytest.mark.soak

#: Processor seconds that one input may take at the most; the machine may be busy, the CPU time not.
MOST_S = 5.0
#: Of them a release whose tables are whole enough to be built and checked.
BUILD_S = 60.0
GOOD = "Quay soup\nServes 2\n\n100 g rice\n10 g butter\n\nPer serving: 217 kcal\n"


def tried(
    door: str, kind: str, act: Callable[[], object], lost: Callable[[object], str] = lambda _: ""
) -> object:
    """Do one thing, and count what came of it; ``lost`` says in words what is missing untold."""
    began = time.process_time()
    try:
        found = act()
    except SteelyardError as fault:
        problem = fault.problem
        silent = not (problem.what and (problem.fix or problem.why))
        TALLY.add(door, kind, lost=silent, what=repr(problem))
        return None
    except Exception as fault:
        TALLY.add(door, kind, raised=True, what=f"{type(fault).__name__}: {str(fault)[:200]}")
        return None
    took = time.process_time() - began
    missing = lost(found)
    most = BUILD_S if door == "releases" else MOST_S
    TALLY.add(door, kind, hung=took > most, lost=bool(missing), what=missing or f"{took:.1f} s")
    return found


def nothing_bad(door: str) -> None:
    """No input of a door raised, hung, or lost anything in silence."""
    bad = [line for line in TALLY.worst if line.startswith(f"{door}, ")]
    assert not bad, "\n".join(bad[:20])


def file(folder: Path, name: str, data: bytes) -> SourceFile:
    path = folder / name
    path.write_bytes(data)
    return SourceFile(path, name, named=True)


def untold(read: object) -> str:
    """A file that gave no recipe has to say why."""
    if read.recipes or read.problems:  # type: ignore[attr-defined]
        return ""
    return "no recipe and no problem"


# --- files ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SEEDS)
def test_spoiled_files(name, tmp_path):
    text = SEEDS[name][0]
    found = len(read_text(text, name).recipes)
    assert 1 <= found <= COUNT if name.startswith("talk") else found == COUNT  # all say the same
    for n in range(70):
        dice = Dice(f"{name} {n}")
        kind = list(SPOIL)[n % len(SPOIL)]
        spoiled = SPOIL[kind](text, dice).encode("utf-8", "replace")
        tried("files", kind, lambda: read_file(file(tmp_path, name, spoiled)), untold)  # noqa: B023
    for n in range(25):
        spoiled = spoiled_bytes(text.encode(), Dice(f"bytes {name} {n}"))
        tried("files", "bytes spoiled", lambda: read_file(file(tmp_path, name, spoiled)), untold)  # noqa: B023
    nothing_bad("files")


@pytest.mark.parametrize("name", [name for name, (_, apart) in SEEDS.items() if apart])
def test_a_spoiled_recipe_leaves_the_others(name, tmp_path):
    for n in range(40):
        text, others = spoiled_one(name, Dice(f"one {name} {n}"))

        def missing(read: object, others: set[str] = others) -> str:
            found = {recipe.title for recipe in read.recipes}  # type: ignore[attr-defined]
            told = any(
                p.severity == "error"
                for p in [*read.problems, *(q for r in read.recipes for q in r.problems)]  # type: ignore[attr-defined]
            )
            gone = others - found
            return f"{sorted(gone)} of number {n} are gone" if gone and not told else ""  # noqa: B023

        tried(
            "files", "one recipe spoiled",
            lambda: read_file(file(tmp_path, name, text.encode("utf-8", "replace"))), missing,  # noqa: B023
        )  # fmt: skip
    nothing_bad("files")


def test_spoiled_files_through_the_whole_run(tmp_path, snapshot):
    tools = load_tools(snapshot)
    for batch in range(8):
        folder = tmp_path / str(batch)
        folder.mkdir()
        (folder / "good.txt").write_text(GOOD)
        for n in range(24):
            dice = Dice(f"run {batch} {n}")
            name = dice.choice(list(SEEDS))
            spoil = SPOIL[dice.choice(list(SPOIL))]
            (folder / f"{n}-{name}").write_text(
                spoil(SEEDS[name][0], dice), encoding="utf-8", errors="replace"
            )

        def run(folder: Path = folder) -> object:
            result = verify(folder, tools=tools)
            write(result, folder / "out", formats=["csv", "json", "html", "junit", "sarif"])
            return result

        def missing(result: object) -> str:
            row = result.recipes[result.recipes["source"] == "good.txt"]  # type: ignore[attr-defined]
            return "" if row["verdict"].tolist() == ["agrees"] else "the good card is not as it was"

        tried("files", "24 at once, read to report", run, missing)
    nothing_bad("files")


def test_sheets_and_parquet_spoiled(tmp_path):
    import openpyxl

    book = openpyxl.Workbook()
    for row in SEEDS["tidy.csv"][0].splitlines():
        book.active.append(row.split(","))
    book.save(tmp_path / "seed.xlsx")
    parquet(
        tmp_path / "seed.parquet", {"title": "Dish A", "servings": 2, "ingredients": "100 g rice"}
    )
    for ending in ("xlsx", "parquet"):
        data = (tmp_path / f"seed.{ending}").read_bytes()
        for n in range(60):
            spoiled = spoiled_bytes(data, Dice(f"{ending} {n}"))
            tried(
                "files", f"{ending} spoiled",
                lambda: read_file(file(tmp_path, f"a.{ending}", spoiled)), untold,  # noqa: B023
            )  # fmt: skip
    nothing_bad("files")


def test_numbers_of_every_size(tmp_path, snapshot):
    tools = load_tools(snapshot)
    fields = ("servings", "yield_g", "kcal", "protein_g", "sodium_mg", "basis", "ingredients")
    for at, name in enumerate(fields):
        folder = tmp_path / str(at)
        folder.mkdir()
        (folder / "good.txt").write_text(GOOD)
        for n, value in enumerate(NUMBERS):
            whole = {"title": f"Odd {n}", "servings": 2, "ingredients": "100 g rice", "kcal": 180}
            parquet(
                folder / f"{n}.parquet",
                {**whole, name: f32(float(value)) if n % 2 else float(value)},
            )
            own = {**whole, "ingredients": ["100 g rice"], name: value}
            (folder / f"{n}.json").write_text(json.dumps(own))

        def missing(result: object) -> str:
            row = result.recipes[result.recipes["source"] == "good.txt"]  # type: ignore[attr-defined]
            count = len(result.recipes)  # type: ignore[attr-defined]
            if row["verdict"].tolist() != ["agrees"]:
                return "the good card is not as it was"
            return "" if count == 1 + 2 * len(NUMBERS) else f"{count} recipes"

        def run(folder: Path = folder) -> object:
            result = verify(folder, tools=tools)
            write(result, folder / "out", formats=["csv", "html", "json"])
            return result

        tried("values", f"{name}: all at once", run, missing)
        for path in sorted(folder.glob("[0-9]*.*")):
            tried(
                "values", path.suffix[1:],
                lambda: read_file(SourceFile(path, path.name, True)), untold,  # noqa: B023
            )  # fmt: skip
    nothing_bad("values")


# --- the files people own -----------------------------------------------------------------------

PANTRY_HEAD = "food_name,aliases,serving_name,serving_g,kcal,protein_g,carbs_g,fat_g,fiber_g"
PANTRY = [f"Food {n},f{n},1 scoop,30,116,22,3,1.8,1.5" for n in range(6)]
DECISION_HEAD = "text,food_id,grams,applies_to,decided_on,note"
DECISIONS = [f"{n} figs,none,{n * 10},line,2026-01-0{n + 1},ok" for n in range(6)]


def own_rows(head: str, rows: list[str], kind: str, n: int) -> tuple[str, int]:
    """A small table with its third row spoiled, and the number of that row."""
    dice = Dice(f"{head} {kind} {n}")
    cells = rows[2].split(",")
    if kind == "a value of any size":
        cells[dice.randrange(2, len(cells))] = dice.choice(number_texts())
        bad = ",".join(cells)
    elif kind == "an odd text":
        cells[dice.randrange(len(cells))] = dice.choice(ODD)
        bad = ",".join(cells)
    else:
        bad = SPOIL[kind](rows[2], dice)
    return "\n".join([head, *rows[:2], bad, *rows[3:], ""]), 2


KINDS = ["a value of any size", "an odd text", "odd text put in", "characters lost", "cut short"]


def try_own_file(kind, path, head, rows, load, gone):
    """``gone``: what of the rows other than the spoiled one is not among what was read."""
    for n in range(60):
        text, at = own_rows(head, rows, kind, n)
        path.write_text(text, encoding="utf-8", errors="replace")

        def missing(found: object, at: int = at) -> str:
            read, problems = found  # type: ignore[misc]
            left = gone(read, [i for i in range(6) if i != at])
            told = any(p.severity == "error" for p in problems)
            return f"{left} are gone" if left and not told else ""

        tried(path.stem, kind, lambda: load(path), missing)
    nothing_bad(path.stem)


@pytest.mark.parametrize("kind", KINDS)
def test_pantries(kind, tmp_path):
    def gone(pantry, expected):
        names = {food.name for food in pantry.foods}
        return [f"Food {i}" for i in expected if f"Food {i}" not in names]

    try_own_file(kind, tmp_path / "pantry.csv", PANTRY_HEAD, PANTRY, load_pantry, gone)


def test_pantries_through_the_whole_run(tmp_path, snapshot):
    (tmp_path / "a.txt").write_text(GOOD)
    (tmp_path / "b.txt").write_text("Fig\nServes 1\n\n2 scoops food 2\n30 g f2\n1 f2\n\n100 kcal\n")
    for n in range(40):
        text, _ = own_rows(PANTRY_HEAD, PANTRY, KINDS[n % 2], 1000 + n)
        (tmp_path / "pantry.csv").write_text(text, encoding="utf-8", errors="replace")

        def missing(result: object) -> str:
            row = result.recipes[result.recipes["source"] == "a.txt"]  # type: ignore[attr-defined]
            return "" if row["verdict"].tolist() == ["agrees"] else "the good card is not as it was"

        tried("pantry", "read to verdict", lambda: verify(tmp_path, snapshot=snapshot), missing)
    nothing_bad("pantry")


@pytest.mark.parametrize("kind", KINDS)
def test_decisions(kind, tmp_path):
    def gone(answers, expected):
        return [i for i in expected if answers.find(f"{i} figs") is None]

    try_own_file(kind, tmp_path / "decisions.csv", DECISION_HEAD, DECISIONS, load_decisions, gone)


SETTINGS = 'profile = "eu"\npercent = 10.0\nspoons = "us"\npublish = "whole"\npantry = ""\ncreator = "A"\nfollow_links = false\n'


def test_settings(tmp_path):
    path = tmp_path / "steelyard.toml"
    for n in range(180):
        dice = Dice(f"settings {n}")
        kind = list(SPOIL)[n % len(SPOIL)]
        path.write_text(SPOIL[kind](SETTINGS, dice), encoding="utf-8", errors="replace")
        tried("settings", kind, lambda: load_settings(tmp_path))
    nothing_bad("settings")


# --- lines --------------------------------------------------------------------------------------


def test_lines(snapshot):
    tools = load_tools(snapshot)
    seeds = ["2 x 400 g tins chickpeas, drained", "1½ cups cooked brown rice", "juice of half a lemon",
             "100 g rice", "2 large eggs", "salt to taste", "1/2 tsp sugar"]  # fmt: skip
    for n in range(250):
        dice = Dice(f"line {n}")
        text = dice.choice([*SPOIL.values()])(dice.choice(seeds), dice).replace("\n", " ")

        def missing(found: object, text: str = text) -> str:
            (read,) = found  # type: ignore[misc]
            weight = read.weight
            if weight.grams is None:
                return (
                    "" if weight.reason or read.parsed.kind != "food" else "no grams and no reason"
                )
            return "" if 0 <= weight.low <= weight.grams <= weight.high <= 1e7 else repr(weight)

        tried("lines", "a spoiled line", lambda: read_lines([text], tools), missing)  # noqa: B023
    nothing_bad("lines")


# --- the data directory -------------------------------------------------------------------------


def test_files_of_the_data_directory(snapshot, tmp_path, monkeypatch):
    from pipeline.snapshot import home as homes
    from pipeline.snapshot import manage, open_snapshot

    pure = tmp_path / "pure"
    shutil.copytree(snapshot.folder.parents[1], pure)
    (first,) = homes.manifests(pure)
    other = "harbour-2020-00000000"
    shutil.copytree(
        homes.snapshots_dir(pure) / first.snapshot_id, homes.snapshots_dir(pure) / other
    )
    manifest = homes.snapshots_dir(pure) / other / "manifest.json"
    told = json.loads(manifest.read_text())
    manifest.write_text(
        json.dumps({**told, "snapshot_id": other, "kind": "refresh", "source": "harbour, sr28"})
    )
    built = replace(snapshot, just_built=True)
    monkeypatch.setattr(manage, "build_embedded", lambda *_, **__: built)
    names = ["current.json", "current.copy.json", "manifest.json", "snapshot.duckdb", "checks.json"]
    for n in range(180):
        dice = Dice(f"home {n}")
        home = tmp_path / "home"
        shutil.rmtree(home, ignore_errors=True)
        shutil.copytree(pure, home)
        live = dice.choice([first.snapshot_id, other])
        found = homes.manifest(home, live)
        assert found is not None
        homes.point_to(home, found)
        name = names[n % len(names)]
        path = (
            home / name if name.startswith("current") else homes.snapshots_dir(home) / live / name
        )
        if dice.random() < 0.2:
            path.unlink()
            if dice.random() < 0.3:
                path.mkdir()
        elif name.endswith("json") and dice.random() < 0.5:
            values = json.loads(path.read_text())
            key = dice.choice(list(values))
            values[key] = dice.choice([None, [], {}, 5, "", "x", True, "9" * 50, [[[]]]])
            path.write_text(json.dumps(values))
        else:
            path.write_bytes(spoiled_bytes(path.read_bytes(), dice))

        def missing(opened: object, live: str = live) -> str:
            if opened.snapshot_id == live and not opened.just_built:  # type: ignore[attr-defined]
                with opened.connect() as con:  # type: ignore[attr-defined]
                    con.execute("select count(*) from food").fetchall()
                return ""
            return "" if opened.notes else f"{opened.snapshot_id} in place of {live}"  # type: ignore[attr-defined]

        tried("data directory", name, lambda: open_snapshot(home), missing)  # noqa: B023
    nothing_bad("data directory")


# --- the page -----------------------------------------------------------------------------------


def test_requests_to_the_page(tmp_path, snapshot):
    sys.path.insert(0, str(Path(__file__).parents[1] / "web"))
    from conftest_of_the_page import lay_out, served

    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

    folder = lay_out(tmp_path / "cards")
    session = ReviewSession(ReviewState(folder, snapshot=snapshot))
    before = {p.name: p.read_bytes() for p in folder.iterdir() if p.suffix == ".txt"}
    with served(session) as page:
        for n in range(320):
            dice = Dice(f"http {n}")
            kind, raw = request(page, dice, n)
            tried("HTTP", kind, lambda: speak(page, raw), answered)  # noqa: B023
        assert page.get("/").status == 200
    session.close()
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.suffix == ".txt"} == before
    load_decisions(folder / "decisions.csv")
    nothing_bad("HTTP")


def request(page: object, dice: random.Random, n: int) -> tuple[str, bytes]:
    """One request as bytes, and its kind."""
    key = page.key  # type: ignore[attr-defined]
    kinds = ["odd path", "odd form", "odd header", "odd method", "spoiled bytes", "cut short"]
    kind = kinds[n % len(kinds)]
    line = hashlib.sha256(b"3 tbsp quark").hexdigest()[:16]
    odd = dice.choice(ODD)[:400].encode("utf-8", "replace").replace(b"\r", b"").replace(b"\n", b"")
    path = dice.choice(
        [b"/", b"/line/" + line.encode(), b"/recipe/0", b"/since/1", b"/undo", b"/script/1"]
    )
    method, body, more = b"GET", b"", b""
    if kind == "odd path":
        path += b"/" + odd.replace(b" ", b"%20") + b"?q=" + odd.replace(b" ", b"+")
    if kind == "odd form":
        method = b"POST"
        fields = [b"form_key=" + key.form_key.encode(), b"act=" + dice.choice([b"grams", b"food", b"weigh", odd]),
                  b"grams=" + odd, b"food=" + dice.choice([b"sr28:01012", b"none", odd]), b"scope=" + odd,
                  b"seen_line=" + odd]  # fmt: skip
        body = b"&".join(fields[: dice.randrange(1, len(fields) + 1)])
    if kind == "odd header":
        more = (
            dice.choice(
                [b"Cookie: " + odd, b"X-A: " + odd, b"HX-Request: " + odd, b"Accept: " + odd]
            )
            + b"\r\n"
        )
    if kind == "odd method":
        method = dice.choice([b"PUT", b"DELETE", b"TRACE", b"OPTIONS", b"PATCH", b"X" * 50, b"get"])
    head = (
        method + b" " + path + b" HTTP/1.1\r\nHost: " + key.host.encode() + b"\r\nCookie: "
        + f"{key.cookie}={key.token}".encode() + b"\r\nOrigin: " + key.origin.encode()
        + b"\r\nConnection: close\r\n" + more
    )  # fmt: skip
    if body:
        head += (
            b"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: "
            + str(len(body)).encode()
            + b"\r\n"
        )
    raw = head + b"\r\n" + body
    if kind == "spoiled bytes":
        raw = spoiled_bytes(raw, dice)
    if kind == "cut short":
        raw = raw[: dice.randrange(1, len(raw))]
    return kind, raw


def speak(page: object, raw: bytes) -> int:
    """Status of the answer; 0 when the page hangs up without one."""
    host, port = page.key.host.rsplit(":", 1)  # type: ignore[attr-defined]
    with socket.create_connection((host, int(port)), timeout=20) as line:
        line.sendall(raw)
        line.shutdown(socket.SHUT_WR)
        got = b""
        while block := line.recv(1 << 16):
            got += block
    if not got:
        return 0
    answer = http.client.HTTPResponse(_Canned(got))  # type: ignore[arg-type]
    answer.begin()
    return answer.status


class _Canned:
    def __init__(self, data: bytes) -> None:
        self._data = data

    def makefile(self, *_: object) -> io.BytesIO:
        return io.BytesIO(self._data)


def answered(status: object) -> str:
    return f"status {status}" if int(status) >= 500 else ""  # type: ignore[call-overload]


# --- releases -----------------------------------------------------------------------------------


def test_releases(tmp_path, snapshot):
    sys.path.insert(0, str(Path(__file__).parents[1] / "refresh"))
    from fdc_layout import write_bundle, zip_bundle

    from pipeline.refresh import refresh
    from pipeline.snapshot import open_snapshot

    home = tmp_path / "home"
    shutil.copytree(snapshot.folder.parents[1], home)
    live = open_snapshot(home).snapshot_id
    name = "FoodData_Central_foundation_food_csv_2026-04-30"
    folder = write_bundle(snapshot.path, tmp_path / name, kinds=("foundation",),
                          foods="category = 'Fruits and Fruit Juices'")  # fmt: skip
    good = zip_bundle(folder, tmp_path / f"{name}.zip").read_bytes()

    def stays(_: object) -> str:
        now = open_snapshot(home)
        return (
            ""
            if now.snapshot_id == live or now.snapshot_id.startswith("foundation")
            else now.snapshot_id
        )

    kinds = ("zip spoiled", "names that leave", "zip spoiled", "a table missing", "zip spoiled",
             "a table spoiled")  # fmt: skip
    for n in range(42):
        dice = Dice(f"release {n}")
        kind = kinds[n % len(kinds)]
        path = tmp_path / f"{n}" / f"{name}.zip"
        path.parent.mkdir()
        path.write_bytes(
            spoiled_bytes(good, dice) if kind == "zip spoiled" else repacked(good, kind, dice)
        )
        tried("releases", kind, lambda: refresh(from_=str(path), home=home), stays)  # noqa: B023
        shutil.rmtree(path.parent)
        if open_snapshot(home).snapshot_id != live:
            shutil.rmtree(home)
            shutil.copytree(snapshot.folder.parents[1], home)
    assert not list(tmp_path.glob("**/escaped*"))
    nothing_bad("releases")


def repacked(data: bytes, kind: str, dice: random.Random) -> bytes:
    """The same release with one of its tables spoiled or left out, or with names that leave."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        names = old.namelist()
        chosen = dice.choice([n for n in names if n.endswith(".csv")])
        for one in names:
            content = old.read(one)
            if one == chosen and kind == "a table missing":
                continue
            if one == chosen and kind == "a table spoiled":
                # at its head, where it is told at once, or anywhere
                cut = dice.choice([200, len(content)])
                content = spoiled_bytes(content[:cut], dice) + content[cut:]
            new.writestr(one, content)
        if kind == "names that leave":
            away = ["../escaped.csv", "/tmp/escaped.csv", "a/../../escaped.csv", "C:\\escaped.csv"]
            new.writestr(dice.choice(away), "x")
            new.writestr(dice.choice(["../food.csv", "x/food.csv"]), "fdc_id\n")
    return out.getvalue()


def test_the_table_holds_two_thousand_inputs():
    assert TALLY.total >= 2_000, TALLY.table()
    assert TALLY.worst == []
    assert len(TITLES) == COUNT
