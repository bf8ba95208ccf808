"""The sound of one stream of a file at its own rate; what had to be decoded is decoded once in a run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import takewhile
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError
from mltassist.frames import Span
from mltassist.media.opening import believable, open_media, ordinary_media
from mltassist.media.sound.shelf import the_shelf
from mltassist.media.sound.streams import UNINDEXED, samples_from

if TYPE_CHECKING:
    from av.audio.codeccontext import AudioCodecContext

Sound = NDArray[np.float32]
_FULL_SCALE_16 = np.float32(2**15)
ENTRY_S = 6
"""A stream is entered at whole multiples of so many seconds only, and decoded up to the next. Codecs make up
noise as they go (AAC's noise substitution), by as much as a quarter of a decibel of a room: a second must not
sound otherwise because others were asked for before. The library keeps that state over a seek: each way in
has its own decoder."""
LOSSLESS = ("pcm", "flac", "alac", "wavpack", "tta")
"""Codecs of which a second is the same wherever decoding begins."""


class Recording(Protocol):
    """One sound stream of one state of a file: its own rate in Hz, and its channels."""

    rate_hz: int
    channels: int

    def read(self, wanted: Span) -> Sound:
        """Samples of `wanted`, counted from time 0: float32 (channels, n); silence outside the file."""


def recording_of(path: Path, stream: int) -> Recording:
    """Stream number `stream` of a file as it is now.

    Raises SourceMissing when there is no file, MediaError when it or the stream cannot be read.
    """
    now = ordinary_media(path)
    key = (path, stream, now.st_size, now.st_mtime_ns)
    if key not in _known:
        _known[key] = _opened(path, stream, key)
    return _known[key]


_Key = tuple[Path, int, int, int]
_known: dict[_Key, Recording] = {}


def _opened(path: Path, stream: int, key: _Key) -> Recording:
    if stream == 0 and path.suffix.lower() == ".wav":
        import soundfile  # noqa: PLC0415 - loads a shared library, so only when needed

        try:
            with soundfile.SoundFile(str(path)) as file:
                believable(path, channels=file.channels, rate_hz=file.samplerate)
                return _Uncompressed(path, file.samplerate, file.channels, file.subtype == "PCM_16")
        except soundfile.LibsndfileError:
            pass  # another library may still make something of it
    import av  # noqa: PLC0415 - heavy, and not wanted for plain wav

    try:
        with open_media(path) as container:
            streams = container.streams.audio
            if not streams:
                raise MediaError(path, "it has no sound stream; use a clip with sound or mute it")
            if stream >= len(streams):
                raise MediaError(path, f"it has no sound stream {stream}, only {len(streams)} of them")
            context: AudioCodecContext | None = streams[stream].codec_context
            if context is None or not context.sample_rate or not context.channels:
                raise _not_decoded(path, "its sound is of no known kind")
            return _Decoded(
                key,
                context.sample_rate,
                context.channels,
                narrow=streams[stream].format.name in ("s16", "s16p"),
                indexed=container.format.name not in UNINDEXED,
                exact=context.name.startswith(LOSSLESS),
            )
    except av.error.FFmpegError as problem:
        raise _not_decoded(path, problem.strerror) from problem


def _not_decoded(path: Path, why: str | None) -> MediaError:
    return MediaError(path, f"it cannot be decoded ({why}); check that it plays")


@dataclass(slots=True)
class _Uncompressed:
    """A file that is read as fast as any copy of it would be."""

    path: Path
    rate_hz: int
    channels: int
    narrow: bool

    def read(self, wanted: Span) -> Sound:
        import soundfile  # noqa: PLC0415 - see _opened

        sound = np.zeros((self.channels, wanted.length), np.float32)
        try:
            with soundfile.SoundFile(str(self.path)) as file:
                inside = wanted.shared(Span(0, file.frames))
                if inside.length > 0:
                    file.seek(inside.start)
                    # The library's own way from 16 bits to floats takes longer than reading does.
                    kind = "int16" if self.narrow else "float32"
                    read = file.read(inside.length, dtype=kind, always_2d=True).T
                    first = inside.start - wanted.start
                    place = sound[:, first : first + read.shape[1]]
                    np.multiply(read, np.float32(1) / (_FULL_SCALE_16 if self.narrow else 1), out=place)
        except soundfile.LibsndfileError as problem:
            raise MediaError(self.path, f"it cannot be read ({problem.error_string})") from problem
        return sound


@dataclass(slots=True)
class _Decoded:
    """A stream of which every second is decoded once, then found on the shelf.

    narrow: its samples are whole numbers of 16 bits, and are kept so. indexed: it can be entered anywhere.
    exact: it sounds the same wherever it was entered.
    """

    key: _Key
    rate_hz: int
    channels: int
    narrow: bool
    indexed: bool
    exact: bool
    _reached: int = 0
    _ended: int | None = None
    _decoding: Lock = field(default_factory=Lock)

    def read(self, wanted: Span) -> Sound:
        sound = np.zeros((self.channels, wanted.length), np.float32)
        seconds = range(max(0, wanted.start) // self.rate_hz, -(-max(0, wanted.end) // self.rate_hz))
        with self._decoding:
            missing = [second for second in seconds if not self._fetch(second, sound, wanted)]
            while missing:
                run = [m for n, m in enumerate(missing) if m == missing[0] + n]
                for second, block in self._seconds(run[0], run[-1] + 1):
                    self._lay(second, block, sound, wanted)
                missing = missing[len(run) :]
        return sound

    def _fetch(self, second: int, sound: Sound, wanted: Span) -> bool:
        if self._ended is not None and second >= self._ended:
            return True
        kept = the_shelf().get((self.key, second))
        if kept is None:
            return False
        self._lay(second, kept, sound, wanted)
        return True

    def _lay(self, second: int, block: NDArray[np.generic], sound: Sound, wanted: Span) -> None:
        own = Span(second * self.rate_hz, (second + 1) * self.rate_hz)
        both = own.shared(wanted)
        if both.length > 0:
            part = block[:, both.start - own.start : both.end - own.start]
            place = sound[:, both.start - wanted.start : both.end - wanted.start]
            # Only what is wanted is turned into floats, in one pass: a power of two changes no digit.
            scale = _FULL_SCALE_16 if part.dtype == np.int16 else np.float32(1)
            np.multiply(part, np.float32(1) / scale, out=place)

    def _seconds(self, first: int, last: int) -> Iterator[tuple[int, Sound]]:
        """Seconds `first` to `last` decoded and kept, and whatever had to be decoded on the way."""
        if not self.indexed:
            # Every way there leads from the start: it is worth going on, twice as far each time.
            yield from self._run(0, max(last, 2 * self._reached))
            return
        if self.exact:
            yield from self._run(first, last)
            return
        for entry in range(first // ENTRY_S * ENTRY_S, last, ENTRY_S):
            if self._ended is None or entry < self._ended:
                yield from self._run(entry, entry + ENTRY_S)

    def _run(self, first: int, last: int) -> Iterator[tuple[int, Sound]]:
        """Seconds decoded one after the other from where the stream is entered."""
        for second, block in _in_seconds(self._blocks(first), self.rate_hz, self.channels, first, last):
            kept = np.rint(block * _FULL_SCALE_16).astype(np.int16) if self.narrow else block
            if the_shelf().put((self.key, second), kept):
                self._reached = max(self._reached, second + 1)
            yield second, block

    def _blocks(self, first: int) -> Iterator[tuple[int, Sound]]:
        import av  # noqa: PLC0415 - see _opened

        path, stream = self.key[:2]
        try:
            with open_media(path) as container:
                track = container.streams.audio[stream]
                end = first * self.rate_hz
                for place, block in samples_from(path, container, track, end):
                    yield place, block
                    end = place + block.shape[1]
                self._ended = -(-end // self.rate_hz)
        except av.error.FFmpegError as problem:
            raise _not_decoded(path, problem.strerror) from problem


def _in_seconds(
    blocks: Iterator[tuple[int, Sound]], rate_hz: int, channels: int, first: int, last: int
) -> Iterator[tuple[int, Sound]]:
    """The blocks cut into whole seconds from `first` on, as far as they go, `last` at most."""
    second, end, filling = first, 0, np.zeros((channels, rate_hz), np.float32)
    for place, block in takewhile(lambda pair: pair[0] < last * rate_hz, blocks):
        end = place + block.shape[1]
        while second < last and end > (second + 1) * rate_hz:
            _copy(block, place, filling, second * rate_hz)
            yield second, filling
            second, filling = second + 1, np.zeros((channels, rate_hz), np.float32)
        _copy(block, place, filling, second * rate_hz)
    if second < last and end > second * rate_hz:
        yield second, filling


def _copy(block: Sound, place: int, filling: Sound, start: int) -> None:
    first, last = max(place, start), min(place + block.shape[1], start + filling.shape[1])
    if first < last:
        filling[:, first - start : last - start] = block[:, first - place : last - place]
