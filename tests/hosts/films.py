"""A small film for the tests of the hosts: its media, its three documents, and what an edit must do to it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import av
import numpy as np
import soundfile

from mltassist.demofilm.documents import kdenlive_document, plain_document, shotcut_document
from mltassist.demofilm.film import Film, Lane, Mark, Placement, Rush
from mltassist.document.load import Document, load
from mltassist.document.save import save
from mltassist.frames import Rate
from mltassist.hosts.reading import read
from mltassist.hosts.registry import host_of
from mltassist.hosts.writing import apply
from mltassist.timeline.edits import Edit
from mltassist.timeline.model import Timeline, Track, TrackKind

WRITERS: dict[str, Callable[[Film], bytes]] = {
    "plain": plain_document,
    "kdenlive": kdenlive_document,
    "shotcut": shotcut_document,
}
LAYOUTS = tuple(WRITERS)
RATE_HZ = 48000

TALK = Rush("media/talk.mkv", "Talk", "Interviews", ("interview",), 200, True, True, "in the shed")
BOAT = Rush("media/boat.mkv", "Boat – WS", "Cutaways", ("boat", "WS"), 100, True, True)
WAVES = Rush("media/waves.mkv", "Waves", "Natural sound", ("sea",), 100, True, True)
MUSIC = Rush("media/music.wav", "Song", "Music", (), 240, False, True)
RUSHES = (TALK, BOAT, WAVES, MUSIC)

COLOURS = {TALK.file: (200, 30, 30), BOAT.file: (30, 180, 40), WAVES.file: (40, 50, 200)}
"""What the picture of each file is, whole."""
LEVELS = {TALK.file: 0.125, BOAT.file: 0.25, WAVES.file: 0.2, MUSIC.file: 0.0625}
"""The constant that each file sounds: no tone, so that every sample tells the gain."""

FILM = Film(
    title="The shed",
    rate=Rate(25),
    width=160,
    height=90,
    rushes=RUSHES,
    lanes=(
        Lane(
            "Interview",
            True,
            True,
            (
                Placement(TALK.file, 0, 10, 80),
                Placement(TALK.file, 80, 120, 60),
                Placement(TALK.file, 160, 20, 40),
            ),
        ),
        Lane("Cutaways", True, False, (Placement(BOAT.file, 150, 5, 20),)),
        Lane("Music", False, True, (Placement(MUSIC.file, 20, 0, 180),)),
    ),
    marks=(Mark(30, "Opening"), Mark(80, "The jump"), Mark(170, "Ebbe – é")),
)


class Row(NamedTuple):
    """A clip as the tests compare it: start and length on the timeline, file name, first source frame."""

    start: int
    length: int
    file: str
    source_in: int


@dataclass(frozen=True, slots=True)
class Case:
    """The film as a document of one layout."""

    layout: str
    film: Film
    path: Path

    def document(self) -> Document:
        """The document, freshly read."""
        return load(self.path)

    def timeline(self) -> Timeline:
        """The document as it was written."""
        return timeline_of(self.document())

    def track(self, name: str, kind: TrackKind) -> Track:
        """The track that plays the picture or the sound of a lane."""
        tracks = [t for t in self.timeline().tracks if t.name == name]
        return next((t for t in tracks if t.kind is kind), tracks[0])

    def edited(self, *edits: Edit) -> Document:
        """The document with the edits carried out, saved beside the original and read again."""
        document = self.document()
        apply(host_of(document), document, edits)
        return load(save(document, self.path.with_name(f"edited-{self.path.name}"), force=True))


def timeline_of(document: Document) -> Timeline:
    """The edit as its own host reads it."""
    return read(host_of(document), document)


def rows(track: Track) -> list[Row]:
    """The clips of a track."""
    return [Row(c.start, c.length, _short(c.source.key), c.source_in) for c in track.clips()]


def _short(key: str) -> str:
    return "/".join(Path(key).parts[-2:])


def expected_tracks(film: Film, layout: str) -> list[tuple[str, TrackKind, list[Row]]]:
    """Name, kind and clips of the tracks above the background, lowest first, as the layout orders them."""
    seen = [lane for lane in film.lanes if lane.picture]
    if layout == "kdenlive":
        heard = [lane for lane in reversed(film.lanes) if lane.sound]
        order = [(lane, TrackKind.SOUND) for lane in heard] + [(lane, TrackKind.PICTURE) for lane in seen]
    else:
        only_heard = [lane for lane in film.lanes if not lane.picture]
        order = [(lane, TrackKind.PICTURE) for lane in seen] + [
            (lane, TrackKind.SOUND) for lane in only_heard
        ]
        if layout == "plain":
            order.sort(key=lambda pair: film.lanes.index(pair[0]))
    return [(lane.name, kind, [_row(spot) for spot in lane.placements]) for lane, kind in order]


def _row(spot: Placement) -> Row:
    return Row(spot.start, spot.length, spot.file, spot.source_in)


def opened(clips: Iterable[Row], at: int, by: int, *, run_on: bool = False) -> list[Row]:
    """The clips of a track after a pause: the rule of the edit, stated without any document."""
    lengths = {rush.file: rush.length for rush in RUSHES}
    result = []
    for clip in clips:
        kept = at - clip.start
        if kept >= clip.length:
            result.append(clip)
        elif kept <= 0:
            result.append(clip._replace(start=clip.start + by))
        elif run_on:
            spare = lengths[clip.file] - clip.source_in - clip.length
            result.append(clip._replace(length=clip.length + min(by, spare)))
        else:
            result.append(clip._replace(length=kept))
            result.append(Row(at + by, clip.length - kept, clip.file, clip.source_in + kept))
    return result


def write_case(layout: str, film: Film, folder: Path) -> Case:
    """Write the film's document of this layout into a folder."""
    path = folder / f"film.{'kdenlive' if layout == 'kdenlive' else 'mlt'}"
    path.write_bytes(WRITERS[layout](film))
    return Case(layout, film, path)


def write_media(folder: Path, rate: Rate) -> None:
    """The files of the film: plain colours and constant sound, nothing that a coder would change."""
    (folder / "media").mkdir()
    for rush in RUSHES:
        samples = np.full((rate.samples(rush.length, RATE_HZ), 2), LEVELS[rush.file], np.float32)
        if rush.picture:
            _write_film(folder / rush.file, rush, rate, samples)
        else:
            soundfile.write(folder / rush.file, samples, RATE_HZ, subtype="FLOAT")


def _write_film(path: Path, rush: Rush, rate: Rate, samples: np.ndarray) -> None:
    picture = np.full((FILM.height, FILM.width, 3), COLOURS[rush.file], np.uint8)
    with av.open(str(path), "w") as container:
        shown = container.add_stream("libx264", rate=rate.fraction)
        shown.width, shown.height, shown.pix_fmt = FILM.width, FILM.height, "yuv420p"
        shown.options = {"preset": "ultrafast", "g": "10", "threads": "1"}
        heard = container.add_stream("pcm_f32le", rate=RATE_HZ, layout="stereo")
        for number in range(rush.length):
            container.mux(shown.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
            start, end = rate.samples(number, RATE_HZ), rate.samples(number + 1, RATE_HZ)
            part = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(samples[start:end].reshape(1, -1)), format="flt", layout="stereo"
            )
            part.sample_rate, part.pts = RATE_HZ, start
            container.mux(heard.encode(part))
        container.mux(shown.encode(None))
        container.mux(heard.encode(None))
