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
from tests.rushes.labelled import pool
from tests.rushes.labelled.pool import FPS, Rush, rushes

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
    lanes = _laid(_Cutting(chosen, files, lengths, random), chosen, style)
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


def write(made: Arranged, folder: Path, layout: str) -> Path:
    """The document and its media (links into the pool) in a folder."""
    for file, rush in made.rush.items():
        target = folder / file
        target.parent.mkdir(parents=True, exist_ok=True)
        target.unlink(missing_ok=True)
        target.symlink_to(pool.write(rush))
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
    whole = [rush for rush in rushes() if rush.half == half]
    of = lambda element: [r for r in whole if r.element is element]  # noqa: E731
    talks = of(Element.INTERVIEW)
    shoots = list(dict.fromkeys(r.shoot for r in talks if r.picture is not None))
    heard_only = sorted({r.shoot for r in talks} - set(shoots))
    wanted = {"montage": 1}.get(style, int(random.integers(1, 4)))
    taken = set(random.choice(shoots, min(wanted, len(shoots)), replace=False))
    if style == "sound led":
        taken |= {str(random.choice([s for s in shoots if s in ("apart", "booth", "porch", "own")]))}
    if style not in ("bites", "montage") and random.uniform() < 0.7:
        taken.add(str(random.choice(heard_only)))
    chosen = [r for r in talks if r.shoot in taken]
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


class _Cutting:
    """What an editor lays of the chosen recordings, one layer after the other."""

    def __init__(
        self,
        chosen: Sequence[Rush],
        files: dict[str, str],
        lengths: dict[str, int],
        random: np.random.Generator,
    ) -> None:
        self.files, self.lengths, self.random = files, lengths, random
        of = {e: [r for r in chosen if r.element is e] for e in Element}
        self.faces = [r for r in of[Element.INTERVIEW] if r.picture is not None]
        self.apart = [r for r in of[Element.INTERVIEW] if r.picture is None]
        pictured = {r.part for r in self.faces}
        self.alone = [r for r in self.apart if r.part not in pictured]
        self.voices, self.tunes, self.wild = of[Element.NARRATION], of[Element.MUSIC], of[Element.NATURAL]
        self.shots = of[Element.CUTAWAY]
        self.heard_shots = [r for r in self.shots if r.sound is not None]
        self.talk: list[Placement] = []
        self.said: list[Placement] = []
        self.end = 0

    def pieces(self, rush: Rush, at: int) -> list[Placement]:
        """Pieces of one take in order, with some left out between."""
        random, laid = self.random, []
        place = int(random.integers(5, 30))
        while place + 60 < self.lengths[rush.name] and len(laid) < 6:
            long = min(int(random.integers(60, 220)), self.lengths[rush.name] - place - 5)
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

    def lay_speech(self, style: str) -> None:
        """Bites and narration by turns."""
        turns = list(self.faces) if style == "bites" else [*self.faces, *self.voices, *self.alone]
        if style == "montage":
            turns = self.voices[:2] + self.faces[:1]
        self.random.shuffle(turns)
        at = 0
        for rush in turns:
            at += int(self.random.integers(0, 20))
            at = self._bites(rush, at, style) if rush in self.faces else self._voice(rush, at)
        self.end = max(at, 200)

    def _bites(self, rush: Rush, at: int, style: str) -> int:
        laid = self.pieces(rush, at)
        if style == "one track" and self.heard_shots and self.random.uniform() < 0.8:
            cut = self.heard_shots[int(self.random.integers(len(self.heard_shots)))]
            laid.append(self.piece(cut, _end(laid) if laid else at))
        self.talk += laid
        return _end(laid) if laid else at

    def _voice(self, rush: Rush, at: int) -> int:
        whole = [Placement(self.files[rush.name], at, 0, min(self.lengths[rush.name] - 2, 600))]
        self.said += self.pieces(rush, at) or whole if self.random.uniform() < 0.5 else whole
        return _end(self.said)

    def over(self) -> list[Placement]:
        """Some shots over what is said."""
        laid: list[Placement] = []
        at = int(self.random.integers(40, 100))
        for rush in self.shots[: int(self.random.integers(1, 6))]:
            spot = self.piece(rush, at)
            if spot.start + spot.length < self.end:
                laid.append(spot)
            at += spot.length + int(self.random.integers(40, 160))
        return laid

    def under(self) -> list[Placement]:
        """Places under it."""
        laid, at = [], 0
        for rush in self.wild[:2] if self.random.uniform() < 0.7 else ():
            laid.append(self.piece(rush, at, 100, 300))
            at += laid[-1].length + 30
        return laid

    def music(self) -> list[Placement]:
        """Pieces of music up to the end."""
        laid: list[Placement] = []
        if not self.tunes:
            return laid
        at = int(self.random.integers(0, 100))
        while at < self.end and len(laid) < 4:
            laid.append(self.piece(self.tunes[len(laid) % len(self.tunes)], at, 300, 1200))
            at += laid[-1].length + int(self.random.integers(0, 200))
        return laid

    def in_a_row(self) -> list[Placement]:
        """Shots one after the other with their sound."""
        laid, at = [], 0
        for rush in (*self.heard_shots, *self.heard_shots):
            laid.append(self.piece(rush, at))
            at = _end(laid)
            if at > self.end:
                break
        return laid

    def in_time(self) -> tuple[list[Placement], dict[str, str]]:
        """The recorder's sound where the picture it was made for lies; by picture, its sound."""
        pairs = {self.files[r.name]: a for a in self.apart for r in self.faces if r.part == a.part}
        laid = []
        for spot in self.talk:
            if spot.file in pairs:
                sound = pairs[spot.file]
                long = min(spot.length, self.lengths[sound.name] - spot.source_in)
                laid.append(replace(spot, file=self.files[sound.name], length=long))
        return laid, {picture: self.files[sound.name] for picture, sound in pairs.items()}


def _laid(cut: _Cutting, chosen: Sequence[Rush], style: str) -> list[Lane]:
    if style == "fresh":  # one clip thrown in, as one does to see whether it plays
        first = next(r for r in chosen if r.picture is not None and r.sound is not None)
        return [_pictures(1, [cut.piece(first, 0)]), _sounds(1, [])]
    cut.lay_speech(style)
    if style == "bites":
        return [_pictures(1, cut.talk), _sounds(1, [])]
    over, under, tune = cut.over(), cut.under(), cut.music()
    if style == "montage":  # the bites lie on a track above the pictures
        row = cut.in_a_row()
        return [_pictures(1, row), _pictures(2, cut.talk), _sounds(1, cut.said), _sounds(2, tune)]
    if style == "mixed":  # all sound on one track, one thing after the other
        spots: list[Placement] = []
        for spot in sorted((*cut.said, *tune, *under), key=lambda s: s.start):
            spots.append(replace(spot, start=max(_end(spots) if spots else 0, spot.start)))
        return [_pictures(1, cut.talk), _pictures(2, over, sound=False), _sounds(1, spots)]
    if style == "sound led" and cut.apart:
        in_time, pairs = cut.in_time()
        mute = [spot for spot in cut.talk if spot.file in pairs]
        rest = [spot for spot in cut.talk if spot.file not in pairs]
        heard = (in_time, cut.said, tune)
        return [_pictures(1, rest), _pictures(2, mute, sound=False), *map(_sounds, (1, 2, 3), heard)]
    return [
        _pictures(1, cut.talk),
        _pictures(2, over, sound=False),
        *map(_sounds, (1, 2, 3), (cut.said, under, tune)),
    ]


def _pictures(number: int, spots: Sequence[Placement], *, sound: bool = True) -> Lane:
    return Lane(f"V{number}", True, sound, tuple(spots))


def _sounds(number: int, spots: Sequence[Placement]) -> Lane:
    return Lane(f"A{number}", False, True, tuple(spots))


def _end(laid: Sequence[Placement]) -> int:
    return laid[-1].start + laid[-1].length
