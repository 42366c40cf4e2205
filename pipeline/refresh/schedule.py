"""Ready units that refresh the snapshot on a schedule, for four kinds of scheduler.

They are printed, never installed. Every one runs ``steelyard refresh --quiet``: silent when nothing
changed; exit codes 0 nothing new or published, 4 the release was refused, 5 verdicts of the
collection changed, 69 the publisher could not be reached, 75 another run is at work.
"""

from __future__ import annotations

import re
import shlex
import sys
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from pipeline.problems import SteelyardError, failure

KINDS = ("systemd", "cron", "launchd", "github-actions")
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class Schedule:
    """When and what.

    Attributes:
        day: ``mon`` ... ``sun``, or ``daily``.
        hour: 0 to 23, local time (UTC on GitHub).
        quiet: hours that must stay free, ``"22-07"``; ``hour`` must lie outside. "" for none.
        sources: keys of ``sources.toml``; none for the usual ones.
        collection: folder whose verdicts are compared after a new release, "" for none.
        program: the command, as the scheduler must call it.
    """

    day: str = "sun"
    hour: int = 9
    quiet: str = "22-07"
    sources: tuple[str, ...] = ()
    collection: str = ""
    program: str = ""

    def __post_init__(self) -> None:
        if self.day not in (*_DAYS, "daily"):
            raise _fault(f'"{self.day}" is no day', f"known: {', '.join(_DAYS)}, daily")
        if not 0 <= self.hour <= 23:
            raise _fault(f'"{self.hour}" is no hour', "0 to 23")
        if self.quiet:
            found = re.fullmatch(r"(\d{1,2})-(\d{1,2})", self.quiet)
            if not found or not all(0 <= int(h) <= 24 for h in found.groups()):
                raise _fault(f'"{self.quiet}" are no quiet hours', 'like "22-07"')
            start, end = (int(h) % 24 for h in found.groups())
            inside = start <= self.hour < end if start <= end else not end <= self.hour < start
            if inside and start != end:
                raise _fault(
                    f"{self.hour} o'clock lies in the quiet hours {self.quiet}",
                    "choose another --hour or --quiet-hours",
                )
        for name in self.sources:
            if not re.fullmatch(r"[a-z0-9_]+", name):
                raise _fault(f'"{name}" is no source', "a key of sources.toml")
        if "\n" in self.collection + self.program:
            raise _fault("a path has a line break in it", "no scheduler can hold that")

    @property
    def arguments(self) -> list[str]:
        """The command line of one run."""
        program = self.program or _own_program()
        out = [program, "refresh", "--quiet"]
        for name in self.sources:
            out += ["--source", name]
        if self.collection:
            out += ["--collection", self.collection]
        return out

    @property
    def command(self) -> str:
        """The same, quoted for a shell."""
        return shlex.join(self.arguments)


def _own_program() -> str:
    """The console script beside this Python, else the name alone."""
    beside = Path(sys.executable).with_name("steelyard")
    return str(beside) if beside.is_file() else "steelyard"


def _fault(what: str, why: str) -> SteelyardError:
    return failure("schedule-invalid", what=what, why=why)


def unit(kind: str, schedule: Schedule | None = None) -> str:
    """The text of a ready unit.

    Raises:
        SteelyardError: an unknown kind.
    """
    if kind not in KINDS:
        raise _fault(f'there is no unit for "{kind}"', f"known: {', '.join(KINDS)}")
    made = schedule or Schedule()
    values = {
        "systemd": _systemd, "cron": _cron, "launchd": _launchd, "github-actions": _actions,
    }[kind](made)  # fmt: skip
    text = (Path(__file__).parent / "units" / f"{kind}.txt").read_text(encoding="utf-8")
    values = {"quiet": made.quiet or "none", "hour": str(made.hour), **values}
    return re.sub(r"@([a-z]+)@", lambda found: values[found[1]], text)


def _day_number(s: Schedule) -> str:
    """Sunday is 0, every day a star."""
    return "*" if s.day == "daily" else str((_DAYS.index(s.day) + 1) % 7)


def _systemd(s: Schedule) -> dict[str, str]:
    # its SuccessExitStatus holds 5: changed verdicts are a result to look at, no failure
    day = "*-*-*" if s.day == "daily" else f"{s.day.title()} *-*-*"
    command = " ".join(_systemd_word(word) for word in s.arguments)
    return {"day": day, "command": command, "hour": f"{s.hour:02d}"}


def _systemd_word(word: str) -> str:
    doubled = word.replace("%", "%%").replace("$", "$$")
    if re.fullmatch(r"[\w@%+=:,./$-]+", doubled):
        return doubled
    escaped = doubled.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _cron(s: Schedule) -> dict[str, str]:
    command = s.command.replace("%", r"\%")  # cron reads % as a line break
    return {"day": _day_number(s), "command": command}


def _launchd(s: Schedule) -> dict[str, str]:
    weekday = f"    <key>Weekday</key><integer>{_day_number(s)}</integer>\n" * (s.day != "daily")
    return {
        "log": escape(str(Path.home() / "Library" / "Logs" / "steelyard-refresh.log")),
        "words": "\n".join(f"    <string>{escape(word)}</string>" for word in s.arguments),
        "weekday": weekday,
    }


def _actions(s: Schedule) -> dict[str, str]:
    words = ["steelyard", *s.arguments[1:]]
    if s.collection and Path(s.collection).is_absolute():
        words[words.index(s.collection)] = "."  # there the checkout is the collection
    return {"day": _day_number(s), "command": shlex.join(words)}
