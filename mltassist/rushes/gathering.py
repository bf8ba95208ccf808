"""The facts by which recordings that no name explains are told: sound, picture, use, neighbours."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import log
from pathlib import Path

from mltassist.errors import MediaError
from mltassist.media.picture.hints import picture_hints
from mltassist.media.picture.kind import drawn
from mltassist.media.probe import probe
from mltassist.media.sound.hints import sound_hints
from mltassist.media.sound.kind import Kind
from mltassist.media.sound.speech import SpeechDetector
from mltassist.media.sound.together import best_match, loudness_curve
from mltassist.rushes.evidence import Facts, Weighed, weigh
from mltassist.rushes.evidence_weights import Outcome
from mltassist.rushes.use import uses_of
from mltassist.timeline.model import Source, SourceKind, Timeline

SPEAKS = 0.3
"""Part of the sound that is speech from which a recording counts as one of somebody who speaks."""
SAME_LIKENESS, SAME_AHEAD = 0.6, 4.0
"""From these on two files hold the same sound: other pairs of voices were alike to 0.53 at most."""
NEIGHBOURS = 2
"""Files to either side, by number, that are asked what they seem to be."""
AS_LONG = log(1.5)
"""Files without numbers are of a kind where one is no more than half as long again as the other."""
_NUMBER = re.compile(r"\d+(?=\D*$)")
_Missing = Callable[[Path, str], None]
Told = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was gathered of one recording, and what it is taken for."""

    facts: Facts
    weighed: Weighed


def gather_evidence(
    timeline: Timeline,
    keys: Iterable[str],
    detector: SpeechDetector,
    *,
    known: Mapping[str, Outcome] | None = None,
    on_missing: _Missing | None = None,
    on_progress: Told | None = None,
) -> dict[str, Evidence]:
    """Evidence on these sources of a timeline and its bin, by key.

    known: what names tell of others, which then count as neighbours and as those who speak. Files that cannot
    be read are left out; `on_missing` is told.
    """
    sources = _sources(timeline)
    wanted = [key for key in dict.fromkeys(keys) if key in sources]
    facts: dict[str, Facts] = {}
    for number, key in enumerate(wanted):
        if on_progress is not None:
            on_progress(number / len(wanted))
        try:
            facts[key] = _measured(sources[key], timeline, detector)
        except MediaError as error:
            if on_missing is not None:
                on_missing(Path(error.path), str(error))
    partners = _partners(facts, sources)
    told = known or {}
    speaking = {key for key, one in facts.items() if one.speech >= SPEAKS}
    speaking |= {key for key, outcome in told.items() if outcome in ("interview", "narration")}
    uses = uses_of(timeline, speaking, partners)
    for key, partner in partners.items():
        facts[key] = replace(facts[key], partner=Path(partner).name)
    facts = {key: replace(one, use=uses.get(key, one.use)) for key, one in facts.items()}
    first = {key: weigh(one).chances for key, one in facts.items()}
    first |= {key: {outcome: 1.0} for key, outcome in told.items()}
    beside = neighbours({key: source for key, source in sources.items() if key in first}, facts)
    found = {}
    for key, one in facts.items():
        seen = replace(one, near=_mean([first[other] for other in beside.get(key, ())]))
        found[key] = Evidence(seen, weigh(seen))
    return found


def _sources(timeline: Timeline) -> dict[str, Source]:
    found = {clip.source.key: clip.source for clip in timeline.bin}
    for track in timeline.tracks:
        for clip in track.clips():
            found.setdefault(clip.source.key, clip.source)
    return found


def _measured(source: Source, timeline: Timeline, detector: SpeechDetector) -> Facts:
    """What sound and picture of one file tell by themselves. Raises MediaError where neither can be read."""
    path = source.path
    if path is None:
        return Facts(picture=source.has_picture, sound=source.has_sound)
    still = source.kind is SourceKind.IMAGE
    length = timeline.rate.seconds(source.length)
    facts = Facts(picture=False, sound=False, still=still, length_s=float(length), made_by=_made_by(path))
    problem: MediaError | None = None
    if source.has_picture or still:
        try:
            look = picture_hints(path)
            fixed = look.appearance.fixed if look.appearance.count > 1 else 0.0
            facts = replace(facts, picture=True, drawn=drawn(look.appearance), fixed=fixed)
        except MediaError as error:
            problem = error
    if source.has_sound and not still:
        try:
            heard = sound_hints(path, Fraction(length), detector)
            facts = replace(
                facts,
                sound=True,
                speech=heard.speech,
                runs_s=heard.runs_s,
                voices=heard.voices,
                music=heard.kinds[Kind.MUSIC],
                noise=heard.kinds[Kind.NOISE],
                level_db=heard.level_db,
            )
        except MediaError as error:
            problem = problem or error
    if not facts.picture and not facts.sound and problem is not None:
        raise problem
    return facts


def _made_by(path: Path) -> str:
    """What a file's container tells of the device; "" where it tells nothing."""
    try:
        return probe(path).made_by
    except MediaError:
        return ""  # told where it is decoded


def _partners(facts: Mapping[str, Facts], sources: Mapping[str, Source]) -> dict[str, str]:
    """Sound alone that speaks and the picture with the same sound, each by the other's key.

    Only files that speak are compared, and a picture's sound is sought in recordings of sound alone.
    """
    speak = [key for key, one in facts.items() if one.sound and one.speech >= SPEAKS / 2]
    alone = [key for key in speak if not facts[key].picture]
    pictured = [key for key in speak if facts[key].picture]
    if not alone or not pictured:
        return {}
    curves = {}
    for key in (*alone, *pictured):
        path = sources[key].path
        try:
            if path is not None:
                curves[key] = loudness_curve(path, Fraction(facts[key].length_s).limit_denominator(1000))
        except MediaError:
            continue  # told where it was first heard
    found: dict[str, str] = {}
    for picture in pictured:
        matches = {
            key: best_match(curves[picture], curves[key])
            for key in alone
            if picture in curves and key in curves
        }
        same = {k: m for k, m in matches.items() if m.likeness >= SAME_LIKENESS and m.ahead >= SAME_AHEAD}
        if same:
            best = max(same, key=lambda key: same[key].likeness)
            found[picture] = best
            found.setdefault(best, picture)
    return found


def _mean(chances: Sequence[Mapping[Outcome, float]]) -> dict[Outcome, float]:
    """The mean of some chances; none where there are none."""
    total: dict[Outcome, float] = {}
    for one in chances:
        for outcome, chance in one.items():
            total[outcome] = total.get(outcome, 0.0) + chance / len(chances)
    return total


def neighbours(
    sources: Mapping[str, Source], facts: Mapping[str, Facts] | None = None
) -> dict[str, tuple[str, ...]]:
    """By key, the files that were numbered just before and after each, in its folder.

    Only those of its make count (with picture or without, and with its ending): a camera numbers what it
    shoots in order, and what it shot last it often still shoots. Where a file has no number, or nobody beside
    it, those of its folder count that its device made, and that are about as long.
    """
    nearest = _by_number(sources)
    for key, one in (facts or {}).items():
        if one.made_by and not nearest.get(key):
            alike = {
                other: abs(log(max(1, its.length_s) / max(1, one.length_s)))
                for other, its in (facts or {}).items()
                if other != key and its.made_by == one.made_by and Path(other).parent == Path(key).parent
            }
            about = sorted((apart, other) for other, apart in alike.items() if apart <= AS_LONG)
            nearest[key] = tuple(other for _, other in about[: 2 * NEIGHBOURS])
    return nearest


def _by_number(sources: Mapping[str, Source]) -> dict[str, tuple[str, ...]]:
    rows: dict[tuple[str, bool], list[tuple[int, str]]] = {}
    for key, source in sources.items():
        if (found := _numbered(key)) is not None:
            rows.setdefault((found[0], source.has_picture), []).append((found[1], key))
    nearest = {}
    for row in rows.values():
        keys = [key for _, key in sorted(row)]
        for place, key in enumerate(keys):
            before = keys[max(0, place - NEIGHBOURS) : place]
            nearest[key] = (*before, *keys[place + 1 : place + 1 + NEIGHBOURS])
    return nearest


def _numbered(key: str) -> tuple[str, int] | None:
    """A file's path with its last number taken out, and the number; None without one."""
    path = Path(key)
    found = _NUMBER.search(path.stem)
    if found is None:
        return None
    return f"{path.parent}/{path.stem[: found.start()]}#{path.stem[found.end() :]}{path.suffix.lower()}", int(
        found[0]
    )
