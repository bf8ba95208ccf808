"""The closed set of changes the package can make, each with the reason it is made.

A plan is a tuple of these, applied in order: the frames of an edit are those of the timeline as the
edits before it have left it. Field names are part of the plan format (docs/formats.md).
`decision`, where an edit has it: the name of what it decides, by which it can be chosen otherwise.
Annotations are not put off here: the bounds of a figure stand in its type.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated

from mltassist.frames import Span
from mltassist.timeline.bounds import Bounded, Flaw, Within

FADE_DB = -60.0
"""Where fades begin and end: the floor the hosts themselves use."""
MOST_GAIN_DB = 20.0
"""The engine's volume filter plays no more gain than this, unless it is told to (`max_gain`)."""
CROSSING_FRAMES = 2
"""What a crossed join takes on either side: a filter's first frame has no ramp, so the second is the fade."""
FARTHEST = 10**9
"""No frame comes near it."""
Frame = Annotated[int, Within(0, FARTHEST)]
TrackNumber = Annotated[int, Within(0, FARTHEST)]
HOSTS_PLACE = -1
"""In place of a track's number: the track goes where its host puts a new one."""
Length = Annotated[int, Within(1, FARTHEST)]
Offset = Annotated[int, Within(-FARTHEST, FARTHEST)]
"""Frames of a source, or frames by which something moves: what a source holds is known where it is laid."""
Gain = Annotated[float, Within(-200, 200)]
"""dB: what is silent counts as -120, and nothing is amplified by more than that."""
Score = Annotated[float, Within(0, FARTHEST)]


@dataclass(frozen=True, slots=True)
class ClearOurs(Bounded):
    """Take away what an earlier run put in: tracks and their clips, curves, markers.

    what: "cover" (with its alternatives and the sound under it), "natural" (with the fades of what ran out in
    a pause), "joins", "duck" (level curves and the gain on the whole film), "levels" or "gain" (one of these
    alone), "markers", or "tracks" (those of ours on which nothing lies).
    keep: starts of clips on our tracks that stay; beside the cover only those changed by hand do.
    """

    what: str
    reason: str
    keep: tuple[Frame, ...] = ()


@dataclass(frozen=True, slots=True)
class AddTrack(Bounded):
    """Our own track of a role, made where it is not there yet, with nothing on it.

    It says where the track goes, or stands for edits that were left out of a plan and would have made it:
    later edits name tracks by their number. above: number of the track right above which it is put;
    HOSTS_PLACE: where the host puts it.
    """

    role: str
    reason: str
    above: Annotated[int, Within(-1, FARTHEST)] = HOSTS_PLACE


@dataclass(frozen=True, slots=True)
class LayShot(Bounded):
    """A silent cutaway on our own picture track.

    at, length: timeline frames; source_in: first source frame shown; track: role of the track, which is
    "cover", or "alternatives" for one that is laid over it on a track that is switched off. push_in: how many
    times larger its picture is at its last frame than at its first. shape: width by height of its picture,
    where that is not the film's: it is enlarged until it fills the frame, or what lies beneath would be seen.
    """

    at: Frame
    length: Length
    source: str
    source_in: Offset
    reason: str
    track: str = "cover"
    name: str = ""
    decision: str = ""
    push_in: Annotated[float, Within(1, 2)] = 1.0
    shape: Annotated[float, Within(0, 100)] = 0.0


@dataclass(frozen=True, slots=True)
class LayNatural(Bounded):
    """Natural sound with its picture on our own tracks.

    The picture fills `length` frames from `at`; the sound starts `lead` frames earlier and ends
    `trail` frames later, `gain_db` louder than recorded, with fades of `fade_in` and `fade_out` frames.
    """

    at: Frame
    length: Length
    source: str
    source_in: Offset
    reason: str
    lead: Frame = 0
    trail: Frame = 0
    gain_db: Gain = 0.0
    fade_in: Frame = 0
    fade_out: Frame = 0
    track: str = "natural"
    name: str = ""
    decision: str = ""


@dataclass(frozen=True, slots=True)
class LayUnder(Bounded):
    """The own sound of a shot that lies at the same place, on our own sound track.

    It fills `length` frames from `at`, `gain_db` louder than recorded, with fades of `fade_in` and
    `fade_out` frames. Hosts that link picture and sound link it to the shot.
    """

    at: Frame
    length: Length
    source: str
    source_in: Offset
    reason: str
    gain_db: Gain = 0.0
    fade_in: Frame = 0
    fade_out: Frame = 0
    track: str = "under"
    name: str = ""
    decision: str = ""


@dataclass(frozen=True, slots=True)
class OpenPause(Bounded):
    """Everything from frame `at` on moves `length` frames later, on every track together.

    A clip that lies across `at` is split, except on the tracks in `run_on`: there it plays on, as far
    as its source lasts, so that its end stays with the picture. Where it was cut with nothing removed, the
    pieces after the cut play on too.
    """

    at: Frame
    length: Length
    reason: str
    run_on: tuple[TrackNumber, ...] = ()
    decision: str = ""


@dataclass(frozen=True, slots=True)
class ClosePause(Bounded):
    """A pause of `length` frames at frame `at`, which an earlier run has opened, is taken back.

    All after it moves so much earlier on every track. What was split there is one clip again, and what has
    played on through it plays so much less.
    """

    at: Frame
    length: Length
    reason: str


@dataclass(frozen=True, slots=True)
class NudgeJoin(Bounded):
    """The join at frame `at` is moved by a few frames of its sources, on all of `tracks` alike.

    The clip before it plays `before_by` frames more at its end, fewer where negative; the clip after it
    begins `after_by` frames later in its source, earlier where negative. What follows moves by `shift`
    frames on every track: clips of other tracks that lie across play so much longer or shorter.
    verdict_before, verdict_after and the scores: how the join sounds without and with the edit.
    """

    at: Frame
    tracks: tuple[TrackNumber, ...]
    before_by: Offset
    after_by: Offset
    reason: str
    score_before: Score = 0.0
    score_after: Score = 0.0
    verdict_before: str = ""
    verdict_after: str = ""
    decision: str = ""

    @property
    def shift(self) -> int:
        """Frames by which the film becomes longer; negative where it becomes shorter."""
        return self.before_by - self.after_by

    @property
    def joined_at(self) -> int:
        """The first frame after the join once it has been moved."""
        return self.at + self.before_by


@dataclass(frozen=True, slots=True)
class FadeJoin(Bounded):
    """The sound of the join at frame `at` of track `track` crosses over within the frame before it.

    The clip before it fades out in its last frame. What its source holds just before frame `source_in`,
    where the clip after the join begins, is laid over that frame on our own sound track and fades in,
    `gain_db` louder than recorded. verdict_before, verdict_after and the scores: how the join sounds
    without and with the edit.
    """

    at: Frame
    track: TrackNumber
    source: str
    source_in: Offset
    reason: str
    gain_db: Gain = 0.0
    score_before: Score = 0.0
    score_after: Score = 0.0
    verdict_before: str = ""
    verdict_after: str = ""
    decision: str = ""


@dataclass(frozen=True, slots=True)
class LayTone(Bounded):
    """The room of a recording, laid on our own sound track where its speech leaves a hole.

    It fills `length` frames from `at`, `gain_db` louder than recorded, with fades of `fade_in` and
    `fade_out` frames under the speech at both ends.
    """

    at: Frame
    length: Length
    source: str
    source_in: Offset
    reason: str
    gain_db: Gain = 0.0
    fade_in: Frame = 1
    fade_out: Frame = 1
    decision: str = ""


@dataclass(frozen=True, slots=True)
class MatchLevel(Bounded):
    """One gain of ours on the clip that starts at frame `at` of track `track`, beside the editor's own.

    It brings the clip to the level at which its speaker is heard elsewhere. source: what the clip plays, as
    in a level curve. verdict_before, verdict_after and the scores: how the worse of its ends sounds without
    and with the edit.
    """

    at: Frame
    track: TrackNumber
    gain_db: Gain
    reason: str
    source: str = ""
    score_before: Score = 0.0
    score_after: Score = 0.0
    verdict_before: str = ""
    verdict_after: str = ""
    decision: str = ""

    @property
    def curve(self) -> "SetLevelCurve":
        """The same as a curve that never moves."""
        keys = ((self.at, self.gain_db),)
        return SetLevelCurve(self.at, self.track, keys, self.reason, "match", self.source)


@dataclass(frozen=True, slots=True)
class SetLevelCurve(Bounded):
    """A volume curve of ours on the clip that starts at frame `at` of track `track`.

    keys: (timeline frame, dB) pairs, straight in dB between them, the last one reached at the end of
    its frame. what: "duck", which the next run makes anew, or "fade", part of the film from then on like
    the pause it belongs to. Replaces our earlier curve of that kind on that clip; where both lie on one
    clip they add up. The editor's own filters stay. source: what the clip plays; it finds the clip where
    edits that would have added tracks before this one were left out, and tracks are counted otherwise.
    """

    at: Frame
    track: TrackNumber
    keys: tuple[tuple[Frame, Gain], ...]
    reason: str
    what: str = "duck"
    source: str = ""
    decision: str = ""

    def contradictions(self) -> Iterator[Flaw]:
        """A curve has keys, in order; of two at one frame the last counts."""
        if not self.keys:
            yield ("keys",), "there are none"
        if any(later[0] < key[0] for key, later in pairwise(self.keys)):
            yield ("keys",), "their frames fall"


@dataclass(frozen=True, slots=True)
class SetFilmGain(Bounded):
    """One gain of ours on all that is heard, the whole film long; replaces an earlier one."""

    gain_db: Gain
    reason: str


@dataclass(frozen=True, slots=True)
class AddMarker(Bounded):
    """A marker of ours where the editor should look."""

    at: Frame
    text: str
    reason: str
    decision: str = ""


@dataclass(frozen=True, slots=True)
class MarkClip(Bounded):
    """A marker of ours on a clip of the bin, at a frame of its source; nothing on the timeline changes."""

    source: str
    source_in: Frame
    text: str
    reason: str
    decision: str = ""


Edit = (
    ClearOurs
    | AddTrack
    | NudgeJoin
    | FadeJoin
    | MatchLevel
    | LayTone
    | LayShot
    | LayNatural
    | LayUnder
    | OpenPause
    | ClosePause
    | SetLevelCurve
    | SetFilmGain
    | AddMarker
    | MarkClip
)
EDITS: tuple[type[Edit], ...] = (
    ClearOurs,
    AddTrack,
    NudgeJoin,
    FadeJoin,
    MatchLevel,
    LayTone,
    LayShot,
    LayNatural,
    LayUnder,
    OpenPause,
    ClosePause,
    SetLevelCurve,
    SetFilmGain,
    AddMarker,
    MarkClip,
)


def span_of(edit: Edit) -> Span | None:
    """Frames of the timeline that the edit fills or opens; None where it fills none."""
    match edit:
        case LayShot() | LayNatural() | LayUnder() | LayTone() | OpenPause():
            return Span(edit.at, edit.at + edit.length)
        case _:
            return None


def tracks_made(edit: Edit) -> tuple[str, ...]:
    """Roles of the tracks of ours that an edit makes where they are not there yet, in that order."""
    match edit:
        case AddTrack(role=role) | LayShot(track=role) | LayUnder(track=role):
            return (role,)
        case LayNatural(track=role):
            return "natural picture", role
        case FadeJoin() | LayTone():
            return ("joins",)
        case _:
            return ()


def counts_tracks(edit: Edit) -> bool:
    """True for an edit that means other clips where tracks have come to count otherwise.

    A level curve finds its clip by its source.
    """
    match edit:
        case NudgeJoin() | FadeJoin():
            return True
        case OpenPause(run_on=tracks):
            return bool(tracks)
        case AddTrack(above=above):
            return above != HOSTS_PLACE
        case SetLevelCurve(source=source) | MatchLevel(source=source):
            return not source
        case _:
            return False
