"""The bytes of a file that was named, and nothing else: no device, no more than is allowed."""

import errno
import os
import stat
from pathlib import Path

from arrange.errors import BadInput
from arrange.score.limits import Limits, in_force

_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_NO_WAIT = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def file_bytes(path: Path, limits: Limits | None = None, *, follows_links: bool = True) -> bytes:
    """All bytes of a plain file.

    Args:
        path: the file.
        limits: says how long it may be.
        follows_links: whether *path* itself may be a symbolic link.

    Raises:
        BadInput: no such file, one that cannot be read, a folder or device, or a longer one.
    """
    limits = limits or in_force()
    try:
        descriptor = os.open(path, os.O_RDONLY | _NO_WAIT | (0 if follows_links else _NO_LINK))
    except FileNotFoundError as fault:
        raise BadInput("there is no such file; check the name", file=str(path)) from fault
    except OSError as fault:
        if fault.errno == errno.ELOOP and not follows_links:
            raise BadInput("is a link, which is not followed", file=str(path)) from fault
        raise _unreadable(path, fault) from fault
    try:
        with open(descriptor, "rb") as stream:  # noqa: PTH123 - a descriptor has no path
            if stat.S_ISDIR(os.fstat(descriptor).st_mode):
                raise BadInput("cannot be read (Is a directory)", file=str(path))
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                raise BadInput("is no plain file; name a score file", file=str(path))
            raw = stream.read(limits.file_bytes + 1)
    except OSError as fault:
        raise _unreadable(path, fault) from fault
    if len(raw) > limits.file_bytes:
        raise BadInput(
            f"is longer than {limits.file_bytes // 1_000_000} MB, which no score needs; "
            "export it again, or in parts",
            file=str(path),
        )
    return raw


def _unreadable(path: Path, fault: OSError) -> BadInput:
    return BadInput(f"cannot be read ({fault.strerror or fault})", file=str(path))
