"""How a join in speech sounds: measures of both sides of an edit, as the ear would compare them.

All functions take mono sound at 16 kHz, float32, full scale ±1.0, and the chance of speech per HOP
samples as a `SpeechDetector` gives it. Nothing here knows projects, thresholds or words for people.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import inf, isnan, nan

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, rfft
from scipy.ndimage import minimum_filter1d
from scipy.special import ndtr, stdtrit

from mltassist.joins.clicks import NO_ONSET, Onset, click, onset
from mltassist.joins.planner.judge import Habits, Measures
from mltassist.joins.rooms import Array, Room, compare_rooms, compared, quietest
from mltassist.joins.seams import Seam, seam, seam_db
from mltassist.media.sound.recordings import Sound
from mltassist.media.sound.speech import HOP, RATE_HZ

FRAME = 160  # samples, 10 ms: the step of all measures here
_WINDOW = 400  # samples, 25 ms
BANDS = 24
AUDIBLE_DB = 60.0
"""A room so far under the speech is not heard: speech at 62 dB SPL (ANSI S3.5, from memory) less this lies
at the threshold of hearing."""
ACTIVE_DB = 45.0  # so far under the speech nothing counts as a sound of its own (common practice)
CLOSURE_S = (0.06, 0.15)
"""A silence in the source of at most the first lies inside a word, one of the second between two: plosives
close for 50 to 100 ms, doubled ones for longer (common practice)."""
_SURE, _SPOKEN = (0.6, 1.0), 0.15
"""Chance of speech from which it adds to how far an edit lies inside a word, up to so much."""
TAKE_DB, TAKE_COLOUR_DB = (1.5, 3.0), (2.5, 5.0)
"""Step and difference in colour from the room of a whole stretch to that of what the film uses of it, between
which what lies beyond the edit comes to count as another take."""
PITCHED = 320  # samples, 20 ms, on each side of a frame in which its pitch is looked for
QUIET = 0.35  # activity under which a frame is no word
SOUNDING = 0.25  # activity from which a pause is over: words begin and end softly
USUAL_PERCENTILE = 95
"""What a recording does by itself is what it does 19 times in 20."""
REST_PERCENTILE = 98
"""What its pauses hold, 49 times in 50: noise that a few of them hold is no word either."""
MOST_PLACES, ENOUGH = 40, 4
"""Pauses around which the room is judged, and how many long ones tell how its level varies."""

PHRASES_DB, PHRASES = 1.6, 4.3
"""How much the loudness of phrases is spread before a speaker is heard, and for how many phrases that counts.
Fitted to 37 open recordings by the moments of the logarithm of their variances (Smyth 2004)."""
RARE = 2.6
"""Standard deviations that a hundredth lies beyond, to both sides: there the distributions are compared."""

LONG = 16
"""Frames without words from which a pause shows its room's level: in shorter ones sounds still fade."""


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


def whole_of(sound: Sound, chance: NDArray[np.float32]) -> Side:
    """A recording as one side, all of which is used."""
    return side(sound, chance, edit=len(sound), before=True)


def habits(whole: Side) -> Habits:
    """Habits of a recording of one speaker; 0, but for phrases, where it is too short to tell."""
    level = speech_level(whole)
    floor = (-30.0 if isnan(level) else level) - AUDIBLE_DB
    active = activity(whole, room(whole), level)
    quiet = np.convolve(active >= QUIET, np.ones(9), "same") < 0.5  # out of reach of words
    edges = np.flatnonzero(np.diff(np.concatenate(([0], quiet.astype(int), [0]))))
    phrases, pauses, rests = [], [], []
    seems = (
        minimum_filter1d(active, 4) if len(active) else active
    )  # as far as an edit there would seem to lie inside
    at = 0
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        spoken = whole.level_db[at:start][whole.speech[at:start] > 0.6]
        if len(spoken) >= 60:
            phrases.append(10 * np.log10(np.mean(10 ** (spoken / 10))))
        if start > 0 and end < len(quiet):
            pauses.append((end - start + 8) * FRAME / RATE_HZ)
            rests.append(seems[(2 * start + end) // 3 : (start + 2 * end) // 3])  # where no room answers
        at = end
    # The room is judged around pauses, as it is around edits.
    rooms, long = [], []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        part = slice(max(0, (start + end) // 2 - 200), (start + end) // 2 + 200)
        if end - start > 5 and (found := quietest(whole.level_db[part], whole.bands_db[part])):
            rooms.append(found[1])
            long.append(end - start > LONG)
    steps, shapes = _differences(rooms[:MOST_PLACES], long[:MOST_PLACES], floor)
    return Habits(
        level_sd_db=phrases_sd_db(phrases),
        room_step_db=_usual(np.abs(steps)),
        room_shape_db=_usual(shapes),
        long_pause_s=_usual(np.round(pauses, 2)),
        rest=_usual(np.concatenate([*rests, np.zeros(0)]), REST_PERCENTILE),
    )


def phrases_sd_db(levels_db: Sequence[float]) -> float:
    """Spread of the loudness of phrases, dB, as it is to be expected of the next: known of many or of none.

    What a few phrases tell is drawn toward what is usual among speakers (the moderated variance of Smyth
    2004, a conjugate prior worth PHRASES phrases); and as that is less sure the fewer they are, it is as much
    wider as Student's distribution is than the normal one.
    """
    more = max(0, len(levels_db) - 1)
    own = float(np.var(levels_db, ddof=1)) if more else 0.0
    known = PHRASES + more
    spread = float(np.sqrt((PHRASES * PHRASES_DB**2 + more * own) / known))
    return spread * float(stdtrit(known, float(ndtr(RARE)))) / RARE


def _differences(rooms: Sequence[Array], long: Sequence[bool], floor_db: float) -> tuple[Array, Array]:
    """Steps between every two rooms, those around long pauses where there are enough, and their colours."""
    if len(rooms) < 2:
        return np.zeros(0), np.zeros(0)
    bands, lengths = np.array(rooms), np.array(long)
    one, other = np.triu_indices(len(rooms), 1)
    steps, shapes = compared(bands[one], bands[other], floor_db)
    both = lengths[one] & lengths[other]
    return steps[both] if lengths.sum() >= ENOUGH else steps, shapes


def _usual(values: Array, percentile: float = USUAL_PERCENTILE) -> float:
    """What these are under 19 times in 20, or so often as is asked for; 0 where there are none."""
    return float(np.percentile(values, percentile)) if len(values) else 0.0


def frame_levels(sound: Sound) -> tuple[Array, Array]:
    """Level in dBFS of every 10 ms, and of each of 24 mel bands in it. Shapes (n,), (n, 24)."""
    count = len(sound) // FRAME
    if count == 0:
        return np.zeros(0), np.zeros((0, BANDS))
    padded = np.pad(sound, (_WINDOW // 2 - FRAME // 2, _WINDOW))
    starts = np.arange(count) * FRAME
    blocks = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[starts]
    window, filters = _window(), _mel_filters()
    lines = rfft(blocks * window, 512, axis=1)
    power = (np.square(lines.real) + np.square(lines.imag)) / ((window**2).sum() * np.float32(256))
    bands = (power @ filters).astype(np.float64)
    level = power[:, 3:].sum(axis=1, dtype=np.float64)  # above 80 Hz: rumble is no voice
    return 10 * np.log10(level + 1e-10), 10 * np.log10(bands + 1e-10)


@cache
def _window() -> Sound:
    return np.asarray(np.hanning(_WINDOW + 2)[1:-1], dtype=np.float32)


@cache
def _mel_filters() -> Sound:
    """Triangles on the mel scale (O'Shaughnessy: 2595 log10(1 + f/700)) from 80 to 7600 Hz: (257, 24)."""
    mel = np.linspace(_mel(80.0), _mel(7600.0), BANDS + 2)
    edges = 700 * (10 ** (mel / 2595) - 1)
    f = np.arange(257) * RATE_HZ / 512
    rise = (f[:, None] - edges[:-2]) / np.diff(edges)[:-1]
    fall = (edges[2:] - f[:, None]) / np.diff(edges)[1:]
    return np.maximum(0.0, np.minimum(rise, fall)).astype(np.float32)


def _mel(f: float) -> float:
    return float(2595 * np.log10(1 + f / 700))


@dataclass(frozen=True, slots=True)
class HeardSide:
    """What one side of an edit tells by itself; whoever tries many moves weighs each side with many others.

    speech_dbfs: level of its speech; active: how much each of its frames sounds; pitch_hz: of the voice
    nearest to the edit; begins: the jump with which a side after the edit begins; seam: what it tells of
    clicks there.
    """

    side: Side
    speech_dbfs: float
    room: Room | None
    active: Array
    pitch_hz: float
    begins: Onset
    seam: Seam


def heard(one: Side, the_room: Room | None = None) -> HeardSide:
    """Listen to one side; its room is the same wherever its edit lies, and may be known already."""
    the_room = the_room or room(one)
    level = speech_level(one)
    silent = (-30.0 if isnan(level) else level) - AUDIBLE_DB
    begins = NO_ONSET if one.before else onset(one.sound, one.cut, silent)
    meets = seam(one.sound, one.cut, silent, before=one.before)
    return HeardSide(one, level, the_room, activity(one, the_room, level), pitch(one), begins, meets)


def measure_sides(left: Side, right: Side, *, crossed: int = 0) -> Measures:
    """Compare the two sides of an edit; crossed: samples before it in which they cross over."""
    return compare(heard(left), heard(right), crossed=crossed)


def compare(left: HeardSide, right: HeardSide, *, crossed: int = 0) -> Measures:
    """The same for sides that have been listened to."""
    loudest = max((x.speech_dbfs for x in (left, right) if not isnan(x.speech_dbfs)), default=-30.0)
    floor = loudest - AUDIBLE_DB
    step, shape = nan, nan
    if left.room is not None and right.room is not None:
        step, shape = compare_rooms(left.room, right.room, floor)
    noise = max((one.room[0] for one in (left, right) if one.room is not None), default=-inf)
    before, after = left.side, right.side
    jump = click(crossing(before, after, crossed), after.sound[after.cut :], loudest, noise)
    meets = 0.0 if crossed else seam_db(left.seam, right.seam, loudest)
    return Measures(
        speech_before_dbfs=left.speech_dbfs,
        speech_after_dbfs=right.speech_dbfs,
        background_step_db=step,
        background_shape_db=shape,
        cut_before=inside_word(before, left.active),
        cut_after=inside_word(after, right.active),
        click_db=max(jump, right.begins.click_db(loudest), meets),
        pause_s=pause_left(left.active[before.used], right.active[after.used]),
        pitch_step_semitones=_semitones(left.pitch_hz, right.pitch_hz),
    )


def speech_level(one: Side) -> float:
    """Level of speech on a side, dBFS: mean power of the louder frames in which someone surely speaks."""
    spoken = one.level_db[one.used][one.speech[one.used] > 0.6]
    if len(spoken) < 20:
        return nan
    loud = spoken[spoken > np.percentile(spoken, 30)]
    return float(10 * np.log10(np.mean(10 ** (loud / 10))))


def room(one: Side) -> Room | None:
    """The room on a side. The handle counts too: the room of a source does not end where its clip is cut.

    But where what lies beyond the edit is quieter and sounds alike, it is another take at another gain, and
    does not count. Sounds of dense speech, which leave no room beside the handle's, have another colour.
    """
    whole = quietest(one.level_db, one.bands_db)
    own = quietest(one.level_db[one.used], one.bands_db[one.used])
    if whole is None or own is None:
        return whole
    step, colour = compare_rooms(whole, own, whole[0] - ACTIVE_DB)
    apart = float(np.interp(step, TAKE_DB, (0.0, 1.0)) * np.interp(colour, TAKE_COLOUR_DB, (1.0, 0.0)))
    return whole[0] + apart * (own[0] - whole[0]), whole[1] + apart * (own[1] - whole[1])


def activity(one: Side, the_room: Room | None, speech_db: float) -> Array:
    """How much every frame sounds, from 0 at the room's level to 1 at that of speech. Shape (frames,)."""
    if not len(one.level_db):
        return np.zeros(0)
    top = float(np.percentile(one.level_db, 90)) if isnan(speech_db) else speech_db
    bottom = the_room[0] if the_room is not None else float(np.percentile(one.level_db, 4))
    bottom = max(bottom, top - ACTIVE_DB)
    if top - bottom < 6:
        return np.zeros(len(one.level_db))
    return np.clip((one.level_db - bottom) / (top - bottom), 0.0, 1.0)


def inside_word(one: Side, active: Array) -> float:
    """How far the edit lies inside a word, 0 to 1: the least activity near it in its source.

    A word that is cut has no quiet on either side of the cut, or no more than a plosive's closure. Where the
    detector is sure that someone speaks, a little is added: a closure may be long, and a sound soft.
    """
    near = slice(max(0, one.edit - 2), one.edit + 2)
    if not len(active[near]):
        return 0.0
    spoken = float(np.interp(one.speech[near].min(), _SURE, (0.0, _SPOKEN)))
    return min(1.0, max(float(active[near].min()), _closed(active, one.edit)) + spoken)


def _closed(active: Array, edit: int) -> float:
    """1 where the silence around an edit is short as inside a word, 0 where it is long as between two."""
    before, after = np.flatnonzero(active[:edit] >= QUIET), np.flatnonzero(active[edit:] >= QUIET)
    if not len(before) or not len(after):
        return 0.0
    silence = (edit - 1 - int(before[-1]) + int(after[0])) * FRAME / RATE_HZ
    return float(np.interp(silence, CLOSURE_S, (1.0, 0.0)))


def can_cross(right: HeardSide, samples: int) -> bool:
    """True when what comes before the edit in the source of its right side may be heard so long.

    It may be the same sound that the edit cuts into, or no sound at all; not the end of another word.
    """
    side = right.side
    if side.cut < samples:
        return False
    before = right.active[max(0, side.edit - -(-samples // FRAME)) : side.edit]
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


def pause_left(before: Array, after: Array) -> float:
    """Seconds between the last activity before an edit and the first after it.

    Where one side has none all of it counts: so long it is at the least. inf where neither has any.
    """
    last, first = np.flatnonzero(before >= SOUNDING), np.flatnonzero(after >= SOUNDING)
    if not len(last) and not len(first):
        return inf
    left = len(before) - 1 - int(last[-1]) if len(last) else len(before)
    return float(left + (int(first[0]) if len(first) else len(after))) * FRAME / RATE_HZ


def _semitones(low_hz: float, high_hz: float) -> float:
    return float(12 * np.log2(high_hz / low_hz))


def pitch(one: Side) -> float:
    """Median pitch, Hz, of up to 200 ms of voice nearest to the edit (autocorrelation, 60 to 400 Hz)."""
    spoken = np.flatnonzero(one.speech >= 0.5)
    spoken = spoken[spoken < one.edit][-20:] if one.before else spoken[spoken >= one.edit][:20]
    middles = [at for frame in spoken if PITCHED <= (at := frame * FRAME) <= len(one.sound) - PITCHED]
    if len(middles) < 3:
        return nan
    found = pitches(np.stack([one.sound[at - PITCHED : at + PITCHED] for at in middles]))
    return float(np.median(found)) if len(found) >= 3 else nan


def pitches(blocks: Sound) -> Array:
    """Pitch of each of the blocks (n, 640) that has one, Hz."""
    blocks = blocks - blocks.mean(axis=1, keepdims=True)
    lines = rfft(blocks * _pitch_window(), 1024, axis=1)  # room for lags up to 320 of 640 samples
    correlation = irfft(np.square(lines.real) + np.square(lines.imag), axis=1)[:, :320]
    low = RATE_HZ // 400
    lags = low + np.argmax(correlation[:, low : RATE_HZ // 60], axis=1)
    whole = correlation[:, 0]
    voiced = (whole > 0) & (correlation[np.arange(len(lags)), lags] > 0.35 * whole)
    return np.asarray(RATE_HZ / lags[voiced], np.float64)


@cache
def _pitch_window() -> Sound:
    return np.asarray(np.hanning(2 * PITCHED), np.float32)
