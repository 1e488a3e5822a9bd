"""One run at a time in a sitting's folder: a file says which run is at work, and where.

The file is made whole and only if there is none, so that of two runs one has it. A run that was killed leaves it behind:
another run of the same machine sees that the process is gone and takes it over. Of a process of another machine (the
folder is on a network drive) nobody here can tell, so its file is left alone, and the user is told of it.
"""

import json
import os
import socket
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trainer.errors import TrainerError

__all__ = ["alone", "is_running"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A run of the program, as its lock file tells it."""

    process: int
    host: str
    since: str
    """Local time, as it is shown."""
    began: str = ""
    """What tells the process from another one with its number, "" where the system does not say."""


@contextmanager
def alone(lock: Path, place: Path) -> Iterator[str]:
    """Holds the lock file while the block runs; gives a sentence if it was taken over from a run that was killed, else "".

    place: the folder that is locked, as messages call it.

    Raises TrainerError where another run has it, or where it cannot be written.
    """
    taken_over = _acquire(lock, place)
    try:
        yield taken_over
    finally:
        with suppress(OSError):
            lock.unlink()


def is_running(process: int) -> bool:
    """Whether a process of this machine is there. Another program may have got its number since it ended."""
    if sys.platform == "win32":
        return _is_running_on_windows(process)
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _is_at_work(run: _Run) -> bool:
    """Whether a run of this machine is still there; a process that got its number later is another one."""
    return is_running(run.process) and (not run.began or _began(run.process) in ("", run.began))


def _began(process: int) -> str:
    """When a process began, in ticks since the machine did, and which start of the machine that was; "" if unknown."""
    try:
        machine = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        # behind the name of the program, which may hold blanks and brackets, it is the 20th number
        ticks = (
            Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()[19]
        )
    except (OSError, ValueError, IndexError):
        return ""
    return f"{machine} {ticks}"


def _is_running_on_windows(process: int) -> bool:
    """There os.kill would end it, so the system is asked for its exit status: 259 as long as there is none."""
    import ctypes  # noqa: PLC0415 - its part for Windows is not there elsewhere

    kernel = ctypes.windll.kernel32  # type: ignore[attr-defined,unused-ignore]
    handle = kernel.OpenProcess(0x1000, False, process)  # PROCESS_QUERY_LIMITED_INFORMATION
    if not handle:
        return False
    status = ctypes.c_ulong()
    kernel.GetExitCodeProcess(handle, ctypes.byref(status))
    kernel.CloseHandle(handle)
    return status.value == 259


def _acquire(lock: Path, place: Path) -> str:
    process = os.getpid()
    us = _Run(
        process=process,
        host=socket.gethostname(),
        since=f"{datetime.now().astimezone():%d %b %Y %H:%M:%S}",
        began=_began(process),
    )
    if _made(lock, us):
        return ""
    them, text = _read(lock)
    if them is None or them.host != us.host or (them.process != us.process and _is_at_work(them)):
        raise TrainerError(_at_work(lock, place, them, us.host))
    if not _removed(lock, text) or not _made(lock, us):
        raise TrainerError(_at_work(lock, place, _read(lock)[0], us.host))
    return f"The run that began at {them.since} was broken off (process {them.process}); this one carries on."


def _made(lock: Path, us: _Run) -> bool:
    """Makes the lock file; False where there is one. It appears with its content, where the drive knows hard links."""
    text = json.dumps({"process": us.process, "host": us.host, "since": us.since, "began": us.began})
    ours = lock.with_name(f".new-{us.process}-{uuid.uuid4().hex}")
    try:
        ours.write_text(text, encoding="utf-8")
        try:
            os.link(ours, lock)
        except FileExistsError:
            return False
        except OSError:
            return _made_without_links(lock, text)
    except OSError as error:
        raise TrainerError(
            f"{lock.parent} cannot be written into ({error.strerror}), so nothing was done. Make room on the disk, or "
            "see that you may write there, and run the command again."
        ) from error
    finally:
        with suppress(OSError):  # on a place that cannot be written there is none, and taking it away is refused
            ours.unlink(missing_ok=True)
    return True


def _made_without_links(lock: Path, text: str) -> bool:
    try:
        with lock.open("x", encoding="utf-8") as out:
            out.write(text)
    except FileExistsError:
        return False
    return True


def _read(lock: Path) -> tuple[_Run | None, str]:
    """The run that a lock file tells of, and its text; None where it tells of none."""
    text = ""
    try:
        text = lock.read_text(encoding="utf-8")
        record = json.loads(text)
        run = _Run(
            process=int(record["process"]),
            host=str(record["host"]),
            since=str(record["since"]),
            began=str(record.get("began", "")),
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None, text
    return run, text


def _removed(lock: Path, text: str) -> bool:
    """Takes away the lock file with this text. False where it is another run's by now, which then gets it back.

    It is moved aside before it is looked at: of two runs that both found it out of use, one moves it, and what the
    other moves is the file of the first.
    """
    aside = lock.with_name(f".new-{os.getpid()}-{uuid.uuid4().hex}")
    try:
        lock.rename(aside)
    except OSError:
        return False
    is_the_same = _read(aside)[1] == text
    if not is_the_same:
        with suppress(OSError):
            os.link(aside, lock)
    with suppress(OSError):
        aside.unlink()
    return is_the_same


def _at_work(lock: Path, place: Path, them: _Run | None, host: str) -> str:
    if them is None:
        who = f"Another run seems to be at work on {place}: {lock} is there, and does not say whose it is."
    elif them.host == host:
        who = f"Another run is at work on {place}: process {them.process}, since {them.since}."
    else:
        who = (
            f"Another run is at work on {place}: process {them.process} of the computer {them.host}, since "
            f"{them.since}; from here nobody can tell whether it still runs."
        )
    return f"{who} Wait until it has ended. If there is no such run any more, delete {lock} and run the command again."
