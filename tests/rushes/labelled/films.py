"""Films that name nothing, laid from labelled rushes in many arrangements, in all layouts.

Files are called as cameras and recorders call them, folders are numbered, tracks bear the host's own names.
What each file is stands in `Arranged.truth`, and nowhere in the project.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from lxml import etree

from mltassist.demofilm.documents import kdenlive_document, plain_document, shotcut_document
from mltassist.demofilm.film import Film, Lane, Placement
from mltassist.demofilm.film import Rush as InBin
from mltassist.frames import Rate
from mltassist.timeline.elements import Element
from tests.rushes.labelled.pool import FPS, Rush, file_of, rushes

LAYOUTS = {"film.kdenlive": kdenlive_document, "shotcut.mlt": shotcut_document, "plain.mlt": plain_document}
STYLES = ("bites", "rough", "one track", "fresh", "montage", "sound led", "mixed")
STILL_LENGTH = 125
_IMAGES = (".png", ".jpg")


@dataclass(frozen=True)
class Arranged:
    """A film with what each of its files is; `rush` leads from the file to the recording behind it."""

    film: Film
    truth: dict[str, Element | None]
    rush: dict[str, Rush]
    style: str


def arranged(half: str, seed: int, style: str | None = None) -> Arranged:
    """A film of this half: which recordings it has, how they are called, and how they are laid."""
    random = np.random.default_rng((sum(map(ord, half)), seed))
    style = style or STYLES[seed % len(STYLES)]
    chosen = _chosen(half, random, style)
    files = _named(chosen, random)
    lengths = {rush.name: _length(rush) for rush in chosen}
    lanes = _laid(chosen, files, lengths, random, style)
    in_bin = [
        InBin(
            files[rush.name],
            Path(files[rush.name]).name,
            _bin_folder(files[rush.name], random),
            (),
            lengths[rush.name],
            picture=rush.picture is not None or rush.still is not None,
            sound=rush.sound is not None,
        )
        for rush in chosen
    ]
    in_bin.sort(key=lambda one: (one.folder, one.name))
    film = Film(f"film {seed}", Rate(FPS), 640, 360, tuple(in_bin), tuple(lanes))
    by_name = {rush.name: rush for rush in chosen}
    return Arranged(
        film,
        {files[name]: rush.element for name, rush in by_name.items()},
        {files[name]: rush for name, rush in by_name.items()},
        style,
    )


def write(made: Arranged, folder: Path, layout: str, pool: Path) -> Path:
    """The document and its media (links into the pool) in a folder."""
    for file, rush in made.rush.items():
        target = folder / file
        target.parent.mkdir(parents=True, exist_ok=True)
        target.unlink(missing_ok=True)
        target.symlink_to(file_of(rush, pool))
    root = etree.fromstring(LAYOUTS[layout](made.film))
    for part in root.iter("producer", "chain"):
        values = {p.get("name"): p for p in part.iterchildren("property")}
        resource = values.get("resource")
        if resource is not None and (resource.text or "").endswith(_IMAGES):
            part.tag = "producer"
            values["mlt_service"].text = "qimage"
    path = folder / layout
    path.write_bytes(etree.tostring(root.getroottree(), encoding="utf-8", xml_declaration=True))
    return path


def _length(rush: Rush) -> int:
    return STILL_LENGTH if rush.still is not None else int(rush.length_s * FPS)


def _chosen(half: str, random: np.random.Generator, style: str) -> list[Rush]:
    """Some of the half's recordings; what was made together comes together."""
    pool = [rush for rush in rushes() if rush.half == half]
    of = lambda element: [r for r in pool if r.element is element]  # noqa: E731
    shoots = list(dict.fromkeys(r.shoot for r in of(Element.INTERVIEW)))
    wanted = {"montage": 1}.get(style, int(random.integers(1, 4)))
    taken = set(random.choice(shoots, min(wanted, len(shoots)), replace=False))
    if style == "sound led":
        taken |= {str(random.choice([s for s in shoots if s in ("apart", "booth", "porch", "own")]))}
    chosen = [r for r in of(Element.INTERVIEW) if r.shoot in taken]
    for rows, least, most in (
        (of(Element.NARRATION), 0 if style in ("bites", "fresh") else 1, 3),
        ([r for r in of(Element.CUTAWAY) if r.still is None], 5, 12),
        ([r for r in of(Element.CUTAWAY) if r.still is not None], 0, 2),
        (of(Element.NATURAL), 0, 3),
        (of(Element.MUSIC), 1, 2),
        (of(None), 0, 2),
    ):
        count = int(random.integers(least, most + 1))
        chosen += [rows[i] for i in random.choice(len(rows), min(count, len(rows)), replace=False)]
    return chosen


# --- names that tell nothing --------------------------------------------------------------------


def _named(chosen: Sequence[Rush], random: np.random.Generator) -> dict[str, str]:
    """By recording, its file: numbered in the order of shooting, on cards and in folders."""
    shoots = list(dict.fromkeys(r.shoot for r in chosen))
    random.shuffle(shoots)
    camera, recorder = int(random.integers(1, 900)), int(random.integers(1, 200))
    by_kind = random.uniform() < 0.5  # recordings sorted by device, or all in one place
    dated = random.uniform() < 0.3
    files = {}
    for number, shoot in enumerate(shoots):
        camera += int(random.integers(1, 4))
        for rush in (r for r in chosen if r.shoot == shoot):
            if rush.still is not None:
                name = f"IMG_{camera + 4000:04}{rush.suffix}"
            elif rush.picture is None:
                recorder += 1
                name = (
                    f"REC{recorder:04}{rush.suffix}"
                    if random.uniform() < 0.6
                    else f"{recorder:03}{rush.suffix}"
                )
            elif dated:
                name = f"20240312_{100000 + camera * 37}{rush.suffix}"
            else:
                name = f"C{camera:04}{rush.suffix}"
            camera += 1
            card = f"Part {1 + number * 2 // max(1, len(shoots))}"
            if by_kind and rush.picture is None and rush.still is None:
                card = "Part 3"
            files[rush.name] = f"{card}/{name}"
    return files


def _bin_folder(file: str, random: np.random.Generator) -> str:
    return file.partition("/")[0] if random.uniform() < 0.9 else ""


# --- what is laid ---------------------------------------------------------------------------------


class _Lanes:
    def __init__(self, files: dict[str, str], lengths: dict[str, int], random: np.random.Generator) -> None:
        self.files, self.lengths, self.random = files, lengths, random
        self.end = 0

    def pieces(self, rush: Rush, at: int, *, least: int = 60, most: int = 220) -> list[Placement]:
        """Pieces of one take in order, with some left out between."""
        random, place, laid = self.random, int(self.random.integers(5, 30)), []
        while place + least < self.lengths[rush.name] and len(laid) < 6:
            long = int(random.integers(least, most))
            long = min(long, self.lengths[rush.name] - place - 5)
            if long < 20:
                break
            laid.append(Placement(self.files[rush.name], at, place, long))
            at += long
            place += long + int(random.integers(15, 120))
        return laid

    def piece(self, rush: Rush, at: int, least: int = 50, most: int = 110) -> Placement:
        """One piece from the middle of a clip."""
        long = min(int(self.random.integers(least, most)), self.lengths[rush.name] - 6)
        first = int(self.random.integers(0, max(1, self.lengths[rush.name] - long)))
        return Placement(self.files[rush.name], at, first, long)


def _laid(
    chosen: Sequence[Rush],
    files: dict[str, str],
    lengths: dict[str, int],
    random: np.random.Generator,
    style: str,
) -> list[Lane]:
    lanes = _Lanes(files, lengths, random)
    of = lambda element, sound=True: [  # noqa: E731
        r for r in chosen if r.element is element and (r.sound is not None or not sound)
    ]
    faces = [r for r in of(Element.INTERVIEW) if r.picture is not None]
    apart = [r for r in of(Element.INTERVIEW) if r.picture is None]
    voices, tunes, wild = of(Element.NARRATION), of(Element.MUSIC), of(Element.NATURAL)
    shots = [r for r in of(Element.CUTAWAY, sound=False)]
    heard_shots = [r for r in shots if r.sound is not None]
    if style == "fresh":  # one clip thrown in, as one does to see whether it plays
        first = next(r for r in chosen if r.picture is not None and r.sound is not None)
        return [Lane("V1", True, True, (lanes.piece(first, 0),)), Lane("A1", False, True)]

    talk: list[Placement] = []
    said: list[Placement] = []
    at = 0
    turns = [*faces, *voices] if style not in ("bites",) else list(faces)
    if style == "montage":
        turns = voices[:2] + faces[:1]
    random.shuffle(turns)
    for rush in turns:
        at += int(random.integers(0, 20))
        if rush in faces:
            laid = lanes.pieces(rush, at)
            if style == "one track" and heard_shots and random.uniform() < 0.8:
                cut = heard_shots[int(random.integers(len(heard_shots)))]
                at = _end(laid) if laid else at
                laid.append(lanes.piece(cut, at))
            talk += laid
            at = _end(laid) if laid else at
        else:
            whole = [Placement(files[rush.name], at, 0, min(lengths[rush.name] - 2, 600))]
            said += lanes.pieces(rush, at) or whole if random.uniform() < 0.5 else whole
            at = _end(said)
    end = max(at, 200)
    if style == "bites":
        return [Lane("V1", True, True, tuple(talk)), Lane("A1", False, True)]

    over: list[Placement] = []
    at = int(random.integers(40, 100))
    for rush in shots[: int(random.integers(1, 6))]:
        spot = lanes.piece(rush, at)
        if spot.start + spot.length < end:
            over.append(spot)
        at += spot.length + int(random.integers(40, 160))
    under: list[Placement] = []
    at = 0
    for rush in wild[:2] if random.uniform() < 0.7 else ():
        spot = lanes.piece(rush, at, 100, 300)
        under.append(spot)
        at += spot.length + 30
    tune: list[Placement] = []
    if tunes:
        at = int(random.integers(0, 100))
        while at < end and len(tune) < 4:
            spot = lanes.piece(tunes[len(tune) % len(tunes)], at, 300, 1200)
            tune.append(spot)
            at += spot.length + int(random.integers(0, 200))
    if style == "montage":
        at, row = 0, []
        for rush in (*heard_shots, *heard_shots):
            spot = lanes.piece(rush, at)
            row.append(spot)
            at += spot.length
            if at > end:
                break
        # The bites lie on a track above the pictures.
        return [
            Lane("V1", True, True, tuple(row)),
            Lane("V2", True, True, tuple(talk)),
            Lane("A1", False, True, tuple(said)),
            Lane("A2", False, True, tuple(tune)),
        ]
    if style == "mixed":  # all sound on one track, one thing after the other
        spots, at = [], 0
        for spot in sorted((*said, *tune, *under), key=lambda s: s.start):
            spots.append(replace(spot, start=max(at, spot.start)))
            at = spots[-1].start + spots[-1].length
        return [
            Lane("V1", True, True, tuple(talk)),
            Lane("V2", True, False, tuple(over)),
            Lane("A1", False, True, tuple(spots)),
        ]
    if style == "sound led" and apart:
        twins = {files[r.name]: files[a.name] for a in apart for r in faces if r.part == a.part}
        ends = {files[r.name]: lengths[r.name] for r in apart}
        synced = [
            replace(s, file=twins[s.file], length=min(s.length, ends[twins[s.file]] - s.source_in))
            for s in talk
            if s.file in twins
        ]
        return [
            Lane("V1", True, True, tuple(s for s in talk if s.file not in twins)),
            Lane("V2", True, False, tuple(s for s in talk if s.file in twins)),
            Lane("A1", False, True, tuple(synced)),
            Lane("A2", False, True, tuple(said)),
            Lane("A3", False, True, tuple(tune)),
        ]
    return [
        Lane("V1", True, True, tuple(talk)),
        Lane("V2", True, False, tuple(over)),
        Lane("A1", False, True, tuple(said)),
        Lane("A2", False, True, tuple(under)),
        Lane("A3", False, True, tuple(tune)),
    ]


def _end(laid: Sequence[Placement]) -> int:
    return laid[-1].start + laid[-1].length
