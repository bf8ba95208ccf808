"""The words of a film: those of its recordings, followed through the edit to the timeline."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from mltassist.errors import MediaError
from mltassist.findings import Findings, Run, speech_clips
from mltassist.frames import Rate, Span, joined
from mltassist.media.words.engine import NoEngine
from mltassist.media.words.interface import WORDS_HZ, SpokenLine, TimedWord
from mltassist.media.words.recording import SpokenRecording, words_of_recording
from mltassist.media.words.wheels import advice
from mltassist.timeline.model import Clip

STAGE = "finding words"
_AROUND_S = 2
"""Seconds before and after a clip in which a line may begin or end that it plays a part of."""


INSIDE_MS = 80
"""Nearer to an end of a word its times are not sure enough to say that something lies inside it."""


@dataclass(frozen=True, slots=True)
class Said:
    """A word that the film plays.

    at, length: frames of the timeline. source, source_in: the recording and its frame. speaker: as the
    transcript names them, else the clip's name. trust: 0 to 1, see `media.words`.
    """

    text: str
    at: int
    length: int
    source: str
    source_in: int
    speaker: str
    trust: float
    language: str
    opens: bool
    trusted: bool
    after: str = field(default="", compare=False)
    agreed: bool = True
    """Every hearing of its line has it."""

    def as_dict(self) -> dict[str, object]:
        """Plain data, in the form of docs/formats.md."""
        return {
            "text": self.text,
            "at": self.at,
            "length": self.length,
            "source": self.source,
            "source_in": self.source_in,
            "speaker": self.speaker,
            "trust": round(self.trust, 2),
        }


@dataclass(frozen=True)
class Speech:
    """What is said in the recordings of a film, by source and sound stream, and what the film plays of it.

    unheard: recordings without a transcript that nobody could listen to.
    """

    rate: Rate
    lines: Mapping[tuple[str, int], tuple[SpokenLine, ...]]
    said: tuple[Said, ...]
    unheard: tuple[str, ...] = field(default=())

    def between(self, clip: Clip, frames: Span) -> Iterator[TimedWord]:
        """Trusted words of a clip's recording that begin in these frames of it."""
        for line in self.lines.get((clip.source.key, clip.sound_stream), ()):
            if line.trusted:
                yield from (word for word in line.words if frame_said(word.at_ms, self.rate) in frames)

    def words_of(self, clip: Clip) -> tuple[TimedWord, ...]:
        """All words of a clip's recording that can be trusted and were found in its sound, in order."""
        lines = self.lines.get((clip.source.key, clip.sound_stream), ())
        words = (word for line in lines if line.trusted and line.aligned for word in line.words if word.sure)
        return tuple(sorted(words, key=lambda word: word.at_ms))

    def word_across(self, clip: Clip, frame: int) -> TimedWord | None:
        """The word inside which a source frame begins, so that a cut there would be heard in it."""
        at_ms = int(self.rate.seconds(frame) * 1000)
        return next(
            (w for w in self.words_of(clip) if w.at_ms + INSIDE_MS <= at_ms <= w.until_ms - INSIDE_MS), None
        )

    def knows(self, clip: Clip) -> bool:
        """Whether anything of a clip's recording is known, and not only guessed at."""
        return any(line.trusted for line in self.lines.get((clip.source.key, clip.sound_stream), ()))

    def language_of(self, clip: Clip) -> str:
        """The language of a clip's recording, "" where it is not known."""
        lines = self.lines.get((clip.source.key, clip.sound_stream), ())
        return next((line.language for line in lines if line.trusted and line.language), "")


def find_speech(findings: Findings, *, between: bool = False) -> Speech:
    """The words of all speech on the timeline, and with `between` of what was cut between two bites.

    What cannot be read is noted, and so is what would be gained where nobody can listen.
    """
    rate, ears = findings.timeline.rate, findings.run.ears
    played: defaultdict[tuple[str, int], list[Clip]] = defaultdict(list)
    for clip in readable(findings):
        played[clip.source.key, clip.sound_stream].append(clip)
    lines: dict[tuple[str, int], tuple[SpokenLine, ...]] = {}
    unheard: list[str] = []
    for number, (key, own) in enumerate(played.items()):
        source = spoken_recording(own[0], findings.recipe.speech.language)
        if source.transcript() is None:
            if not source.path.exists():
                continue  # it is told of where it is listened to
            if ears.hearer is None:
                unheard.append(key[0])
                continue
        told = _part_of(findings, number, len(played))
        try:
            lines[key] = words_known(findings.run, source, _wanted(own, rate, between=between), told)
        except (MediaError, NoEngine) as problem:
            findings.note(str(problem), own[0].start)
    said = {word for key, own in played.items() for word in through_the_edit(lines.get(key, ()), own, rate)}
    return Speech(rate, lines, tuple(sorted(said, key=lambda word: (word.at, word.text))), tuple(unheard))


def words_known(
    run: Run,
    source: SpokenRecording,
    wanted: Sequence[Span],
    on_progress: Callable[[float], None] | None = None,
) -> tuple[SpokenLine, ...]:
    """What `words_of_recording` gives, or gave to an earlier run while no file has changed."""
    files = (source.path, source.beside, source.transcript())
    made_of = (*map(_state, files), run.listening, run.recipe.speech.model)
    return run.memory.get(
        ("words", source, *made_of, tuple(wanted)),
        lambda: words_of_recording(source, wanted, run.ears, on_progress),
    )


def _state(path: Path | None) -> tuple[Path | None, int, int]:
    try:
        found = None if path is None else path.stat()
    except OSError:
        found = None
    return (path, 0, 0) if found is None else (path, found.st_size, found.st_mtime_ns)


def note_unheard(findings: Findings, speech: Speech) -> None:
    """Tell in a line what would be gained where nobody could listen, or nothing was understood for sure."""
    if speech.unheard and findings.run.ears.listening:
        count = len(speech.unheard)
        findings.note(
            f"what is said in {count} recording{'s' if count > 1 else ''} is not known: shots would follow "
            f"the words with a transcript beside each{advice()}"
        )
    doubtful = sum(bool(own) and not any(line.trusted for line in own) for own in speech.lines.values())
    if doubtful:
        findings.note(
            f"what is heard in {doubtful} recording{'s' if doubtful > 1 else ''} is not sure enough to be "
            "followed: shots would follow the words with a transcript beside each"
        )


def readable(findings: Findings) -> list[Clip]:
    """Clips of speech in which single words can be told: of a file, at its own speed."""
    return [c for _, c in speech_clips(findings) if c.source.path is not None and c.plain_speed]


def spoken_recording(clip: Clip, language: str = "") -> SpokenRecording:
    """The recording of a clip. Where a proxy stands in, the words mostly lie beside the original."""
    assert clip.source.path is not None  # noqa: S101 - whoever asks has looked
    return SpokenRecording(clip.source.path, Path(clip.source.key), clip.sound_stream, language)


def frame_said(ms: int, rate: Rate) -> int:
    """The frame that is shown at a time of a recording."""
    return ms * rate.numerator // (1000 * rate.denominator)


def _wanted(clips: Iterable[Clip], rate: Rate, *, between: bool) -> list[Span]:
    """Samples of a recording in which its clips speak, with what lies around them, or between them too."""
    spans = []
    for clip in clips:
        start = rate.samples(clip.source_in, WORDS_HZ) - _AROUND_S * WORDS_HZ
        end = rate.samples(clip.source_in + clip.length, WORDS_HZ) + _AROUND_S * WORDS_HZ
        spans.append(Span(max(0, start), end))
    if between:
        return [Span(min(span.start for span in spans), max(span.end for span in spans))]
    return list(joined(spans))


def _part_of(findings: Findings, number: int, of: int) -> Callable[[float], None]:
    return lambda part: findings.run.tell(STAGE, (number + part) / of)


def through_the_edit(lines: Iterable[SpokenLine], clips: Iterable[Clip], rate: Rate) -> Iterator[Said]:
    """The words that these clips play, each where its beginning is played."""
    lines = tuple(lines)
    for clip in clips:
        for line in lines:
            for word in line.words:
                frame = frame_said(word.at_ms, rate)
                if clip.source_in <= frame < clip.source_in + clip.length:
                    at = clip.start + frame - clip.source_in
                    end = min(clip.span.end, clip.start + frame_said(word.until_ms, rate) - clip.source_in)
                    yield Said(
                        word.text,
                        at,
                        max(1, end - at),
                        clip.source.key,
                        frame,
                        line.speaker or clip.name,
                        line.trust,
                        line.language,
                        word.opens,
                        line.trusted and word.sure,
                        word.after,
                        word.agreed,
                    )
