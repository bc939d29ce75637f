"""One program at a time writes into a folder of results."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from arrange.errors import BadInput
from arrange.report.targets import CannotWrite

FILE = "bulk.lock"


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Hold the folder; the system lets go of it even where this program is killed.

    Raises:
        BadInput: another program holds it.
        CannotWrite: the folder cannot be written.
    """
    path = folder / FILE
    try:
        folder.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        raise CannotWrite(path, error) from error
    try:
        if not _locked(descriptor):
            raise BadInput(
                "another run is writing into this folder; wait for it", file=str(folder)
            )
        try:
            yield
        finally:
            with suppress(OSError):
                path.unlink()
    finally:
        os.close(descriptor)


def _locked(descriptor: int) -> bool:
    try:
        import fcntl  # noqa: PLC0415 - not every system has it
    except ImportError:
        return _locked_elsewhere(descriptor)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _locked_elsewhere(descriptor: int) -> bool:
    import msvcrt  # noqa: PLC0415 - as above

    try:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined] # of that system
    except OSError:
        return False
    return True
