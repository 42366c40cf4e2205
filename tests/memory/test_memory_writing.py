"""Writing what people own: one row at a time, under a lock that dies with its holder."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.memory import Decision, load_decisions, load_pantry, save_decision, save_pantry_food
from pipeline.memory.decisions import change_decision, remove_decision
from pipeline.memory.files import locked
from pipeline.problems import SteelyardError

WRITER = """
import sys
from pathlib import Path
from pipeline.memory import Decision, save_decision
path, who, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for n in range(count):
    save_decision(path, Decision(f"{n} cups {who} flour", "sr28:20081", float(n)))
    print(n, flush=True)
"""
HOLDER = """
import sys, time
from pathlib import Path
from pipeline.memory.files import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def start(code: str, *args: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, args)], stdout=subprocess.PIPE, text=True
    )


def test_two_processes_keep_each_others_answers(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    writers = [start(WRITER, path, who, 20) for who in ("harbour", "mill")]
    assert [w.wait(timeout=60) for w in writers] == [0, 0]
    assert len(load_decisions(path)[0]) == 40


def test_a_killed_holder_keeps_no_lock(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    holder = start(HOLDER, path)
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    with pytest.raises(TimeoutError), locked(path, wait_s=0.1):
        pass
    os.kill(holder.pid, signal.SIGKILL)
    holder.wait()
    began = time.monotonic()
    save_decision(path, Decision("a", "sr28:01001"))
    assert time.monotonic() - began < 2


def test_killed_in_the_middle_every_answer_reported_is_there(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    writer = start(WRITER, path, "harbour", 10_000)
    assert writer.stdout is not None
    for _ in range(8):
        last = int(writer.stdout.readline())
    os.kill(writer.pid, signal.SIGKILL)
    last = max([last, *(int(n) for n in writer.stdout.read().split())])
    writer.wait()
    (tmp_path / ".decisions.csv.abc.draft").write_text("half a li")
    decisions, problems = load_decisions(path)
    assert not problems
    assert all(decisions.find(f"{n} cups harbour flour") for n in range(last + 1))
    save_decision(path, Decision("a", "sr28:01001"))
    assert [p.name for p in tmp_path.iterdir()] == ["decisions.csv"]


def test_a_changed_row_keeps_its_place_and_further_columns(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    path.write_text("text;food_id;who\na;sr28:01001;Maren\nb;sr28:01145;Ines\n")
    save_decision(path, Decision("A", "sr28:01145", 5.0))
    rows = path.read_text().splitlines()
    assert rows[0] == "text,food_id,grams,applies_to,decided_on,note,numbers,who"
    assert rows[1].startswith("A,sr28:01145,5,line,")
    assert rows[1].endswith(",Maren")
    assert rows[2].startswith("b,sr28:01145,")


@pytest.mark.parametrize(
    ("name", "content"), [("decisions.csv", b"text\0food"), ("decisions.yaml", b"decisions: []")]
)
def test_a_file_that_cannot_be_kept_whole_is_left_as_it_is(
    tmp_path: Path, name: str, content: bytes
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(SteelyardError):
        save_decision(path, Decision("a", "sr28:01001"))
    assert path.read_bytes() == content


def test_a_change_that_raises_leaves_the_file(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision("a", "sr28:01001"))
    before = path.read_bytes()

    def refuse(_: Decision | None) -> Decision | None:
        raise KeyError

    with pytest.raises(KeyError):
        change_decision(path, "a", "line", refuse)
    assert path.read_bytes() == before
    save_decision(path, Decision("b", "sr28:01001"))  # the lock is free again


@pytest.mark.parametrize("text", ["=1+1", "+2 eggs", "- 2 eggs", "@home flour", "'- quoted"])
def test_a_text_like_a_formula_is_written_as_text_and_still_found(
    tmp_path: Path, text: str
) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision(text, "sr28:01001"))
    assert not path.read_text().splitlines()[1].startswith(("=", "+", "-", "@"))
    decisions, _ = load_decisions(path)
    found = decisions.find(text)
    assert found is not None
    assert found.food_id == "sr28:01001"
    assert remove_decision(path, text)


def test_grams_of_a_line_leave_the_food_to_the_name(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision("quay butter", "sr28:01145", applies_to="name"))
    save_decision(path, Decision("a knob of quay butter", "", 12.0))
    found = load_decisions(path)[0].find("a knob of quay butter", "quay butter")
    assert found is not None
    assert (found.food_id, found.grams) == ("sr28:01145", 12.0)


def test_a_pantry_with_other_headers_keeps_old_and_new_foods(tmp_path: Path) -> None:
    path = tmp_path / "pantry.csv"
    path.write_text("name,serving_g,calories\nQuay quark,100,66\n")
    save_pantry_food(path, {"food_name": "Mill oat drink", "serving_g": "200", "kcal": "92"})
    pantry, problems = load_pantry(path)
    assert not problems
    assert sorted(pantry.by_id) == ["pantry:mill-oat-drink", "pantry:quay-quark"]
    save_pantry_food(path, {"food_name": "quay quark", "serving_g": "100", "kcal": "70"})
    again = load_pantry(path)[0].by_id["pantry:quay-quark"]
    assert again.per_100g == {"ENERC_KCAL": 70.0}
