"""Headers are read without opening what a file names in its turn."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest
from pymediainfo import MediaInfo

from mltassist.errors import MediaError
from mltassist.media import probe as probing
from mltassist.media.apart import Apart
from mltassist.media.headers import Blotted, is_list
from mltassist.media.probe import probe
from tests.cli.films import EXAMPLE

FILM = EXAMPLE / "media/interview/ines.mp4"


def alias(name: str) -> bytes:
    """A QuickTime entry for media in another file: an alias record, version 2, with its usual fields blank.

    Layout from memory of the record's published fields; that the library follows it is tested below.
    """
    record = b"\0\2\0\0" + b"\3vol".ljust(28, b"\0") + bytes(4) + b"H+" + bytes(6)
    record += (bytes([len(name)]) + name.encode()).ljust(64, b"\0")
    record += bytes(16) + b"\xff" * 4 + bytes(16)
    for kind, text in ((2, f"vol:{name}".encode()), (18, f"/{name}".encode()), (19, b"/")):
        record += kind.to_bytes(2) + len(text).to_bytes(2) + text + bytes(len(text) % 2)
    record += b"\xff\xff\0\0"
    whole = bytes(4) + (len(record) + 6).to_bytes(2) + record
    return (12 + len(whole)).to_bytes(4) + b"alis" + bytes(4) + whole


def reference_movie(named: str) -> bytes:
    """A film whose media lie in another file: its list of files (ISO/IEC 14496-12, 8.7.2) holds an alias."""
    data = FILM.read_bytes()

    def grown(start: int, end: int) -> bytes:
        out, place = b"", start
        while place < end:
            size, kind = int.from_bytes(data[place : place + 4]), data[place + 4 : place + 8]
            inside = data[place + 8 : place + size]
            if kind in (b"moov", b"trak", b"mdia", b"minf", b"dinf"):
                inside = grown(place + 8, place + size)
            elif kind == b"dref":
                inside = b"\0\0\0\0\0\0\0\1" + alias(named)
            elif kind == b"mdat":
                inside = b""
            out += (8 + len(inside)).to_bytes(4) + kind + inside
            place += size
        return out

    return grown(0, len(data))


def named_in(file: object) -> set[str]:
    """Files that the library says it took facts from besides the one it was given."""
    return {str(track.source) for track in MediaInfo.parse(file).tracks if track.source}


def test_a_reference_movie_leads_nowhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("other.mp4").write_bytes(FILM.read_bytes())
    made = reference_movie("other.mp4")
    assert named_in(io.BytesIO(made)) == {"other.mp4"}  # what the library does when nobody stops it
    assert not named_in(Blotted(io.BytesIO(made)))
    Path("other.mp4").unlink()
    if os.name == "posix":
        os.mkfifo("other.mp4")  # who opens it waits
    Path("film.mov").write_bytes(made)
    facts = probe(Path("film.mov"))
    assert (facts.width, facts.height) == (probe(FILM).width, probe(FILM).height)  # of its own headers


@pytest.mark.parametrize("text", ["#EXTM3U\n", "<MPD/>", "\n\n<?xml?>"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_lists_are_known_by_how_they_begin(tmp_path, text, encoding):
    data = (text.strip() if encoding.startswith("utf-16") else text).encode(encoding) + FILM.read_bytes()
    assert is_list(io.BytesIO(data))
    path = tmp_path / "film.mp4"
    path.write_bytes(data)
    with pytest.raises(MediaError, match="a list of other files"):
        probe(path)


def test_no_recording_is_taken_for_a_list():
    for path in (EXAMPLE / "media").rglob("*.m*"):
        with path.open("rb") as file:
            assert not is_list(file)
            assert file.tell() == 0
    assert not is_list(io.BytesIO(b"#!AMR\n"))


@pytest.mark.parametrize("at", [0, 1, 14, 15, 16, 17, 60, 64])
def test_names_are_blotted_out_wherever_the_reading_is_divided(at):
    key = bytes.fromhex("060e2b3402530101" + "0d01010101013200")
    for name in (b"alis", b"cmov", key):
        data = b"a" * at + name + b"z" * 80
        for size in (1, 7, 16, 64, 200):
            file, read = Blotted(io.BytesIO(data)), b""
            while part := file.read(size):
                read += part
            assert read == b"a" * at + bytes(len(name)) + b"z" * 80
            assert file.tell() == len(data)


def test_a_library_that_never_ends_is_ended(monkeypatch):
    """On some damaged files its own loop has no end (seen with a cut and overwritten M4A)."""
    monkeypatch.setattr(probing, "_headers", Apart("tests.media.endless:work", limit_s=0.5, most_mib=200))
    monkeypatch.setattr(Path, "absolute", lambda _: "never")
    monkeypatch.setattr(probing, "_known", {})
    with pytest.raises(MediaError, match=r"does not end within 0\.5 s"):
        probe(FILM)
