"""Writing that survives: whole or not at all, and on the disk before anybody relies on it."""

import contextlib
import errno
import itertools
import os
import secrets
import shutil
from pathlib import Path

_BINARY: int = getattr(os, "O_BINARY", 0)  # Windows translates line ends without it

#: Device, file number, size and time of change: tells whether a file is still the one we left.
Stamp = tuple[int, int, int, int]

_UNFINISHED = ".unfinished"

_FORBIDDEN = (errno.EACCES, errno.EPERM)
_PLAIN_REASONS: dict[int, str] = {
    **dict.fromkeys((errno.ENOSPC, errno.EDQUOT), "the disk is full; make room"),
    errno.EFBIG: "the file is as large as this disk allows",
    **dict.fromkeys(_FORBIDDEN, "it may not be written; check the permissions of the file and its folder"),
    errno.EROFS: "the disk can only be read; use another folder",
    errno.ENOENT: "the file or its folder is gone",
    errno.EEXIST: "another program made it just now; try again",
    errno.ENOTDIR: "its folder is not a folder",
    errno.EISDIR: "that is a folder; name a file in it",
    errno.EIO: "the disk does not answer",
    errno.ENODEV: "the disk is gone",
}


def plain_reason(error: OSError) -> str:
    """Return why the system refused, in words a cook can act on."""
    if os.name == "nt" and error.errno in _FORBIDDEN:
        return "it may not be written; close it in other programs, a spreadsheet locks it, or check its permissions"
    return _PLAIN_REASONS.get(error.errno or 0) or error.strerror or str(error) or type(error).__name__


def stamp_at(path: str) -> Stamp | None:
    """Return the stamp of the file at a path, or None when there is none."""
    with contextlib.suppress(OSError):
        found = os.stat(path)
        return (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
    return None


def append_to(path: str, data: bytes, stamp: Stamp | None) -> Stamp | None:
    """Write data at the end of a file that was left with this stamp, and flush it to the disk.

    If it cannot be written whole, the file gets its old end back. The stamp returned is that of the file with the data
    in it: whatever another program does to it after that shows as a change. Where there was no file, and so no stamp,
    the data is put there whole and in the place of no other's; of that no stamp is known yet.

    Raises
    ------
    OSError
        When the system refuses, or the file was taken away or emptied meanwhile.
    """
    if stamp is None:
        put_file(path, data, new=True)
        return None
    offset = stamp[2]
    file = os.open(path, os.O_RDWR | os.O_APPEND | _BINARY)
    try:
        try:
            _write_whole(file, data)
            flush_to_disk(file)
        except OSError:
            _restore(file, offset, data)
            raise
        written = os.fstat(file)
        if written.st_size != offset + len(data) and data not in Path(path).read_bytes():
            raise FileNotFoundError(errno.ENOENT, "changed by another program while it was written")
    finally:
        os.close(file)
    if (now := stamp_at(path)) is None or now[:2] != (written.st_dev, written.st_ino):
        raise FileNotFoundError(errno.ENOENT, "taken away while it was written")
    return (written.st_dev, written.st_ino, offset + len(data), written.st_mtime_ns)


def put_file(path: str, data: bytes, *, new: bool = False, keep_old: bool = False, private: bool = False) -> None:
    """Put a file with this content in place at once, whole or not at all; a device or a pipe is written to.

    A `new` one takes the place of none: what another program put there meanwhile stays. With `keep_old` a copy of the
    old file stays beside it, as .bak, and so does every older one. A `private` file is for its owner alone.

    Raises
    ------
    OSError
        When the system refuses; the file is as it was.
    """
    if not new and os.path.exists(path) and not os.path.isfile(path):
        with open(path, "wb") as there:
            there.write(data)
        return
    folder, base = os.path.split(path)
    temporary = os.path.join(folder, f".{base[:100]}.{secrets.token_hex(4)}{_UNFINISHED}")
    file = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o600 if private else 0o666)
    try:
        try:
            _write_whole(file, data)
            flush_to_disk(file)
        finally:
            os.close(file)
        if not (new or private) and os.path.exists(path):
            shutil.copymode(path, temporary)
        if keep_old:
            names = itertools.chain([f"{path}.bak"], (f"{path}.bak{number}" for number in itertools.count(2)))
            shutil.copy2(path, next(name for name in names if not os.path.lexists(name)))
        if new:
            _name_new(temporary, path)
        else:
            os.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    flush_folder(path)


def _name_new(temporary: str, path: str) -> None:
    """Give a whole file a name that no other has, or raise; a disk without links has an empty file there first."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise
    except (OSError, AttributeError, NotImplementedError):
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
        os.replace(temporary, path)
    else:
        with contextlib.suppress(OSError):
            os.unlink(temporary)


def remove_leftovers(path: str) -> None:
    """Remove what a killed `put_file` left beside a file; only for who holds the lock on it."""
    folder, base = os.path.split(path)
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):
            if name.startswith(f".{base}.") and name.endswith(_UNFINISHED):
                os.unlink(os.path.join(folder, name))


def flush_to_disk(file: int) -> None:
    """Wait until a file is on the disk; on macOS fsync alone stops at the disk's cache (its fcntl(2))."""
    try:
        import fcntl

        full_sync: int = fcntl.F_FULLFSYNC  # type: ignore[attr-defined,unused-ignore]
        fcntl.fcntl(file, full_sync)
    except (ImportError, AttributeError, OSError):
        os.fsync(file)


def flush_folder(path: str) -> None:
    """Wait until the name of a file is on the disk, where the system can do that."""
    with contextlib.suppress(OSError):
        folder = os.open(os.path.dirname(path) or ".", os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _write_whole(file: int, data: bytes) -> None:
    """One write; a second only where the system took less than it was given, to learn why."""
    written = os.write(file, data)
    while written < len(data):
        written += os.write(file, data[written:])


def _restore(file: int, offset: int, data: bytes) -> None:
    """Take off again what was written of the data; failing that, a torn tail is left, which the log repairs."""
    with contextlib.suppress(OSError):
        if os.fstat(file).st_size < offset:
            return  # another program emptied it: there is no end to put back
        os.lseek(file, offset, os.SEEK_SET)
        if data.startswith(os.read(file, len(data) + 1)):  # else another program wrote too
            os.ftruncate(file, offset)
            os.fsync(file)
