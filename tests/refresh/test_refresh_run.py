"""The whole refresh against a server that plays the official site, in good and bad weather."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from national_tables import leave_out_everyday_lines, leave_out_gate
from official_site import QUICK, Site

from pipeline.problems import SteelyardError
from pipeline.refresh import RefreshResult, refresh
from pipeline.snapshot import Snapshot, list_snapshots, live, open_snapshot, prune, rollback, use

NAME = "FoodData_Central_foundation_food_csv_2026-04-30.zip"
LATER = "FoodData_Central_foundation_food_csv_2026-10-29.zip"


def run(home: Path, site: Site, **options: object) -> RefreshResult:
    return refresh(home=home, config=site.config(), patience=QUICK, **options)  # type: ignore[arg-type]


def answers(home: Path) -> int:
    """Foods of the live snapshot, opened as every command opens it."""
    with open_snapshot(home).connect() as con:
        return int(con.sql("select count(*) from food where not reference").fetchall()[0][0])


def test_new_release_unchanged_then_newer(
    home: Path, site: Site, release: bytes, next_release: bytes
) -> None:
    embedded = live(home).snapshot_id
    site.release(NAME, release)
    first = run(home, site)
    assert first.status == "published"
    assert first.previous == embedded
    assert first.sources[0]["sha256"] == hashlib.sha256(release).hexdigest()
    assert first.sources[0]["size"] == len(release)
    assert first.snapshot is not None
    assert first.snapshot.source == "foundation, sr28"
    assert answers(home) == 8789 + 643
    started = time.monotonic()
    second = run(home, site)
    assert second.status == "unchanged"
    assert "nothing new" in second.message
    assert time.monotonic() - started < 1
    assert site.archive_requests()[-1][2] != ""  # asked with the etag, answered 304
    site.release(LATER, next_release)
    with pytest.MonkeyPatch.context() as patch:
        leave_out_gate(patch)  # it let the first one pass
        third = run(home, site)
    assert third.status == "published"
    assert third.snapshot is not None
    assert third.snapshot.release == "2026-10-29"
    assert not (third.snapshot.folder / "docs").exists()  # pages are made when asked for
    assert [row["live"] for row in list_snapshots(home)] == [True, False, False]
    with third.snapshot.connect() as con:
        rows = con.sql("select source, preference, release from source order by 2").fetchall()
    assert rows[0] == ("foundation", 1, "2026-10-29")
    assert rows[1][:2] == ("sr28", 2)
    back = rollback(home)
    assert back.snapshot_id == first.snapshot.snapshot_id
    kept = run(home, site)
    assert kept.status == "kept"  # a refresh does not undo what a person chose
    assert live(home).snapshot_id == first.snapshot.snapshot_id


@pytest.mark.parametrize(
    ("faults", "status"),
    [
        (["500", "503"], "published"),
        (["cut"], "published"),
        (["cut", "slow", "cut"], ""),
        (["slow"], "published"),
        (["redirect:/moved.zip"], "published"),
        (["redirect:http://example.org/a.zip"], ""),
        (["login"], ""),
        (["404"], ""),
        (["500"] * 9, ""),
    ],
)
@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_weather_on_the_line(
    home: Path, site: Site, release: bytes, faults: list[str], status: str
) -> None:
    before = live(home).snapshot_id
    site.release(NAME, release)
    site.files["/moved.zip"] = release
    site.faults[f"/{NAME}"] = list(faults)
    if status:
        assert run(home, site, only=True).status == status
        assert answers(home) == 643
        return
    with pytest.raises(SteelyardError) as fault:
        run(home, site, only=True)
    assert fault.value.exit_code in (69, 2)
    assert fault.value.problem.code in ("source-unreachable", "source-url-refused")
    assert live(home).snapshot_id == before
    assert answers(home) == 8789


@pytest.mark.usefixtures("no_gate")
def test_a_broken_download_goes_on_where_it_stopped(home: Path, site: Site, release: bytes) -> None:
    site.release(NAME, release)
    site.faults[f"/{NAME}"] = ["cut"]
    assert run(home, site, only=True).status == "published"
    first, second = site.archive_requests()
    assert first[1] == ""
    assert second[1].startswith("bytes=")
    assert int(second[1].removeprefix("bytes=").rstrip("-")) > 0
    kept = [p for p in (home / "downloads").iterdir() if p.suffix == ".zip"]
    assert hashlib.sha256(kept[0].read_bytes()).digest() == hashlib.sha256(release).digest()


@pytest.mark.usefixtures("no_gate")
def test_a_download_broken_off_by_a_stop_is_resumed_by_the_next_run(
    home: Path, site: Site, release: bytes
) -> None:
    site.release(NAME, release)
    site.faults[f"/{NAME}"] = ["cut", "500", "500"]
    with pytest.raises(SteelyardError):
        run(home, site, only=True)
    site.asked.clear()
    assert run(home, site, only=True).status == "published"
    assert site.archive_requests()[0][1].startswith("bytes=")


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_half_of_another_release_is_not_glued_to_this_one(
    home: Path, site: Site, release: bytes, next_release: bytes
) -> None:
    site.release(NAME, release)
    site.faults[f"/{NAME}"] = ["cut", "500", "500"]
    with pytest.raises(SteelyardError):
        run(home, site, only=True)
    site.files[f"/{NAME}"] = next_release  # re-issued under the same name
    got = run(home, site, only=True)
    assert got.sources[0]["sha256"] == hashlib.sha256(next_release).hexdigest()


@pytest.mark.usefixtures("no_gate")
def test_a_page_that_does_not_answer_says_since_when(
    home: Path, site: Site, release: bytes
) -> None:
    site.release(NAME, release)
    run(home, site)
    before = live(home).snapshot_id
    for weather in (["500"] * 9, ["login"] * 9):
        site.faults["/download"] = weather
        with pytest.raises(SteelyardError) as fault:
            run(home, site)
        assert fault.value.exit_code == 69
        assert "2026-04-30" in fault.value.problem.why
        assert live(home).snapshot_id == before
    site.faults.clear()
    assert run(home, site).status == "unchanged"  # the good answer was not lost


def test_a_site_that_is_gone_altogether(home: Path, site: Site) -> None:
    site.address = "http://127.0.0.1:9"
    with pytest.raises(SteelyardError) as fault:
        run(home, site)
    assert fault.value.exit_code == 69
    assert "object at 0x" not in fault.value.problem.why
    assert answers(home) == 8789


@pytest.mark.parametrize(
    ("content", "code"),
    [("truncated", "archive-refused"), ("poisoned", "snapshot-gate-failed"),
     ("malformed", "fdc-file-malformed"), ("headless", "fdc-files-incomplete"),
     ("wrong-sum", "archive-wrong-sum"), ("latin", "fdc-file-malformed")],
)  # fmt: skip
def test_a_release_that_must_not_be_published(
    home: Path, site: Site, release: bytes, poisoned: bytes, bundle: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, content: str, code: str,
) -> None:  # fmt: skip
    from fdc_layout import zip_bundle

    before = live(home).snapshot_id
    body, sha256 = release, ""
    if content == "truncated":
        body = release[: len(release) // 3]
    elif content == "poisoned":
        leave_out_everyday_lines(monkeypatch)  # the gate must see it by itself
        body = poisoned
    elif content == "wrong-sum":
        sha256 = "0" * 64
    else:
        folder = tmp_path / "edited"
        shutil.copytree(bundle, folder)
        target = folder / "food_nutrient.csv"
        text = target.read_text(encoding="utf-8")
        if content == "malformed":
            target.write_text(text.replace("\n", "\n17,42\n", 3), encoding="utf-8")
        elif content == "latin":
            target = folder / "food.csv"
            text = target.read_text(encoding="utf-8").replace("Zwieback", "Zwiebäck")
            target.write_bytes(text.replace("Watermelon", "Wassermelöne").encode("latin-1"))
        else:
            target.write_text(text.replace("amount", "amnt", 1), encoding="utf-8")
        body = zip_bundle(folder, tmp_path / NAME).read_bytes()
    site.release(NAME, body)
    with pytest.raises(SteelyardError) as fault:
        refresh(home=home, config=site.config(sha256), patience=QUICK)
    assert fault.value.problem.code == code
    assert fault.value.exit_code == 4
    assert fault.value.problem.why
    assert fault.value.problem.fix
    assert live(home).snapshot_id == before
    assert answers(home) == 8789
    assert not (home / "unpacked").exists()


@pytest.mark.usefixtures("no_gate")
def test_local_zip_folder_and_sum(home: Path, release: bytes, bundle: Path, tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_bytes(release)
    got = refresh(from_=str(path), home=home, only=True, sha256=hashlib.sha256(release).hexdigest())
    assert got.status == "published"
    assert got.snapshot is not None
    assert (got.snapshot.source, got.snapshot.release) == ("foundation", "2026-04-30")
    assert refresh(from_=str(path), home=home, only=True).status == "unchanged"
    again = refresh(from_=str(bundle), home=home, only=True)
    assert again.status == "published"  # the same tables, from another place
    with pytest.raises(SteelyardError) as fault:
        refresh(from_=str(path), home=home, sha256="ab")
    assert fault.value.problem.code == "archive-wrong-sum"


@pytest.mark.parametrize(
    ("from_", "code"),
    [("nothing.zip", "source-file-missing"), ("text.zip", "archive-refused"),
     ("ftp://127.0.0.1/a.zip", "source-url-refused"), ("http://example.org/a.zip",
     "source-url-refused"), ("file:///etc/passwd", "source-url-refused"),
     ("empty", "archive-refused")],
)  # fmt: skip
def test_what_cannot_be_handed_in(home: Path, tmp_path: Path, from_: str, code: str) -> None:
    (tmp_path / "text.zip").write_text("no zip")
    (tmp_path / "empty").mkdir()
    told = from_ if "://" in from_ else str(tmp_path / from_)
    with pytest.raises(SteelyardError) as fault:
        refresh(from_=told, home=home, patience=QUICK)
    assert fault.value.problem.code == code


def test_an_unknown_source_is_said_with_the_known_ones(home: Path, site: Site) -> None:
    with pytest.raises(SteelyardError) as fault:
        run(home, site, sources=["fundation"])
    assert "foundation" in fault.value.problem.why


def test_two_at_once_one_leaves(home: Path, site: Site) -> None:
    from pipeline.snapshot import home as homes

    with homes.locked(home), pytest.raises(SteelyardError) as fault:
        run(home, site)
    assert fault.value.exit_code == 75
    assert answers(home) == 8789


POINTS = ["copied", "unpacking", "loading", "written", "gate", "manifest", "moved", "switching",
          "switched"]  # fmt: skip
#: Refreshes that kill themselves, one a point, each in a fork of a process that has the program loaded.
KILLED = """
import os, pickle, shutil, signal, sys
from pathlib import Path
import duckdb, pandas
from pipeline.refresh import archive, fdc, refresh, run
from pipeline.snapshot import builder, gate, home

def stop(*args, **options):
    os.kill(os.getpid(), signal.SIGKILL)

def after(module, name):
    real = getattr(module, name)
    def wrapped(*args, **options):
        out = real(*args, **options)
        stop()
        return out
    setattr(module, name, wrapped)

def arm(point):
    if point != "gate":  # nobody looks at what is built, so that the gate need not be loaded
        gate.warm_up = lambda: None
        gate.check_file = lambda *args, **options: gate.GateResult([])
        run.everyday_checks = lambda *args, **options: lambda candidate: []
    if point == "copied": after(run._Work, "_copied")
    elif point == "unpacking": after(archive, "_copy")
    elif point == "loading": after(fdc, "run_script")
    elif point == "written": after(builder, "_write_file")
    elif point == "gate": after(gate, "suite")
    elif point == "manifest": after(home, "write_atomically")
    elif point == "moved": home.point_to = stop
    elif point == "switching":
        real = os.replace
        os.replace = lambda a, b: stop() if str(b).endswith("current.json") else real(a, b)
    elif point == "switched": after(home, "point_to")

write, kept = builder._write_file, Path(sys.argv[1]) / "kept"

def written_once(path, *given):  # the tables are the same in each: the first to write them is enough
    if kept.exists():
        shutil.copyfile(kept, path)
        return pickle.loads(kept.with_suffix(".facts").read_bytes())
    facts = write(path, *given)
    kept.with_suffix(".facts").write_bytes(pickle.dumps(facts))
    shutil.copyfile(path, kept)
    return facts

builder._write_file = written_once
for point in sys.argv[3:]:
    pid = os.fork()
    if not pid:
        arm(point)
        refresh(from_=sys.argv[2], home=Path(sys.argv[1]) / point, only=True)
        os._exit(0)
    print(point, os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]))
"""


@pytest.fixture(scope="module")
def killed(
    embedded_home: Path, release: bytes, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Path]:
    """A folder of homes, one a point at which the refresh of it was killed; and the release."""
    folder = tmp_path_factory.mktemp("killed")
    path = folder / NAME
    path.write_bytes(release)
    for point in POINTS:
        shutil.copytree(embedded_home, folder / point)
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(folder), str(path), *POINTS],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.split() == [x for point in POINTS for x in (point, "-9")], done.stderr
    return folder, path


@pytest.mark.parametrize("point", POINTS)
@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_killed_at_any_point_the_home_stays_usable(
    killed: tuple[Path, Path], published: Snapshot, point: str
) -> None:
    home, path = killed[0] / point, killed[1]
    assert answers(home) == (643 if point == "switched" else 8789)
    assert (live(home).snapshot_id == published.snapshot_id) == (point != "switched")
    again = refresh(from_=str(path), home=home, only=True)
    assert again.status == ("unchanged" if point == "switched" else "published")
    assert answers(home) == 643
    assert not any((home / "building").iterdir())
    assert not (home / "unpacked").exists()


@pytest.mark.usefixtures("no_gate")
def test_use_prune_and_what_they_refuse(home: Path, release: bytes, tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_bytes(release)
    embedded = live(home).snapshot_id
    refreshed = refresh(from_=str(path), home=home, only=True).snapshot
    assert refreshed is not None
    with pytest.raises(SteelyardError) as fault:
        use("nothing", home)
    assert embedded in fault.value.problem.why
    assert use("sr28", home).snapshot_id == embedded
    assert answers(home) == 8789
    assert prune(1, home) == [refreshed.snapshot_id]
    assert [p.name for p in (home / "downloads").iterdir() if p.suffix == ".zip"] == []
    with pytest.raises(SteelyardError):
        rollback(home)
    with pytest.raises(SteelyardError):
        prune(0, home)
    assert answers(home) == 8789


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_only_so_many_are_kept(home: Path, site: Site, release: bytes, next_release: bytes) -> None:
    site.release(NAME, release)
    run(home, site, only=True)
    site.release(LATER, next_release)
    got = run(home, site, only=True, keep=2)
    assert len(got.removed) == 1
    assert len(list_snapshots(home)) == 2


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_other_sources_stay_when_one_is_refreshed(
    home: Path, site: Site, release: bytes, published: object
) -> None:
    from pipeline.resources import shared_path

    first = refresh(from_=str(shared_path("national/example.toml")), home=home)
    assert first.snapshot is not None
    assert first.snapshot.source == "example, sr28"
    site.release(NAME, release)
    second = run(home, site, sources=["foundation"])
    assert second.snapshot is not None
    assert second.snapshot.source == "foundation, example, sr28"
    with second.snapshot.connect() as con:
        found = con.sql("select kcal from food_macros where food_id = 'example:A-0002'").fetchall()
    assert found[0][0] == pytest.approx(272 / 4.184)
