"""Asking publishers: is there a newer release, and getting it whole, however the line behaves.

Release pages go through requests-cache (conditional requests, the last good answer when the site
is down). Archives are streamed to disk and resumed, with the conditional headers of the copy that
is already there.
"""

from __future__ import annotations

import ipaddress
import json
import re
import time
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urljoin, urlsplit

from pipeline.problems import SteelyardError, failure
from pipeline.refresh import faults
from pipeline.safe_files import write_atomically
from pipeline.snapshot.builder import Progress, quiet
from pipeline.snapshot.sources import sha256_of

if TYPE_CHECKING:
    import requests
    from requests_cache import CachedSession

ZIP = b"PK\x03\x04"
_CHUNK = 1 << 16  # a broken line loses no more than this of what came
_MOST_BYTES = 8 << 30
_RETRY_STATUS = (429, 500, 502, 503, 504)
_AGENT = "steelyard (nutrient snapshot refresh)"


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait and how often to try again."""

    connect_s: float = 10.0
    read_s: float = 60.0
    tries: int = 5
    backoff_s: float = 1.0

    @property
    def timeout(self) -> tuple[float, float]:
        """As requests takes it."""
        return self.connect_s, self.read_s

    def pause(self, attempt: int) -> float:
        """Seconds before the next attempt: doubling, 30 s at most."""
        return float(min(self.backoff_s * 2**attempt, 30.0))


_PATIENCE = Patience()


@dataclass(frozen=True, slots=True)
class Archive:
    """A fetched archive, kept with what is needed to ask for a newer one."""

    url: str
    path: str
    sha256: str
    size: int
    etag: str = ""
    last_modified: str = ""
    fetched_at: str = ""


@dataclass(frozen=True, slots=True)
class Fetched:
    """An archive and whether it is ``new`` or ``unchanged`` (the server, or its sum, says so)."""

    archive: Archive
    status: str


def _unreachable(url: str, why: str, fix: str = "") -> SteelyardError:
    return faults.unreachable(url, f'"{url}" could not be fetched', why, fix)


def check_url(url: str) -> str:
    """``url`` when it may be asked: https, or http on this machine.

    Raises:
        SteelyardError: any other scheme or host.
    """
    parts = urlsplit(url)
    host = parts.hostname or ""
    try:
        here = ipaddress.ip_address(host).is_loopback
    except ValueError:
        here = host == "localhost"
    if (parts.scheme == "https" and host) or (parts.scheme == "http" and here):
        return url
    raise failure("source-url-refused", url=url)


def follow_only_https(response: requests.Response, **_: object) -> requests.Response:
    """A response hook: a redirect that leaves https is refused before it is followed."""
    if response.is_redirect:
        check_url(urljoin(response.url, response.headers["Location"]))
    return response


def cached_session(cache: Path, **options: Any) -> CachedSession:
    """A session that falls back to the last good answer for 90 days, and asks only over https."""
    from requests_cache import CachedSession
    from requests_cache.backends.filesystem import FileCache

    session = CachedSession(
        backend=FileCache(cache),  # JSON files; nothing on disk is ever unpickled
        stale_if_error=int(timedelta(days=90).total_seconds()),
        **options,
    )
    session.hooks["response"].append(follow_only_https)
    return session


def page_session(cache: Path, patience: Patience) -> CachedSession:
    """Ask every time, and download what changed."""
    from requests.adapters import HTTPAdapter
    from urllib3.util.retry import Retry

    session = cached_session(cache, always_revalidate=True)
    retry = Retry(
        total=patience.tries - 1,
        backoff_factor=patience.backoff_s,
        status_forcelist=_RETRY_STATUS,
        raise_on_status=False,
    )
    session.headers["User-Agent"] = _AGENT
    for scheme in ("https://", "http://"):
        session.mount(scheme, HTTPAdapter(max_retries=retry))
    return session


@dataclass(frozen=True, slots=True)
class Release:
    """The newest release that a page names.

    Attributes:
        stale_since: "" when the page was answered now; else when its last good answer came.
    """

    url: str
    date: str
    stale_since: str = ""


def newest_release(
    page: str, pattern: str, base: str, cache: Path, patience: Patience = _PATIENCE
) -> Release:
    """Find the newest release on a download page.

    Args:
        pattern: regular expression of the file name, with a group ``date``.
        base: where files are when the page names them without an address.
        cache: folder of the HTTP cache.

    Raises:
        SteelyardError: the page cannot be had, now or from the cache, or names no release.
    """
    import requests

    check_url(page)

    def must_name_a_release(response: requests.Response, **_: object) -> requests.Response:
        # Raised inside ``send``, so that a login page counts as a failed request and the last
        # good answer stays in the cache.
        if response.status_code == requests.codes.ok and not re.search(pattern, response.text):
            raise requests.RequestException(f"{response.url} names no file like {pattern}")
        return response

    session = page_session(cache, patience)
    session.hooks["response"].append(must_name_a_release)
    try:
        answer = session.get(page, timeout=patience.timeout)
        answer.raise_for_status()
    except requests.RequestException as fault:
        raise _unreachable(
            page, _short(fault),
            "look for the file on the publisher's page and run: steelyard refresh --from URL",
        ) from fault  # fmt: skip
    found: dict[str, str] = {}
    for match in re.finditer(pattern, answer.text):
        start = max(answer.text.rfind(quote, 0, match.start()) for quote in "\"'")
        address = answer.text[start + 1 : match.end()] if start >= 0 else match[0]
        named = address if re.fullmatch(r"[\w:/.%~+-]+", address) else match[0]
        found.setdefault(match["date"], named)
    date = max(found)
    named = found[date]
    url = urljoin(answer.url, named) if "/" in named else urljoin(base, named)
    stale = bool(getattr(answer, "from_cache", False)) and not getattr(answer, "revalidated", False)
    since = getattr(answer, "created_at", None)
    return Release(check_url(url), date, f"{since:%Y-%m-%d}" if stale and since is not None else "")


def one_line(text: str) -> str:
    """A message of the network layers in one line, without addresses of objects."""
    return " ".join(re.sub(r"<[^>]* object at 0x[0-9a-f]+>:? ?", "", text).split())


def _short(fault: BaseException) -> str:
    return one_line(str(fault))[:300] or type(fault).__name__


def known_archives(folder: Path) -> dict[str, Archive]:
    """Archives fetched before, by address; those whose file is gone are left out."""
    try:
        kept = json.loads((folder / "index.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    found = {}
    for url, row in kept.items() if isinstance(kept, dict) else ():
        try:
            archive = Archive(**row)
        except TypeError:
            continue
        if (folder / archive.path).is_file():
            found[url] = archive
    return found


def remember(folder: Path, archive: Archive) -> None:
    """Keep an archive's headers for the next request."""
    rows = {url: asdict(known) for url, known in known_archives(folder).items()}
    rows[archive.url] = asdict(archive)
    write_atomically(folder / "index.json", json.dumps(rows, indent=2) + "\n")


def download(
    url: str,
    folder: Path,
    *,
    sha256: str = "",
    patience: Patience = _PATIENCE,
    progress: Progress = quiet,
) -> Fetched:
    """Fetch an archive, or learn that the copy kept is still the current one.

    Args:
        url: https address.
        folder: where archives are kept; a broken download is resumed from it.
        sha256: what the archive must sum to, "" when not known.
        progress: called with (what, share done).

    Raises:
        SteelyardError: unreachable (exit code 69), not a zip, too large, or of another sum.
    """
    check_url(url)
    folder.mkdir(parents=True, exist_ok=True)
    known = known_archives(folder).get(url)
    if known is not None and sha256 and known.sha256 != sha256.lower():
        known = None
    name = unquote(urlsplit(url).path.rpartition("/")[2]) or "release.zip"
    name = re.sub(r"[^\w.-]", "_", name)
    part = folder / f"{name}.part"
    answer = _get(url, part, known, patience, progress)
    if answer is None:
        assert known is not None
        return Fetched(known, "unchanged")
    found = sha256_of(part)
    if sha256 and found != sha256.lower():
        _forget(part)
        raise failure(
            "archive-wrong-sum", source=url, name=name, found=found, expected=sha256.lower()
        )
    target = folder / f"{found[:12]}-{name}"
    part.replace(target)
    _forget(part)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    archive = Archive(url, target.name, found, target.stat().st_size, **answer, fetched_at=now)
    remember(folder, archive)
    same = known is not None and known.sha256 == found
    return Fetched(archive, "unchanged" if same else "new")


def _forget(part: Path) -> None:
    part.unlink(missing_ok=True)
    part.with_suffix(".part.json").unlink(missing_ok=True)


def _headers(part: Path, known: Archive | None) -> tuple[dict[str, str], int]:
    """Headers of the next request: resume what is there, else ask whether it changed."""
    headers = {"User-Agent": _AGENT, "Accept-Encoding": "identity"}
    begun = part.stat().st_size if part.is_file() else 0
    if begun:
        try:
            kept = json.loads(part.with_suffix(".part.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            kept = {}
        etag = str(kept.get("etag", ""))
        mark = etag if etag and not etag.startswith("W/") else kept.get("last_modified", "")
        if mark:
            headers |= {"Range": f"bytes={begun}-", "If-Range": str(mark)}
            return headers, begun
        _forget(part)  # nothing says that the rest would fit to it
    if known is not None:
        if known.etag:
            headers["If-None-Match"] = known.etag
        if known.last_modified:
            headers["If-Modified-Since"] = known.last_modified
    return headers, 0


def _get(
    url: str, part: Path, known: Archive | None, patience: Patience, progress: Progress
) -> dict[str, str] | None:
    """Stream ``url`` into ``part``; None when the server says that it did not change."""
    import requests

    last = ""
    with requests.Session() as session:
        session.hooks["response"].append(follow_only_https)
        for attempt in range(patience.tries):
            if attempt:
                time.sleep(patience.pause(attempt - 1))
            headers, begun = _headers(part, known)
            try:
                with session.get(
                    url, headers=headers, stream=True, timeout=patience.timeout
                ) as answer:
                    said = f"the server answered {answer.status_code} {answer.reason}"
                    if answer.status_code == 304:
                        return None
                    if answer.status_code == 416:
                        _forget(part)
                        last = "the server had no such range"
                        continue
                    if answer.status_code in _RETRY_STATUS:
                        last = said
                        _wait_as_asked(answer, patience)
                        continue
                    if answer.status_code not in (200, 206):
                        raise _unreachable(url, said)
                    return _stream(url, part, answer, begun, progress)
            except (requests.RequestException, OSError) as fault:
                last = _short(fault)
    raise _unreachable(url, f"{last} (tried {patience.tries} times)")


def _wait_as_asked(answer: requests.Response, patience: Patience) -> None:
    seconds = answer.headers.get("Retry-After", "")
    if seconds.isdigit():
        time.sleep(min(int(seconds), 30 * patience.backoff_s))


def _stream(
    url: str,
    part: Path,
    answer: requests.Response,
    begun: int,
    progress: Progress,
) -> dict[str, str]:
    resumed = answer.status_code == 206
    if resumed and not answer.headers.get("Content-Range", "").startswith(f"bytes {begun}-"):
        _forget(part)
        raise OSError("the server resumed at another place")
    marks: dict[str, Any] = {
        "etag": answer.headers.get("ETag", ""),
        "last_modified": answer.headers.get("Last-Modified", ""),
    }
    length = answer.headers.get("Content-Length", "")
    whole = (begun if resumed else 0) + int(length) if length.isdigit() else 0
    if whole > _MOST_BYTES:
        raise _unreachable(url, f"it says it has {whole / 1e9:.1f} GB, more than any release")
    if not resumed:
        write_atomically(part.with_suffix(".part.json"), json.dumps(marks))
    done = begun if resumed else 0
    with part.open("ab" if resumed else "wb") as sink:
        for block in answer.iter_content(_CHUNK):
            if not done and not block.startswith(ZIP):
                sink.close()
                _forget(part)
                kind = answer.headers.get("Content-Type", "no content type")
                raise _unreachable(url, f"expected a zip archive, got {kind}")
            sink.write(block)
            done += len(block)
            if done > _MOST_BYTES:
                raise _unreachable(url, f"more than {_MOST_BYTES / 1e9:.1f} GB came")
            progress(f"downloading {part.stem}", done / whole if whole else 0.0)
    if whole and done != whole:
        raise OSError(f"{done} of {whole} bytes came")
    return marks
