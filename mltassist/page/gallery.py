"""Stills and sounds that a page names: each named by its content, and made when it is first asked for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from hashlib import blake2b
from pathlib import Path

from mltassist.errors import MediaError
from mltassist.frames import Rate, Span
from mltassist.media.picture.stills import stills
from mltassist.media.sound.listening import TYPE, webm
from mltassist.media.sound.mix import heard_alike, stem
from mltassist.timeline.model import Clip, Track

HeardClips = tuple[tuple[Track, Clip], ...]
STILL = "image/jpeg"
_FEW, _MANY = 150, 600
"""Shots and joins of a page that may be generous, and of one that must be sparing."""
_SIDE = 320
"""Pixels of the longer side of a still: five of them stand side by side on a wide screen."""


@dataclass(frozen=True, slots=True)
class Medium:
    """A file of a page: its type as browsers name it, and what it holds."""

    kind: str
    content: bytes


@dataclass(slots=True)
class Gallery:
    """Everything that one page shows and plays, under names that say what it is.

    side: of its stills, in pixels; rate_bps: of its sounds; moving: pictures of shots go by as they play.
    """

    rate: Rate
    side: int = _SIDE
    rate_bps: int = 40_000
    moving: bool = True
    _stills: dict[str, tuple[Path, int, int]] = field(default_factory=dict)
    _sounds: dict[str, Callable[[], bytes]] = field(default_factory=dict)

    @classmethod
    def fitted(cls, rate: Rate, edits: int) -> Gallery:
        """A gallery for a page of so many shots and joins that is to be one file of 40 MB at most.

        A shot takes seven stills and six seconds of sound, a join eight seconds; pictures of a camera are
        twice as large as drawn ones, and a third is added by writing them as text.
        """
        if edits <= _FEW:
            return cls(rate)
        side, rate_bits = (256, 32_000) if edits <= _MANY else (192, 24_000)
        return cls(rate, side, rate_bits, moving=False)

    def still(self, path: Path, frame: int, *, small: bool = False) -> str:
        """The name of the picture that a file shows at a frame, counted at the project's rate.

        small: of half the side, for one that goes by.
        """
        side = self.side // 2 if small else self.side
        name = f"p{_digest(str(path), frame, side)}"
        self._stills[name] = (path, frame, side)
        return name

    def sound(self, clips: HeardClips, span: Span) -> str:
        """The name of what these clips sound like together over frames of the timeline; empty for silence."""
        heard = tuple((track, clip) for track, clip in clips if clip.span.overlaps(span))
        if not heard or span.length <= 0:
            return ""
        name = f"s{fingerprint(heard, span, self.rate)}"
        self._sounds[name] = lambda: webm(stem(heard, span, self.rate), rate_bps=self.rate_bps)
        return name

    def get(self, name: str) -> Medium | None:
        """What is behind a name; None where nothing is, or it cannot be read any more."""
        if name in self._sounds:
            return Medium(TYPE, self._sounds[name]())
        if name in self._stills:
            return dict(self._pictures({name})).get(name)
        return None

    def every(self, on_part: Callable[[float], None] | None = None) -> Iterator[tuple[str, Medium]]:
        """All of it, stills file by file; those that cannot be made are left out. on_part: told 0 to 1."""
        many = max(1, len(self._stills) + len(self._sounds))
        for done, (name, medium) in enumerate(self._all(), 1):
            yield name, medium
            if on_part is not None:
                on_part(min(1.0, done / many))

    def _all(self) -> Iterator[tuple[str, Medium]]:
        yield from self._pictures(self._stills)
        for name, make in self._sounds.items():
            yield name, Medium(TYPE, make())

    def _pictures(self, names: Iterable[str]) -> Iterator[tuple[str, Medium]]:
        by_file: dict[tuple[Path, int], dict[str, int]] = defaultdict(dict)
        for name in names:
            path, frame, side = self._stills[name]
            by_file[path, side][name] = frame
        for (path, side), wanted in by_file.items():
            try:
                made = stills(path, wanted.values(), self.rate, side=side)
            except MediaError:
                continue
            for name, frame in wanted.items():
                if frame in made:
                    yield name, Medium(STILL, made[frame])


def fingerprint(clips: HeardClips, span: Span, rate: Rate) -> str:
    """The same for all clips that together sound the same over a span, wherever on the timeline it lies."""
    return _digest(*heard_alike(clips, span, rate))


def _digest(*parts: object) -> str:
    return blake2b(repr(parts).encode(), digest_size=9).hexdigest()
