"""Files that several processes may use at once: one lock, and one way to replace a file.

The lock is the operating system's own (by filelock), so it ends with the process that holds it,
however that ends. A file is replaced in one step, so a reader sees the old content or the new.
"""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

#: Ending of a file that is still being written.
DRAFT_END = ".draft"
_POLL_S = 0.02
_MODE = 0o644


@contextlib.contextmanager
def held(lock: Path, wait_s: float = 0.0, *, remove: bool = False) -> Iterator[None]:
    """Hold a lock file.

    Args:
        lock: the file, made when missing; its content is left alone.
        wait_s: how long to wait for another holder, seconds; 0 tries once.
        remove: take the file away before letting go; whoever waits for it then makes it again.

    Raises:
        TimeoutError: another process, or another part of this one, kept it that long.
        OSError: the file cannot be made.
    """
    from filelock import FileLock  # here: most commands lock nothing

    # Two holders in one process exclude each other as two processes do.
    with FileLock(lock, timeout=wait_s, mode=_MODE, thread_local=False, poll_interval=_POLL_S):
        try:
            yield
        finally:
            if remove:
                with contextlib.suppress(OSError):
                    lock.unlink()


def stamp(path: Path) -> tuple[int, int, int] | None:
    """What changes with a file: when it was written, its size and which one it is; None for none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def draft_prefix(path: Path) -> str:
    """What the names of drafts of ``path`` begin with; they stand beside it."""
    return f".{path.name}."


@contextlib.contextmanager
def replacing(path: Path, *, durable: bool = True) -> Iterator[Path]:
    """A draft to write to; on a clean exit it takes the place of ``path`` in one step.

    The new file keeps the permissions of the old one.

    Args:
        path: its folder is made when missing.
        durable: have the content on the disk before the exchange, so that it also outlives a
            power cut; False for what can be made again.

    Raises:
        OSError: it cannot be written; the old file stands as it was and no draft is left.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=draft_prefix(path), suffix=DRAFT_END, dir=path.parent)
    draft = Path(name)
    try:
        os.close(handle)
        yield draft
        if durable:
            _settle(draft)
        draft.chmod(path.stat().st_mode & 0o777 if path.exists() else _MODE)
        draft.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise


def _settle(path: Path) -> None:
    """Bring a file to the disk before it is renamed: a name must never stand for half a file."""
    with path.open("rb+") as written:
        try:
            os.fsync(written.fileno())
        except OSError as fault:  # some file systems have no fsync; the rename is still one step
            if fault.errno not in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
                raise


def write_atomically(path: Path, content: str | bytes, *, durable: bool = True) -> None:
    """Replace ``path`` in one step; text is written as UTF-8, its line ends as they are.

    See :func:`replacing` for the arguments and errors.
    """
    body = content.encode("utf-8") if isinstance(content, str) else content
    with replacing(path, durable=durable) as draft:
        draft.write_bytes(body)
