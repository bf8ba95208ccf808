"""Analyses are kept as long as the file and the analysis stay the same, and never fail a run."""

from __future__ import annotations

import io
import json
import multiprocessing
import os
import pickle
import tempfile
import time
from dataclasses import replace
from hashlib import blake2b
from multiprocessing.synchronize import Barrier
from pathlib import Path

import numpy as np
import platformdirs
import pytest

from mltassist.media import held
from mltassist.media.cache import Analysis, Arrays, Store, default_store, remembered, state_of

COUNT = "written.analysis-count"
LEVELS = Analysis("levels", 1, (("hop_s", 0.1), ("channel", 0), ("weighting", "K")))


class Computing:
    """An analysis that counts how often it is done."""

    def __init__(self, arrays: Arrays | None = None) -> None:
        self.arrays = {"levels": np.arange(6.0).reshape(2, 3)} if arrays is None else arrays
        self.times = 0

    def __call__(self) -> Arrays:
        self.times += 1
        return self.arrays


@pytest.fixture
def media(tmp_path: Path) -> Path:
    file = tmp_path / "interview.wav"
    file.write_bytes(bytes(range(256)) * 2048)  # 512 KiB: more than the three samples
    os.utime(file, ns=(10**18, 10**18))
    return file


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "store" / "inner")


def entries(store: Store) -> list[Path]:
    """All files in the folder, temporary ones too, but for the one that counts."""
    assert store.folder is not None
    found = store.folder.iterdir() if store.folder.is_dir() else ()
    return sorted(file for file in found if file.name != COUNT)


def overwrite(file: Path, offset: int, content: bytes) -> None:
    """Change content, but neither the size nor the time of change."""
    before = file.stat()
    with file.open("r+b") as opened:
        opened.seek(offset)
        opened.write(content)
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert (file.stat().st_size, file.stat().st_mtime_ns) == (before.st_size, before.st_mtime_ns)


def test_a_hit_does_not_compute_and_gives_the_same_arrays(media: Path, store: Store) -> None:
    computing = Computing(
        {
            "levels": np.array([[1.5, -np.inf, np.nan]], dtype=np.float32),
            "file": np.asfortranarray(np.arange(6, dtype=">i2").reshape(2, 3)),
            "spans/of speech": np.zeros((0, 2), dtype=np.int64),
            "ünï\n": np.array("text"),
        }
    )
    first = remembered(media, LEVELS, computing, store=store)
    second = remembered(media, LEVELS, computing, store=store)
    assert computing.times == 1
    assert list(second) == list(first)
    for name, array in first.items():
        assert second[name].dtype == array.dtype
        np.testing.assert_array_equal(second[name], array, strict=True)
    assert len(entries(store)) == 1


def test_an_analysis_that_finds_nothing_is_remembered_too(media: Path, store: Store) -> None:
    computing = Computing({})
    assert remembered(media, LEVELS, computing, store=store) == {}
    assert remembered(media, LEVELS, computing, store=store) == {}
    assert computing.times == 1


def test_the_order_of_parameters_does_not_matter(media: Path, store: Store) -> None:
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    remembered(media, replace(LEVELS, parameters=LEVELS.parameters[::-1]), computing, store=store)
    assert computing.times == 1


@pytest.mark.parametrize(
    "other",
    [
        replace(LEVELS, name="level"),
        replace(LEVELS, version=2),
        replace(LEVELS, parameters=()),
        replace(LEVELS, parameters=(("hop_s", 0.2), *LEVELS.parameters[1:])),
        replace(LEVELS, parameters=(*LEVELS.parameters[:1], ("channel", 0.0), LEVELS.parameters[2])),
        replace(LEVELS, parameters=(*LEVELS.parameters[:1], ("channel", "0"), LEVELS.parameters[2])),
    ],
)
def test_another_analysis_is_computed(media: Path, store: Store, other: Analysis) -> None:
    first, second = Computing({"a": np.zeros(1)}), Computing({"a": np.ones(1)})
    remembered(media, LEVELS, first, store=store)
    assert remembered(media, other, second, store=store)["a"] == 1
    assert second.times == 1
    assert remembered(media, LEVELS, first, store=store)["a"] == 0
    assert first.times == 1


def test_what_is_held_is_unharmed_and_goes_with_the_file_and_the_entry(
    media: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(held, "_SETTLED_NS", 0)
    computing = Computing({"levels": np.arange(4)})
    remembered(media, LEVELS, computing, store=store)
    for _ in range(3):  # read once, then held
        taken = remembered(media, LEVELS, computing, store=store)["levels"]
        assert taken.tolist() == [0, 1, 2, 3]
        taken[:] = 9
    assert computing.times == 1
    (entry,) = entries(store)
    entry.write_bytes(entry.read_bytes()[:-1] + b"x")
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == 2
    time.sleep(0.02)  # longer than the step of the clock that files are stamped by
    overwrite(media, 0, b"new!")
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == (2 if os.name == "nt" else 3)  # where no such change is stamped


@pytest.mark.parametrize("offset", [0, 256 * 1024, 512 * 1024 - 4], ids=["first", "middle", "last"])
def test_changed_content_is_computed_even_with_size_and_time_kept(
    media: Path, store: Store, offset: int
) -> None:
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    overwrite(media, offset, b"new!")
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == 2


@pytest.mark.parametrize("size", [1, 65 * 1024, 130 * 1024, 192 * 1024])
def test_a_short_file_is_sampled_wholly(media: Path, store: Store, size: int) -> None:
    media.write_bytes(bytes(size))
    computing = Computing()
    for offset in range(0, size, 16 * 1024 - 1):
        overwrite(media, offset, b"\x01")
        before = computing.times
        remembered(media, LEVELS, computing, store=store)
        assert computing.times == before + 1


def test_another_time_of_change_is_computed(media: Path, store: Store) -> None:
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    os.utime(media, ns=(10**18, 10**18 + 1000))
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == 2


def test_another_size_is_computed(media: Path, store: Store) -> None:
    media.write_bytes(bytes(300 * 1024))
    os.utime(media, ns=(10**18, 10**18))
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    media.write_bytes(bytes(300 * 1024 + 1))  # all samples are the same
    os.utime(media, ns=(10**18, 10**18))
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == 2


def test_a_link_is_the_file_that_it_leads_to(tmp_path: Path, media: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to(media)
    assert state_of(link) == state_of(media)
    assert state_of(media) is not None


def test_another_path_is_computed(media: Path, store: Store) -> None:
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    remembered(media.rename(media.with_name("moved.wav")), LEVELS, computing, store=store)
    assert computing.times == 2


def signed(content: bytes) -> bytes:
    """Content with a checksum that is right."""
    return blake2b(content, digest_size=20).digest() + content


def damaged(kind: str, entry: bytes) -> bytes:
    key, names, body = entry[20:].split(b"\n", 2)
    objects = io.BytesIO()
    np.savez(objects, np.array([{"a": 1}], dtype=object))
    flipped = bytearray(entry)
    flipped[len(entry) // 2] ^= 1
    return {
        "empty": b"",
        "truncated": entry[:-1],
        "cut in the checksum": entry[:7],
        "garbage": bytes(range(256)) * 8,
        "one bit": bytes(flipped),
        "another array name": entry.replace(b'["levels"]', b'["lewels"]'),
        "pickle": pickle.dumps({"levels": [1.0]}),
        "signed pickle": signed(b"\n".join((key, names, pickle.dumps({"levels": [1.0]})))),
        "signed objects": signed(b"\n".join((key, names, objects.getvalue()))),
        "signed without body": signed(b"\n".join((key, names, b""))),
        "signed half body": signed(b"\n".join((key, names, body[: len(body) // 2]))),
        "signed without lines": signed(b"levels"),
        "signed, more names": signed(b"\n".join((key, json.dumps(["a", "b"]).encode(), body))),
        "signed, another key": signed(b"\n".join((key.replace(b"levels", b"speech"), names, body))),
    }[kind]


@pytest.mark.parametrize(
    "kind",
    [
        "empty",
        "truncated",
        "cut in the checksum",
        "garbage",
        "one bit",
        "another array name",
        "pickle",
        "signed pickle",
        "signed objects",
        "signed without body",
        "signed half body",
        "signed without lines",
        "signed, more names",
        "signed, another key",
    ],
)
def test_a_damaged_entry_is_computed_again_and_healed(media: Path, store: Store, kind: str) -> None:
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    (entry,) = entries(store)
    whole = entry.read_bytes()
    entry.write_bytes(damaged(kind, whole))
    assert entry.read_bytes() != whole
    result = remembered(media, LEVELS, computing, store=store)
    assert computing.times == 2
    np.testing.assert_array_equal(result["levels"], computing.arrays["levels"])
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == 2
    assert entries(store) == [entry]


def test_arrays_of_objects_are_refused(store: Store) -> None:
    with pytest.raises(ValueError, match="Python objects"):
        store.write("key", {"a": np.array([{}], dtype=object)})
    assert entries(store) == []


def write_and_read(folder: Path, media: Path, mark: int, barrier: Barrier) -> None:
    """Run by a process of its own: fails, by its exit code, on anything but whole entries."""
    store = Store(folder)
    barrier.wait(timeout=30)
    remembered(media, LEVELS, lambda: {"levels": np.full(50_000, mark)}, store=store)
    for count in range(50):
        store.write("shared", {"levels": np.full(50_000, mark + 2 * count)})
        found = store.read("shared")
        assert found is not None
        assert found["levels"].shape == (50_000,)
        assert np.all(found["levels"] == found["levels"][0])


def test_two_processes_at_once_see_whole_entries(media: Path, store: Store) -> None:
    spawn = multiprocessing.get_context("spawn")
    barrier = spawn.Barrier(2)
    processes = [
        spawn.Process(target=write_and_read, args=(store.folder, media, mark, barrier)) for mark in (0, 1)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join(timeout=60)
    assert [process.exitcode for process in processes] == [0, 0]
    assert [entry.suffix for entry in entries(store)] == [".analysis"] * 2
    computing = Computing()
    levels = remembered(media, LEVELS, computing, store=store)["levels"]
    assert computing.times == 0
    assert levels[0] in (0, 1)
    assert np.all(levels == levels[0])


@pytest.mark.parametrize("below", ["", "inner"])
def test_a_folder_that_cannot_be_made_keeps_nothing_and_fails_nothing(
    media: Path, tmp_path: Path, below: str
) -> None:
    blocked = tmp_path / "a file"
    blocked.write_bytes(b"mine")
    computing = Computing()
    for _ in range(2):
        result = remembered(media, LEVELS, computing, store=Store(blocked / below))
        np.testing.assert_array_equal(result["levels"], computing.arrays["levels"])
    assert computing.times == 2
    assert blocked.read_bytes() == b"mine"


def test_a_folder_that_can_only_be_read_still_gives_what_it_has(
    media: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    computing = Computing()
    remembered(media, LEVELS, computing, store=store)
    before = entries(store)

    def refuse(*_args: object, **_kwargs: object) -> None:
        raise PermissionError("read-only")

    monkeypatch.setattr(os, "utime", refuse)
    monkeypatch.setattr(tempfile, "mkstemp", refuse)
    remembered(media, LEVELS, computing, store=store)
    assert computing.times == 1
    remembered(media, replace(LEVELS, version=2), computing, store=store)
    assert computing.times == 2
    assert entries(store) == before


def test_off_keeps_nothing(media: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", "Off")
    monkeypatch.chdir(tmp_path)
    assert default_store().folder is None
    computing = Computing()
    remembered(media, LEVELS, computing)
    remembered(media, LEVELS, computing)
    assert computing.times == 2
    assert list(tmp_path.iterdir()) == [media]


def test_the_environment_names_the_folder(
    media: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", str(tmp_path / "named"))
    assert default_store() == Store(tmp_path / "named", 512 * 2**20)
    computing = Computing()
    remembered(media, LEVELS, computing)
    remembered(media, LEVELS, computing)
    assert computing.times == 1
    assert len(entries(default_store())) == 1


@pytest.mark.parametrize("value", [None, "", " "])
def test_without_a_setting_the_cache_folder_of_the_user_serves(
    monkeypatch: pytest.MonkeyPatch, value: str | None
) -> None:
    monkeypatch.delenv("MLTASSIST_CACHE", raising=False)
    if value is not None:
        monkeypatch.setenv("MLTASSIST_CACHE", value)
    assert default_store().folder == platformdirs.user_cache_path("mltassist")


def test_a_home_folder_in_the_setting_is_found_or_the_store_is_off(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MLTASSIST_CACHE", "~/kept")
    assert default_store().folder == Path.home() / "kept"
    monkeypatch.setenv("MLTASSIST_CACHE", "~no-such-user-here/kept")
    assert default_store().folder is None


def test_the_entries_used_last_stay_and_the_bound_holds(tmp_path: Path) -> None:
    content = {"a": np.zeros(1000)}
    store = Store(tmp_path / "store")
    for number in range(32):
        store.write(f"key {number}", content)
    size = entries(store)[0].stat().st_size
    small = replace(store, limit_bytes=32 * size + 10)
    assert small.read("key 0") is not None  # used again: now key 1 is the oldest
    for number in (32, 33):
        small.write(f"key {number}", content)
        assert sum(entry.stat().st_size for entry in entries(small)) <= small.limit_bytes
    kept = [number for number in range(34) if small.read(f"key {number}") is not None]
    assert kept == [0, *range(4, 34)]  # a sixteenth more than needed has gone, and then there was room


def test_no_more_entries_than_may_be(tmp_path: Path) -> None:
    small = Store(tmp_path / "store", limit_entries=32)
    for number in range(100):
        small.write(f"key {number}", {})
        assert len(entries(small)) <= 32
        assert small.read(f"key {number}") is not None
    assert len(entries(small)) > 28
    assert all(small.read(f"key {number}") is not None for number in range(73, 100))


class Looks:
    """Counts how often a folder is looked through."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.times, self._scandir = 0, os.scandir
        monkeypatch.setattr(os, "scandir", self)

    def __call__(self, folder: Path) -> object:
        self.times += 1
        return self._scandir(folder)


def test_a_folder_is_looked_through_rarely(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looks = Looks(monkeypatch)
    store = Store(tmp_path / "store")
    for number in range(3000):
        store.write(f"key {number}", {})
    assert looks.times == 3  # at first, and after every thousand
    full = replace(store, limit_entries=3000)
    for number in range(3000, 3500):
        full.write(f"key {number}", {})
    assert looks.times <= 3 + 4  # a sixteenth of the entries has gone each time


@pytest.mark.parametrize("content", [b"", b"12345", bytes(8), bytes(8 * 5000), b"\xff" * 24])
def test_a_count_that_says_nothing_is_made_anew(tmp_path: Path, content: bytes) -> None:
    store = Store(tmp_path, limit_entries=16)
    for number in range(30):
        (tmp_path / COUNT).write_bytes(content)
        store.write(f"key {number}", {})
        assert len(entries(store)) <= 16
    assert (tmp_path / COUNT).stat().st_size < 100


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
@pytest.mark.parametrize("kind", ["pipe", "folder", "link"])
def test_entries_that_are_no_plain_files_are_neither_opened_nor_removed(tmp_path: Path, kind: str) -> None:
    store = Store(tmp_path, limit_entries=4)
    store.write("key", {})
    (entry,) = entries(store)
    entry.rename(tmp_path / "elsewhere")
    {"pipe": os.mkfifo, "folder": os.mkdir, "link": lambda at: at.symlink_to("elsewhere")}[kind](entry)
    (tmp_path / COUNT).unlink()
    if kind == "pipe":
        os.mkfifo(tmp_path / COUNT)
    assert store.read("key") is None
    for number in range(20):
        store.write(f"other {number}", {})
    assert os.path.lexists(entry)
    assert store.read("other 19") is not None
    assert len(entries(store)) <= 4 + 2


def test_what_is_larger_than_the_bound_pushes_nothing_out(store: Store) -> None:
    small = replace(store, limit_bytes=2000)
    small.write("small", {"a": np.zeros(10)})
    small.write("large", {"a": np.zeros(1000)})
    assert small.read("large") is None
    assert small.read("small") is not None


def test_only_files_of_the_store_are_removed(tmp_path: Path) -> None:
    store = Store(tmp_path, limit_bytes=2000)
    own = [tmp_path / name for name in ("film.kdenlive", "notes.analysis", "x.npz", "new1.analysis-part")]
    for file in own:
        file.write_bytes(bytes(5000))
    abandoned = tmp_path / "old1.analysis-part"
    abandoned.write_bytes(b"part")
    os.utime(abandoned, (1, 1))
    for number in range(5):
        store.write(f"key {number}", {"a": np.zeros(100)})
    assert all(file.stat().st_size == 5000 for file in own)
    assert not abandoned.exists()
    assert store.read("key 4") is not None
    assert store.read("key 0") is None


def test_a_failing_analysis_passes_its_error_on_and_leaves_no_files(media: Path, store: Store) -> None:
    def fail() -> Arrays:
        raise RuntimeError("no sound")

    remembered(media, LEVELS, Computing(), store=store)
    before = entries(store)
    with pytest.raises(RuntimeError, match="no sound"):
        remembered(media, replace(LEVELS, version=2), fail, store=store)
    assert entries(store) == before


@pytest.mark.parametrize("error", [OSError, KeyboardInterrupt])
def test_failing_to_put_an_entry_in_place_leaves_no_files(
    media: Path, store: Store, monkeypatch: pytest.MonkeyPatch, error: type[BaseException]
) -> None:
    def refuse(_part: Path, _target: Path) -> None:
        raise error

    monkeypatch.setattr(Path, "replace", refuse)
    computing = Computing()
    if error is KeyboardInterrupt:
        with pytest.raises(KeyboardInterrupt):
            remembered(media, LEVELS, computing, store=store)
    else:
        assert remembered(media, LEVELS, computing, store=store) is computing.arrays
    assert entries(store) == []


def test_a_file_that_changes_during_the_analysis_is_not_kept(media: Path, store: Store) -> None:
    def compute() -> Arrays:
        with media.open("ab") as recording:
            recording.write(b"more")
        return {"a": np.zeros(1)}

    assert remembered(media, LEVELS, compute, store=store)["a"] == 0
    assert entries(store) == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_what_is_no_plain_file_is_left_to_the_analysis(tmp_path: Path, store: Store) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name in ("missing.wav", ".", "pipe"):
        computing = Computing()
        assert remembered(tmp_path / name, LEVELS, computing, store=store) is computing.arrays
        assert computing.times == 1
    assert entries(store) == []
