"""How a join in speech sounds: measures of both sides of an edit, as the ear would compare them.

All functions take mono sound at 16 kHz, float32, full scale ±1.0, and the chance of speech per HOP
samples as a `SpeechDetector` gives it. Nothing here knows projects, thresholds or words for people.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from math import inf, isnan, nan

import numpy as np
from numpy.typing import NDArray

from mltassist.joins.planner.judge import Habits, Measures
from mltassist.media.sound.recordings import Sound
from mltassist.media.sound.speech import HOP, RATE_HZ

FRAME = 160  # samples, 10 ms: the step of all measures here
WINDOW = 400  # samples, 25 ms
BANDS = 24
AUDIBLE_DB = 45.0  # a room so far under the speech is not heard beside it (common practice)
QUIET = 0.35  # activity under which a frame is no word
LONG_PAUSE_PERCENTILE = 95

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Side:
    """One side of an edit: a stretch of its source across the edit, in frames of 10 ms.

    level_db: level, shape (frames,); bands_db: in 24 mel bands, shape (frames, 24); speech: chance of
    speech. edit: the frame that is the first after the edit; what lies beyond it on the far side is the
    handle, which the film does not use but which tells whether a word goes on. sound: its samples, of
    which `cut` is the first after the edit.
    """

    level_db: Array
    bands_db: Array
    speech: Array
    edit: int
    sound: Sound
    before: bool
    cut: int

    @property
    def used(self) -> slice:
        """The frames that the film uses."""
        return slice(0, self.edit) if self.before else slice(self.edit, len(self.level_db))

    def moved(self, samples: int) -> Side:
        """The same stretch with the edit so many samples later in it."""
        cut = min(len(self.sound), max(0, self.cut + samples))
        return replace(self, cut=cut, edit=min(len(self.level_db), round(cut / FRAME)))


def side(sound: Sound, chance: NDArray[np.float32], *, edit: int, before: bool) -> Side:
    """One side from a stretch of its source across the edit: sample `edit` is the first after it."""
    level, bands = frame_levels(sound)
    sampled = np.repeat(chance, HOP)[: len(sound)][FRAME // 2 :: FRAME][: len(level)]
    speech = np.zeros(len(level))
    speech[: len(sampled)] = sampled
    return Side(level, bands, speech, 0, sound, before, 0).moved(edit)


def habits(sound: Sound, chance: NDArray[np.float32]) -> Habits:
    """Habits of a recording of one speaker. Values are 0 where it is too short to tell."""
    whole = side(sound, chance, edit=len(sound), before=True)
    level = speech_level(whole)
    floor = (-30.0 if isnan(level) else level) - AUDIBLE_DB
    active = activity(whole, room(whole), level)
    quiet = np.convolve(active >= QUIET, np.ones(9), "same") < 0.5  # out of reach of words
    edges = np.flatnonzero(np.diff(np.concatenate(([0], quiet.astype(int), [0]))))
    phrases, pauses = [], []
    at = 0
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        spoken = whole.level_db[at:start][whole.speech[at:start] > 0.6]
        if len(spoken) >= 60:
            phrases.append(10 * np.log10(np.mean(10 ** (spoken / 10))))
        if start > 0 and end < len(quiet):
            pauses.append((end - start + 8) * FRAME / RATE_HZ)
        at = end
    # The room is judged around pauses, as it is around edits.
    places = [
        (start + end) // 2 for start, end in zip(edges[::2], edges[1::2], strict=True) if end - start > 5
    ]
    parts = [slice(max(0, place - 200), place + 200) for place in places]
    rooms = [
        found
        for part in parts
        if (found := room(replace(whole, level_db=whole.level_db[part], bands_db=whole.bands_db[part])))
    ]
    compared = [compare_rooms(a, b, floor) for a, b in combinations(rooms[:40], 2)]
    return Habits(
        level_sd_db=float(np.std(phrases)) if len(phrases) > 2 else 0.0,
        room_step_db=float(np.percentile(np.abs([step for step, _ in compared]), 90)) if compared else 0.0,
        room_shape_db=float(np.percentile([shape for _, shape in compared], 90)) if compared else 0.0,
        long_pause_s=float(np.percentile(np.round(pauses, 2), LONG_PAUSE_PERCENTILE)) if pauses else 0.0,
    )


def frame_levels(sound: Sound) -> tuple[Array, Array]:
    """Level in dBFS of every 10 ms, and of each of 24 mel bands in it. Shapes (n,), (n, 24)."""
    count = len(sound) // FRAME
    if count == 0:
        return np.zeros(0), np.zeros((0, BANDS))
    padded = np.pad(sound, (WINDOW // 2 - FRAME // 2, WINDOW))
    starts = np.arange(count) * FRAME
    blocks = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[starts]
    window, filters = _window(), _mel_filters()
    power = np.abs(np.fft.rfft(blocks * window, 512, axis=1)) ** 2 / (window**2).sum() / 256
    bands = power @ filters
    level = power[:, 3:].sum(axis=1)  # above 80 Hz: rumble is no voice
    return 10 * np.log10(level + 1e-10), 10 * np.log10(bands + 1e-10)


@cache
def _window() -> Array:
    return np.asarray(np.hanning(WINDOW + 2)[1:-1], dtype=np.float64)


@cache
def _mel_filters() -> Array:
    """Triangles on the mel scale (O'Shaughnessy: 2595 log10(1 + f/700)) from 80 to 7600 Hz: (257, 24)."""
    mel = np.linspace(_mel(80.0), _mel(7600.0), BANDS + 2)
    edges = 700 * (10 ** (mel / 2595) - 1)
    f = np.arange(257) * RATE_HZ / 512
    rise = (f[:, None] - edges[:-2]) / np.diff(edges)[:-1]
    fall = (edges[2:] - f[:, None]) / np.diff(edges)[1:]
    return np.maximum(0.0, np.minimum(rise, fall))


def _mel(f: float) -> float:
    return float(2595 * np.log10(1 + f / 700))


def measure(left: Side, right: Side, *, crossed: int = 0) -> Measures:
    """Compare the two sides of an edit; crossed: samples before it in which they cross over."""
    speech_left, speech_right = speech_level(left), speech_level(right)
    known = [level for level in (speech_left, speech_right) if not isnan(level)]
    floor = max(known, default=-30.0) - AUDIBLE_DB
    room_left, room_right = room(left), room(right)
    step, shape = nan, nan
    if room_left is not None and room_right is not None:
        step, shape = compare_rooms(room_left, room_right, floor)
    active_left = activity(left, room_left, speech_left)
    active_right = activity(right, room_right, speech_right)
    return Measures(
        speech_before_dbfs=speech_left,
        speech_after_dbfs=speech_right,
        background_step_db=step,
        background_shape_db=shape,
        cut_before=inside_word(left, active_left),
        cut_after=inside_word(right, active_right),
        click_db=click(crossing(left, right, crossed), right.sound[right.cut :]),
        pause_s=pause_left(active_left[left.used], active_right[right.used]),
        pitch_step_semitones=pitch_step(left, right),
    )


def speech_level(one: Side) -> float:
    """Level of speech on a side, dBFS: mean power of the louder frames in which someone surely speaks."""
    spoken = one.level_db[one.used][one.speech[one.used] > 0.6]
    if len(spoken) < 20:
        return nan
    loud = spoken[spoken > np.percentile(spoken, 30)]
    return float(10 * np.log10(np.mean(10 ** (loud / 10))))


def room(one: Side) -> tuple[Array, Array] | None:
    """The room on a side: levels (n,) and band levels (n, 24) of its quietest frames.

    The quietest eight in a hundred, for even fast speech leaves that much between its sounds, while
    breaths fill many a pause. The handle counts too: the room of a source does not end where its clip
    is cut. None where there is less than a second to judge from.
    """
    if len(one.level_db) < 100:
        return None
    quiet = one.level_db <= np.percentile(one.level_db, 8)
    return one.level_db[quiet], one.bands_db[quiet]


def compare_rooms(
    left: tuple[Array, Array], right: tuple[Array, Array], floor_db: float
) -> tuple[float, float]:
    """Step in level (dB, positive when louder after) and difference in spectrum (dB RMS, level apart).

    What lies under `floor_db` is not heard beside the speech, and counts as that.
    """
    levels = [max(floor_db, float(np.median(one[0]))) for one in (left, right)]
    bands = [np.maximum(floor_db - 14.0, np.median(one[1], axis=0)) for one in (left, right)]
    return levels[1] - levels[0], float(np.std(bands[1] - bands[0]))


def activity(one: Side, the_room: tuple[Array, Array] | None, speech_db: float) -> Array:
    """How much every frame sounds, from 0 at the room's level to 1 at that of speech. Shape (frames,)."""
    if not len(one.level_db):
        return np.zeros(0)
    top = float(np.percentile(one.level_db, 90)) if isnan(speech_db) else speech_db
    bottom = float(np.median(the_room[0])) if the_room is not None else float(np.percentile(one.level_db, 4))
    bottom = max(bottom, top - AUDIBLE_DB)
    if top - bottom < 6:
        return np.zeros(len(one.level_db))
    return np.clip((one.level_db - bottom) / (top - bottom), 0.0, 1.0)


def inside_word(one: Side, active: Array) -> float:
    """How far the edit lies inside a word, 0 to 1: the least activity near it in its source.

    A word that is cut has no quiet on either side of the cut.
    """
    around = active[max(0, one.edit - 3) : one.edit + 3]
    return float(around.min()) if len(around) else 0.0


def can_cross(right: Side, samples: int) -> bool:
    """True when what comes before the edit in the source of its right side may be heard so long.

    It may be the same sound that the edit cuts into, or no sound at all; not the end of another word.
    """
    if right.cut < samples:
        return False
    active = activity(right, room(right), speech_level(right))
    before = active[max(0, right.edit - -(-samples // FRAME)) : right.edit]
    return bool((before < QUIET / 2).all() or (before >= QUIET).all())


def crossing(left: Side, right: Side, samples: int) -> Sound:
    """The sound up to the edit, its last samples fading over, in straight lines, into those of the right."""
    sound = left.sound[: left.cut]
    samples = min(samples, left.cut, right.cut)
    if not samples:
        return sound
    rise = np.arange(1, samples + 1, dtype=np.float32) / np.float32(samples)
    crossed = sound[-samples:] * (1 - rise) + right.sound[right.cut - samples : right.cut] * rise
    return np.concatenate((sound[:-samples], crossed))


def click(left: Sound, right: Sound) -> float:
    """Jump between the samples at the edit over the largest step in the 5 ms on both sides, dB.

    Jumps under -60 dBFS are not heard and count as 0 dB.
    """
    near = RATE_HZ // 200
    if len(left) < near or len(right) < near:
        return 0.0
    around = max(np.abs(np.diff(left[-near:])).max(), np.abs(np.diff(right[:near])).max(), 1e-3)
    return float(20 * np.log10(max(abs(right[0] - left[-1]), 1e-3) / around))


def pause_left(before: Array, after: Array) -> float:
    """Seconds between the last activity before an edit and the first after it; inf without either."""
    last, first = np.flatnonzero(before >= QUIET), np.flatnonzero(after >= QUIET)
    if not len(last) or not len(first):
        return inf
    return float(len(before) - 1 - int(last[-1]) + int(first[0])) * FRAME / RATE_HZ


def pitch_step(left: Side, right: Side) -> float:
    """Semitones from the last voiced pitch before the edit to the first after it; nan without either."""
    return float(12 * np.log2(pitch(right) / pitch(left)))


def pitch(one: Side) -> float:
    """Median pitch, Hz, of up to 200 ms of voice nearest to the edit (autocorrelation, 60 to 400 Hz)."""
    spoken = np.flatnonzero(one.speech >= 0.5)
    spoken = spoken[spoken < one.edit][-20:] if one.before else spoken[spoken >= one.edit][:20]
    found = []
    for frame in spoken:
        block = one.sound[max(0, frame * FRAME - 320) : frame * FRAME + 320]
        if len(block) == 640 and (hz := _autocorrelation_pitch(block)) > 0:
            found.append(hz)
    return float(np.median(found)) if len(found) >= 3 else nan


def _autocorrelation_pitch(block: Sound) -> float:
    block = block - block.mean()
    spectrum = np.fft.rfft(block * np.hanning(len(block)), 2048)
    correlation = np.fft.irfft(np.abs(spectrum) ** 2)[:320]
    if correlation[0] <= 0:
        return 0.0
    low = RATE_HZ // 400
    lag = low + int(np.argmax(correlation[low : RATE_HZ // 60]))
    return RATE_HZ / lag if correlation[lag] > 0.35 * correlation[0] else 0.0
