"""What a film plays as it stands: its loudness, and where someone speaks in it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from mltassist.findings import Findings, speech_activity
from mltassist.frames import Rate, Span
from mltassist.media.sound.meter import Loudness
from mltassist.music.delivery import loudness_row, whole_film
from mltassist.plans import Note


@dataclass(frozen=True, slots=True)
class Measured:
    """A film measured. mix: loudness (LUFS), range (LU) and true peak (dBTP) of all that is heard.

    speech: where someone speaks, in frames, in order.
    """

    project: Path
    rate: Rate
    mix: Loudness
    speech: tuple[Span, ...]
    notes: tuple[Note, ...]

    @property
    def speech_s(self) -> float:
        """Seconds in which someone speaks."""
        return float(self.rate.seconds(sum(span.length for span in self.speech)))

    def as_dict(self) -> dict[str, Any]:
        """The same as plain data; None where the film is silent."""
        return {
            "version": 1,
            "project": str(self.project),
            "rate": [self.rate.numerator, self.rate.denominator],
            "mix": loudness_row(self.mix),
            "speech": [[span.start, span.length] for span in self.speech],
            "notes": [asdict(note) for note in self.notes],
        }


def measured(path: Path, findings: Findings) -> Measured:
    """A film measured, by what is known of it."""
    mix, speech = whole_film(findings).meter.read(), speech_activity(findings)
    return Measured(path, findings.timeline.rate, mix, speech, tuple(findings.notes))
