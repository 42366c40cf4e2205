"""How long an answer on the review page takes on a large collection.

    python benchmarks/review.py [--recipes 1000] [--answers 30]

Invented recipes (``synthetic``) are written as cards, one file each, and reviewed through the served
page: lines are opened, answered, answered for all lines of a name, weighed, and taken back, as a
person does. CPU is that of the handler that answers the request, as it says itself in the header
Server-Timing; other work on the machine moves it less than the wall clock, which stands beside it.
"""

from __future__ import annotations

import argparse
import csv
import gc
import http.client
import statistics
import sys
import tempfile
import threading
import time
from itertools import groupby
from pathlib import Path
from urllib.parse import urlencode

sys.path.insert(0, str(Path(__file__).resolve().parent))

import synthetic

from pipeline.snapshot import open_snapshot
from pipeline.web.model import line_key, recipe_key
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState


def write_cards(folder: Path, recipes: int) -> None:
    """One card per recipe, in folders of a hundred."""
    made = synthetic.make(recipes * synthetic.LINES_A_RECIPE, folder / "made", open_snapshot())
    with made["csv"].open(encoding="utf-8", newline="") as handle:
        for at, (_, group) in enumerate(groupby(csv.DictReader(handle), lambda r: r["recipe_id"])):
            rows = list(group)
            first = rows[0]
            place = folder / "cards" / f"{at // 100:03d}"
            place.mkdir(parents=True, exist_ok=True)
            lines = "\n".join(row["line"] for row in rows)
            (place / f"{at:05d}.txt").write_text(
                f"{first['title']}\nServes {first['servings']}\n\n{lines}\n\n"
                f"Per serving: {first['kcal']} kcal, P {first['protein_g']} g, "
                f"C {first['carbs_g']} g, F {first['fat_g']} g\n",
                encoding="utf-8",
            )


class Page:
    """The served page, asked over HTTP; every request is timed."""

    def __init__(self, session: ReviewSession) -> None:
        from pipeline.web.app import create_app
        from pipeline.web.guard import Pass
        from pipeline.web.server import listen, make_server

        self.listener = listen(0)
        self.key = Pass.new(f"127.0.0.1:{self.listener.getsockname()[1]}")
        self.server = make_server(create_app(session, self.key))
        self.thread = threading.Thread(
            target=self.server.run, kwargs={"sockets": [self.listener]}, daemon=True
        )
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)
        self.took: dict[str, list[tuple[float, float, int]]] = {}

    def ask(self, what: str, path: str, form: dict[str, str] | None = None) -> str:
        """A request as htmx sends it."""
        host, port = self.key.host.rsplit(":", 1)
        cookie = f"{self.key.cookie}={self.key.token}"
        headers = {"Host": self.key.host, "Cookie": cookie, "HX-Request": "true"}
        body = None
        if form is not None:
            body = urlencode({"form_key": self.key.form_key, **form})
            headers |= {
                "Origin": self.key.origin, "Content-Type": "application/x-www-form-urlencoded",
            }  # fmt: skip
        wall = time.perf_counter()
        line = http.client.HTTPConnection(host, int(port), timeout=300)
        line.request("GET" if form is None else "POST", path, body, headers)
        got = line.getresponse()
        text = got.read().decode()
        cpu = float(got.headers["server-timing"].partition("dur=")[2]) / 1000
        spent = cpu, time.perf_counter() - wall, len(text)
        line.close()
        if got.status != 200:
            raise SystemExit(f"{what}: {path} answered {got.status}: {text[:300]}")
        self.took.setdefault(what, []).append(spent)
        return text

    def close(self) -> None:
        """Stop serving."""
        self.server.should_exit = True
        self.thread.join(10)
        self.listener.close()


def answer_lines(page: Page, session: ReviewSession, answers: int) -> None:
    """Go through the list as a person does: open a line, answer it, now and then take it back."""
    page.ask("first page", "/")
    keys = [question.key for question in session.questions.queue()[:answers]]
    for at, key in enumerate(keys):
        page.ask("open a line", f"/line/{key}")
        form = {"act": "food", "food": "sr28:01012" if at % 2 else "sr28:20045", "line": key}
        if at % 5 == 4:
            page.ask("grams", f"/line/{key}", {"act": "grams", "grams": "45", "line": key})
        elif at % 5 == 3:
            page.ask("food for a name", f"/line/{key}", {**form, "scope": "name"})
        else:
            page.ask("food for a line", f"/line/{key}", form)
        if at % 6 == 5:
            latest = session.history.answers()[-1].answer_id
            page.ask("take back", "/undo", {"answer_id": latest})


def change_recipes(page: Page, session: ReviewSession, count: int) -> None:
    """Change servings, and split lines, of some recipes."""
    for recipe_id in list(session.state.recipes)[5 : 5 + count]:
        address = f"/recipe/{recipe_key(recipe_id)}"
        page.ask("open a recipe", address)
        page.ask("servings", address, {"act": "servings", "value": "7"})
        text = session.state.recipes[recipe_id].lines[0]["text"]
        form = {"line": line_key(text), "one": "30 g butter", "two": "40 g plain flour"}
        page.ask("split a line", f"/line/{line_key(text)}/split", form)


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--recipes", type=int, default=1000)
    ask.add_argument("--answers", type=int, default=30)
    given = ask.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_cards(folder, given.recipes)
        wall, cpu = time.perf_counter(), time.process_time()
        session = ReviewSession(ReviewState(folder / "cards"))
        gc.collect()
        gc.freeze()  # as the server does
        print(f"read: {time.process_time() - cpu:.1f} s CPU, {time.perf_counter() - wall:.1f} s")
        page = Page(session)
        answer_lines(page, session, given.answers)
        change_recipes(page, session, given.answers // 3)
        page.close()
        session.close()
    for what, spent in page.took.items():
        cpus, walls, sizes = zip(*spent, strict=True)
        print(
            f"{what:18} {len(spent):3} x  CPU median {statistics.median(cpus):.3f} s, "
            f"most {max(cpus):.3f} s; wall median {statistics.median(walls):.3f} s; "
            f"{statistics.median(sizes) / 1000:.0f} kB"
        )


if __name__ == "__main__":
    main()
