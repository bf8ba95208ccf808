"""Results of slow analyses, kept between runs as long as the media file stays the same.

An entry belongs to one state of one file (its path, size, time of change and a sample of its content)
and to one analysis (name, version, parameters). It is a file of its own that holds a checksum, two
lines of JSON (what it belongs to; the names of its arrays) and the arrays as npz. Entries come into
being whole, by renaming, so any number of processes may share a folder. The cache never fails a run:
what cannot be read is computed, what cannot be written is not kept.

A small file beside the entries counts what has been written since the folder was last looked through, so
that a write costs the same however many there are. Processes that write at once may count a little less
than there is; the next look at the folder finds it.
"""

from __future__ import annotations

import io
import json
import os
import re
import stat
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
import platformdirs
from numpy.typing import NDArray

from mltassist.files import named, open_ordinary, ordinary, real_path
from mltassist.media.alone import alone
from mltassist.media.held import Held, settled_state

Arrays = dict[str, NDArray[Any]]

LIMIT_BYTES = 512 * 2**20
LIMIT_ENTRIES = 20_000
"""A series of five hundred files has so many; to look through them takes a third of a second."""
_ROOM = 16
"""When a limit is passed, this part of it is freed besides: the next look at the folder is that far off."""
_UNSEEN = 1024
"""So many writes are counted before the folder is looked through at the latest."""
_COUNT_NAME = "written.analysis-count"
_NUMBER_BYTES = 8
_LAYOUT = 1
_SAMPLE_BYTES = 64 * 2**10
_DIGEST_BYTES = 20
_ARRAYS: Held[Arrays] = Held(32 * 2**20, 2000)
_SAMPLES: Held[str] = Held(2**20, 4000)
# The folder may be one the user chose, with other files in it: only names of these forms are touched.
_ENTRY_NAME = re.compile(rf"[0-9a-f]{{{2 * _DIGEST_BYTES}}}\.analysis")
_PART_NAME = re.compile(r"\w+\.analysis-part")
# Writing takes moments: a part this old was left by a process that was killed.
_ABANDONED_NS = 3600 * 10**9


@dataclass(frozen=True, slots=True)
class Analysis:
    """What was done to the file. Raise `version` whenever the same input would give another result.

    The order of the `parameters` does not matter; 1, 1.0 and "1" are three different values.
    """

    name: str
    version: int
    parameters: tuple[tuple[str, str | int | float], ...] = ()


@dataclass(frozen=True, slots=True)
class Store:
    """A folder of entries; with the folder None nothing is found and nothing is kept.

    The entries together stay within `limit_bytes` and `limit_entries`: those not used for longest go first.
    """

    folder: Path | None
    limit_bytes: int = LIMIT_BYTES
    limit_entries: int = LIMIT_ENTRIES

    def read(self, key: str) -> Arrays | None:
        """The arrays kept under this one-line key; None when there are none or the entry is damaged."""
        if self.folder is None:
            return None
        entry = self.folder / _entry_name(key)
        try:
            return _entry(entry, key)
        except (OSError, ValueError, KeyError, EOFError, BadZipFile):
            return None

    def write(self, key: str, arrays: Arrays) -> None:
        """Keep these arrays under this one-line key, if the folder can be written and they fit in it.

        Raises ValueError for arrays of Python objects, which could not be read back safely.
        """
        if any(array.dtype.hasobject for array in arrays.values()):
            raise ValueError("arrays of Python objects cannot be kept; turn them into numbers or text")
        if self.folder is None:
            return
        packed = _packed(key, arrays)
        if len(packed) > self.limit_bytes:
            return
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            _write_whole(self.folder / _entry_name(key), packed)
            if not self._has_room(self.folder, len(packed)):
                _write_whole(self.folder / _COUNT_NAME, _numbers(*self._prune(self.folder)))

    def _has_room(self, folder: Path, size: int) -> bool:
        """Count an entry of so many bytes; False when the folder has to be looked through."""
        counted = folder / _COUNT_NAME
        try:
            content = _content(counted)
            with counted.open("ab") as file:
                file.write(_numbers(size))
        except OSError:
            return False
        numbers = [
            int.from_bytes(content[at : at + _NUMBER_BYTES]) for at in range(0, len(content), _NUMBER_BYTES)
        ]
        if len(content) % _NUMBER_BYTES or not 2 <= len(numbers) < _UNSEEN:
            return False
        seen_bytes, seen, *written = numbers
        total_bytes, total = seen_bytes + sum(written) + size, seen + len(written) + 1
        return total_bytes <= self.limit_bytes and total <= self.limit_entries

    def _prune(self, folder: Path) -> tuple[int, int]:
        """Remove abandoned parts, and the entries not used for longest; bytes and number of what stays.

        Where they pass a limit they are brought so far under it that the next look at the folder is far off.
        """
        entries = _entries(folder)
        total_bytes, total = sum(size for _, size, _ in entries), len(entries)
        if total_bytes <= self.limit_bytes and total <= self.limit_entries:
            return total_bytes, total
        most_bytes, most = (limit - limit // _ROOM for limit in (self.limit_bytes, self.limit_entries))
        for _, size, entry in sorted(entries)[:-1]:  # the last one has just been written
            if total_bytes <= most_bytes and total <= most:
                break
            # One that is open elsewhere cannot be removed on some systems: the next one goes in its place.
            with suppress(PermissionError):
                entry.unlink(missing_ok=True)
                total_bytes, total = total_bytes - size, total - 1
        return total_bytes, total


def default_store() -> Store:
    """The user's store: in the folder that MLTASSIST_CACHE names, else in the user's cache folder.

    MLTASSIST_CACHE=off turns it off. A home folder (~name) that does not exist does so too.
    """
    wanted = os.environ.get("MLTASSIST_CACHE", "").strip()
    if wanted.lower() == "off":
        return Store(None)
    if not wanted:
        return Store(platformdirs.user_cache_path("mltassist"))
    try:
        return Store(Path(wanted).expanduser())
    except RuntimeError:
        return Store(None)


def remembered(
    path: Path, analysis: Analysis, compute: Callable[[], Arrays], *, store: Store | None = None
) -> Arrays:
    """What `compute` gives for the file at `path`, from the store when it was computed before.

    `compute` must depend on nothing but the file and what `analysis` names; of several processes that want
    the same at once one computes it. Its errors pass through and
    nothing is kept then. A file changed in the middle only, with its size and time of change kept, is
    taken for unchanged.
    """
    store = default_store() if store is None else store
    key = None if store.folder is None else _key(path, analysis)
    if key is None:
        return compute()
    kept = store.read(key)
    if kept is not None or store.folder is None:
        return kept if kept is not None else compute()
    with alone(store.folder, key):
        kept = store.read(key)  # by another process, meanwhile
        if kept is not None:
            return kept
        arrays = compute()
        # A recording may still be running, or an export: the result then belongs to neither state.
        if _key(path, analysis) == key:
            store.write(key, arrays)
    return arrays


def state_of(path: Path) -> str | None:
    """A line that tells this state of a file from all others; None if the file cannot be read.

    For what is found out about two files together: the one is given to `remembered`, the state of the other
    is a parameter of the analysis.
    """
    return _key(path, Analysis("", 0))


def _key(path: Path, analysis: Analysis) -> str | None:
    """One line of JSON for this state of the file and this analysis; None if the file cannot be read."""
    try:
        state = ordinary(path)
        unchanged = settled_state(state)
        sample = None if unchanged is None else _SAMPLES.get(path, unchanged)
        if sample is None:
            sample = _content_sample(path, state.st_size)
        if unchanged is not None:
            _SAMPLES.put(path, unchanged, sample, len(sample))
    except OSError:
        return None
    return json.dumps(
        {
            "layout": _LAYOUT,
            "path": str(real_path(Path(named(str(path))), state)),
            "size": state.st_size,
            "mtime_ns": state.st_mtime_ns,
            "sample": sample,
            "analysis": analysis.name,
            "version": analysis.version,
            "parameters": sorted(analysis.parameters, key=lambda parameter: parameter[0]),
        }
    )


def _content_sample(path: Path, size: int) -> str:
    """Digest of the first, middle and last 64 KiB: all of it for files up to three times that."""
    digest = blake2b(digest_size=_DIGEST_BYTES)
    with open_ordinary(path) as file:
        for start in (0, (size - _SAMPLE_BYTES) // 2, size - _SAMPLE_BYTES):
            file.seek(max(0, start))
            digest.update(file.read(_SAMPLE_BYTES))
    return digest.hexdigest()


def _entry_name(key: str) -> str:
    return blake2b(key.encode(), digest_size=_DIGEST_BYTES).hexdigest() + ".analysis"


def _packed(key: str, arrays: Arrays) -> bytes:
    # Arrays go by position, since npz gives some names a meaning of its own.
    body = io.BytesIO()
    np.savez(body, *arrays.values())
    content = b"\n".join((key.encode(), json.dumps(list(arrays)).encode(), body.getvalue()))
    return blake2b(content, digest_size=_DIGEST_BYTES).digest() + content


def _entry(entry: Path, key: str) -> Arrays:
    """The arrays of an entry, which is marked as used; errors as of `_content` and `_unpacked`.

    Read here before, they are as they were while the entry has the mark that was put on it then.
    """
    found = entry.lstat()
    arrays = _ARRAYS.get(entry, (key, found.st_ino, found.st_size, found.st_mtime_ns))
    if arrays is None:
        arrays = _unpacked(_content(entry), key)
    with suppress(OSError):
        _mark_used(entry)
        left = entry.lstat()
        state = key, left.st_ino, left.st_size, left.st_mtime_ns
        _ARRAYS.put(entry, state, arrays, sum(array.nbytes for array in arrays.values()))
    return {name: array.copy() for name, array in arrays.items()}


def _unpacked(packed: bytes, key: str) -> Arrays:
    """The arrays of an entry; ValueError, KeyError, EOFError or BadZipFile when it is damaged."""
    checksum, content = packed[:_DIGEST_BYTES], packed[_DIGEST_BYTES:]
    if blake2b(content, digest_size=_DIGEST_BYTES).digest() != checksum:
        raise ValueError("the checksum is wrong")
    found_key, names, body = content.split(b"\n", 2)
    if found_key != key.encode():
        raise ValueError("the entry belongs to something else")
    with np.load(io.BytesIO(body), allow_pickle=False) as members:
        return {name: members[f"arr_{number}"] for number, name in enumerate(json.loads(names))}


def _write_whole(target: Path, content: bytes) -> None:
    """Put a file in place in one step: others see the old one or the new one, never a part."""
    handle, name = tempfile.mkstemp(suffix=".analysis-part", dir=target.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        _mark_used(part)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def _mark_used(entry: Path) -> None:
    # The time of change serves, since many systems do not keep the time of access. The clock of the
    # process is finer than the one by which the system stamps files.
    now_ns = time.time_ns()
    os.utime(entry, ns=(now_ns, now_ns))


def _content(file: Path) -> bytes:
    """What a file of ours holds. Raises OSError for anything but a regular file: a pipe is never opened."""
    if not stat.S_ISREG(file.lstat().st_mode):
        raise OSError(f"{file} is not a regular file")
    return file.read_bytes()


def _numbers(*numbers: int) -> bytes:
    return b"".join(number.to_bytes(_NUMBER_BYTES) for number in numbers)


def _entries(folder: Path) -> list[tuple[int, int, Path]]:
    """Time of last use, bytes and path of every entry; abandoned parts are removed on the way."""
    entries: list[tuple[int, int, Path]] = []
    abandoned_before_ns = time.time_ns() - _ABANDONED_NS
    with os.scandir(folder) as found:
        for file in found:
            is_part = _PART_NAME.fullmatch(file.name) is not None
            if not is_part and _ENTRY_NAME.fullmatch(file.name) is None:
                continue
            # Another process may have removed it since it was listed.
            with suppress(FileNotFoundError):
                state = file.stat(follow_symlinks=False)
                if not stat.S_ISREG(state.st_mode):
                    continue
                if not is_part:
                    entries.append((state.st_mtime_ns, state.st_size, Path(file.path)))
                elif state.st_mtime_ns < abandoned_before_ns:
                    Path(file.path).unlink()
    return entries
