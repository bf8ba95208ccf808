"""What the MLT engine really plays: the program `melt` asked for entries, pictures and sound.

melt's exit status says nothing of broken documents or missing media, so these are looked for here and
in what it prints. It reads a copy of the document, whose own path it would URL-decode, and is run one
at a time across all test processes, since it sometimes hangs when several run at once.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import NamedTuple

import av
import numpy as np
import soundfile
from av.filter import Graph
from lxml import etree
from lxml.etree import _Element as Element
from numpy.typing import NDArray

from mltassist.project import open_project
from mltassist.timeline.model import TrackKind

Picture = NDArray[np.uint8]
"""RGB, shape (height, width, 3)."""
Sound = NDArray[np.float32]
"""Shape (2, samples), full scale ±1.0."""

RATE_HZ = 48000
_STALL_S = 6.0  # without processor time for this long, melt will never end
_LIMIT_S = 120.0
_ATTEMPTS = 3
_FAULT = re.compile(
    r"failed to load|parse (fatal|error)|could not (open|write)|requires a X11", re.IGNORECASE
)
_LEFT_OUT = ("libmltopencv", "libmltglaxnimate", "libmltxine")
"""Modules of the engine that play nothing here: to load them takes a quarter of its start."""
_PARTS = ("producer", "chain", "playlist", "tractor", "multitrack")


class MeltFault(Exception):
    """The document is faulty, or melt could not play it."""


class Row(NamedTuple):
    """A clip as the engine resolved it.

    track: number of the track in each tractor from the outermost; start: timeline frame; first, last:
    source frames, both played; resource: the file's absolute path, or what the service makes.
    """

    track: tuple[int, ...]
    start: int
    first: int
    last: int
    resource: str


def installed() -> bool:
    """True when there is a melt to ask."""
    return shutil.which("melt") is not None


def entries(document: Path) -> list[Row]:
    """Every clip of every track, bottom track first. Raises MeltFault."""
    with _workspace(document) as copy:
        return list(_entries(copy.read_bytes()))


@cache
def _entries(document: bytes) -> tuple[Row, ...]:
    """What a document with an absolute root resolves to: of one that is saved as it was it is asked once."""
    with tempfile.TemporaryDirectory(prefix="referee-") as name:
        copy, out = Path(name, "document.mlt"), Path(name, "resolved.xml")
        copy.write_bytes(document)
        _melt([str(copy), "-consumer", f"xml:{out}", "root=", "no_root=1", "no_meta=1"], out)
        root = etree.parse(str(out)).getroot()
    by_id = {identity: element for element in root if (identity := element.get("id"))}
    # melt wraps a file it opens in a playlist with one entry, and that in a tractor.
    wrapper = by_id[_tracks([e for e in root if e.tag == "tractor"][-1])[0].get("producer", "")]
    top = next(wrapper.iterchildren("entry")).get("producer", "")
    return tuple(_rows(by_id, by_id[top], (), 0))


def frame(document: Path, number: int) -> Picture:
    """The picture of one timeline frame. Raises MeltFault."""
    return frames(document, [number])[0]


def frames(document: Path, numbers: Sequence[int]) -> list[Picture]:
    """The pictures of some timeline frames, in the order asked for. Raises MeltFault.

    Fails where one of them is black though a picture that the program has laid is to be seen there.
    """
    with _workspace(document) as copy:
        # One more playlist that plays only these frames: the document is loaded once for all of them.
        root = etree.parse(str(copy)).getroot()
        played = list(root.iterchildren(*_PARTS))[-1]
        played.set("id", played.get("id") or "played")
        chosen = etree.SubElement(root, "playlist", id="chosen-frames")
        for number in numbers:
            etree.SubElement(
                chosen, "entry", {"producer": played.get("id", ""), "in": str(number), "out": str(number)}
            )
        root.getroottree().write(str(copy), encoding="utf-8", xml_declaration=True)
        pictures = [copy.with_name(f"picture-{i:04}.bmp") for i in range(1, len(numbers) + 1)]
        pattern = copy.with_name("picture-%04d.bmp")
        encoding = ["an=1", "vcodec=bmp", "pix_fmt=bgr24", "f=image2", "real_time=-1"]
        _melt([str(copy), "-consumer", f"avformat:{pattern}", *encoding], pictures[-1])
        shown = [_decoded(picture) for picture in pictures]
    for place in black(shown):
        assert not _ours_lies_at(document, numbers[place]), f"{document}: frame {numbers[place]} is black"
    return shown


def black(pictures: Sequence[Picture]) -> list[int]:
    """Numbers of the pictures that libavfilter's blackdetect takes for black."""
    graph, source, found, dark = Graph(), None, [], False
    for number, picture in enumerate(pictures):
        frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="yuv420p")
        frame.pts, frame.time_base = number, Fraction(1)
        if source is None:
            source = graph.add_buffer(
                width=frame.width, height=frame.height, format=frame.format, time_base=Fraction(1)
            )
            detect = graph.add("blackdetect", "d=0:pix_th=0.05")
            source.link_to(detect)
            detect.link_to(graph.add("buffersink"))
            graph.configure()
        graph.push(frame)
        told = dict(graph.pull().metadata)
        dark = "lavfi.black_start" in told or (dark and "lavfi.black_end" not in told)
        found += [number] if dark else []
    return found


def _ours_lies_at(document: Path, number: int) -> bool:
    """True where a picture that we have laid is to be seen: where none is, a film may be black as it was."""
    if b"mltassist" not in document.read_bytes():
        return False
    timeline = open_project(document).timeline
    laid = (track for track in timeline.tracks if track.ours and track.kind is TrackKind.PICTURE)
    return any(number in clip.span for track in laid if not track.hidden for clip in track.clips())


def sound(
    document: Path, *, first: int | None = None, last: int | None = None, only_tracks: set[int] | None = None
) -> Sound:
    """What is heard from frame `first` to frame `last` (both included) at RATE_HZ.

    only_tracks: numbers of the timeline's tracks, as in the model; all others are switched off.
    """
    with _workspace(document, only_tracks, last) as copy:
        out = copy.with_name("sound.wav")
        span = [f"{name}={value}" for name, value in (("in", first), ("out", last)) if value is not None]
        # Without f32le the engine quantises to 16 bit and clips.
        encoding = ["vn=1", "video_off=1", "acodec=pcm_f32le", "mlt_audio_format=f32le", "real_time=-1"]
        rate = [f"ar={RATE_HZ}", "ac=2"]
        _melt([str(copy), *span, "-consumer", f"avformat:{out}", "f=wav", *encoding, *rate], out)
        samples, _ = soundfile.read(out, dtype="float32", always_2d=True)
    return np.ascontiguousarray(samples.T)


def check_names(root: Element) -> None:
    """Raise MeltFault for an id that two parts share and for a part that is named before it is defined.

    melt drops an entry of the second kind without a word, and crashes on such a track.
    """
    known: set[str] = set()
    for part in root.iterchildren(*_PARTS):
        for user in part.iter("entry", "track"):
            if user.get("producer") not in known:
                raise MeltFault(f"<{user.tag}> in {part.get('id')} names {user.get('producer')!r} too early")
        if (identity := part.get("id", "")) in known:
            raise MeltFault(f"two parts have the id {identity!r}")
        known.add(identity)


def _check_media(root: Element, folder: Path) -> None:
    for part in root.iterchildren("producer", "chain"):
        resource = folder / _value(part, "resource")
        if _value(part, "mlt_service").startswith("avformat") and not resource.is_file():
            raise MeltFault(f"missing media: {resource}")


# --- the document ---------------------------------------------------------------------------------


def _value(part: Element, name: str) -> str:
    found = (p.text or "" for p in part.iterchildren("property") if p.get("name") == name)
    return next(found, "")


def _tracks(tractor: Element) -> list[Element]:
    return list(tractor.iter("track"))


@contextmanager
def _workspace(
    document: Path, only_tracks: set[int] | None = None, last: int | None = None
) -> Iterator[Path]:
    """A copy of the document in a folder of its own, with absolute root and a described profile.

    What lies on tracks that are switched off is left out where the last frame to be played is known: the
    engine would fetch it, and play the same.
    """
    root = etree.parse(str(document)).getroot()
    folder = document.resolve().parent / (root.get("root") or "")
    check_names(root)
    _check_media(root, folder)
    root.set("root", str(folder))
    profile = root.find("profile")
    if profile is not None and not profile.get("description"):
        profile.set("description", "described")  # else the document is loaded twice
    if only_tracks is not None:
        for number, track in enumerate(_tracks(_timeline(root))):
            # Without the background some mixes let the topmost track alone be heard.
            if number and number not in only_tracks:
                track.set("hide", "both" if track.get("hide") in ("video", "both") else "audio")
                if last is not None:
                    _leave_blank(root, track.get("producer", ""), last + 1)
    with tempfile.TemporaryDirectory(prefix="referee-") as name:
        copy = Path(name) / "document.mlt"
        root.getroottree().write(str(copy), encoding="utf-8", xml_declaration=True)
        yield copy


def _leave_blank(root: Element, track: str, length: int) -> None:
    """Nothing is played on a track any more, for so many frames."""
    part = next(part for part in root.iterchildren(*_PARTS) if part.get("id") == track)
    inside = {mark.get("producer") for mark in part.iter("track")} or {track}
    for playlist in root.iterchildren("playlist"):
        played = list(playlist.iterchildren("entry", "blank"))
        if playlist.get("id") in inside and played:
            played[0].addprevious(etree.Element("blank", length=str(length)))
            for one in played:
                playlist.remove(one)


def _timeline(root: Element) -> Element:
    """The tractor that plays, without those that only wrap another one."""
    by_id = {part.get("id"): part for part in root.iterchildren(*_PARTS)}
    part = next(root.iterchildren("tractor", reversed=True))
    while len(tracks := _tracks(part)) == 1 and by_id[tracks[0].get("producer")].tag == "tractor":
        part = by_id[tracks[0].get("producer")]
    return part


def _rows(by_id: dict[str, Element], part: Element, track: tuple[int, ...], start: int) -> Iterator[Row]:
    if part.tag == "tractor":
        for number, mark in enumerate(_tracks(part)):
            first = int(mark.get("in", "0"))
            yield from _rows(by_id, by_id[mark.get("producer", "")], (*track, number), start - first)
    elif part.tag == "playlist":
        for item in part.iterchildren("entry", "blank"):
            if item.tag == "blank":
                start += int(item.get("length", "0"))
                continue
            played = by_id[item.get("producer", "")]
            first, last = int(item.get("in", "0")), int(item.get("out", "0"))
            own = int(played.get("in", "0")) if played.tag in ("producer", "chain") else 0
            yield Row(track, start, own + first, own + last, _value(played, "resource"))
            start += last - first + 1
    else:
        first, last = int(part.get("in", "0")), int(part.get("out", "0"))
        yield Row(track, start, first, last, _value(part, "resource"))


# --- the program ----------------------------------------------------------------------------------


def _melt(words: list[str], output: Path) -> None:
    """Run melt until it has written `output`; a run that hangs, or ends without a result, is repeated."""
    program = shutil.which("melt")
    if program is None:
        raise MeltFault("melt is not installed")
    status, said = None, ""
    lock = Path(tempfile.gettempdir()) / f"mltassist-melt-{os.getuid()}.lock"
    for _ in range(_ATTEMPTS):
        output.unlink(missing_ok=True)
        with lock.open("w") as held:
            import fcntl

            fcntl.flock(held, fcntl.LOCK_EX)
            status, said = _run([program, "-silent", *words], output.with_name("melt.log"))
        if status or (status == 0 and output.is_file() and output.stat().st_size):
            break
    if status is None:
        raise MeltFault(f"melt hung {_ATTEMPTS} times")
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    if status < 0:
        raise MeltFault(f"melt crashed with signal {-status}")
    if fault := next((line for line in lines if _FAULT.search(line)), None):
        raise MeltFault(fault)
    if status != 0 or not output.is_file() or output.stat().st_size == 0:
        raise MeltFault(f"melt wrote nothing (status {status}): {' / '.join(lines[-3:])}")


def _run(command: list[str], log: Path) -> tuple[int | None, str]:
    """Exit status (None when it hung) and all that melt printed."""
    needs_no_screen = {
        "QT_QPA_PLATFORM": "offscreen",
        "SDL_VIDEODRIVER": "dummy",
        "SDL_AUDIODRIVER": "dummy",
        "DISPLAY": os.environ.get("DISPLAY", ":99"),  # Qt's services only look whether it is set
        "LC_ALL": "C.UTF-8",
        "MLT_REPOSITORY_DENY": ":".join(_LEFT_OUT),
        "MLT_XML_DEEP": "1",  # else the xml consumer writes nothing but the document's path
    }
    environment = {k: v for k, v in os.environ.items() if not k.startswith("MLT_")} | needs_no_screen
    with log.open("wb") as printed:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=printed,
            stderr=printed,
            env=environment,
            cwd=log.parent,
            start_new_session=True,
        )
        try:
            status = _watched(process)
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
    return status, log.read_text(encoding="utf-8", errors="replace")


def _watched(process: subprocess.Popen[bytes]) -> int | None:
    began = moved = time.monotonic()
    used = -1
    while process.poll() is None:
        time.sleep(0.01)
        now, ticks = time.monotonic(), _ticks(process.pid)
        if ticks != used:
            used, moved = ticks, now
        if now - moved > _STALL_S or now - began > _LIMIT_S:
            return None
    return process.returncode


def _ticks(pid: int) -> int:
    """Processor time used so far (user and system, see proc(5)); 0 when the process has gone."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    except OSError:
        return 0
    return int(fields[11]) + int(fields[12])


def _decoded(path: Path) -> Picture:
    with av.open(str(path)) as container:
        picture = next(container.decode(video=0))
        return np.asarray(picture.to_ndarray(format="rgb24"), np.uint8)
