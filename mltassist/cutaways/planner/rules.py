"""The rules of cover as a check on finished plans, whoever made them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

from mltassist.cutaways.planner.costs import find_first_looks
from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.shots import differ
from mltassist.cutaways.planner.unseen import late_faces, unseen_runs
from mltassist.frames import Span, joined, without


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that a plan does not keep. rule: its short name; at: the timeline frame; what: in words."""

    rule: str
    at: int
    what: str


def breaches(task: CoverTask, rules: Frames, shots: tuple[Shot, ...]) -> tuple[Breach, ...]:
    """Every breach of the rules of cover, in order of time. `shots` are in order and do not overlap."""
    cover = joined(shot.span for shot in shots)
    blocked = joined(view.span for view in task.views if view.who is None)
    found = [
        *_cuts(task, rules, shots),
        *_narration(task, cover, blocked),
        *_splits(task, cover, blocked),
        *_black(task, cover, blocked),
        *_unseen(task, rules, shots),
        *_lengths(task, rules, shots),
        *_edges(task, rules, shots, blocked),
        *_faces(task, rules, cover),
        *_sources(task, rules, shots),
        *_refused(task, shots),
        *_whose(task, shots),
    ]
    return tuple(sorted(found, key=lambda breach: (breach.at, breach.rule)))


def _cuts(task: CoverTask, rules: Frames, shots: tuple[Shot, ...]) -> Iterator[Breach]:
    for cut in task.cuts:
        over = next((shot for shot in shots if cut.at - 1 in shot.span or cut.at in shot.span), None)
        if over is None:
            yield Breach("cover every jump cut", cut.at, "no shot lies over the jump cut")
        elif not over.span.covers(Span(cut.at - rules.margin, cut.at + rules.margin)):
            yield Breach("margin", cut.at, "its shot begins or ends too close to the jump cut")


def _refused(task: CoverTask, shots: tuple[Shot, ...]) -> Iterator[Breach]:
    for shot in shots:
        if any(one.source == shot.moment.source and one.span.overlaps(shot.span) for one in task.refused):
            yield Breach("refused", shot.span.start, "this clip was refused here")


def _narration(task: CoverTask, cover: tuple[Span, ...], blocked: tuple[Span, ...]) -> Iterator[Breach]:
    for bare in without(task.narration, [*cover, *blocked]):
        yield Breach(
            "cover narration", bare.start, f"{bare.length} frames of narration have no picture of their own"
        )


def _splits(task: CoverTask, cover: tuple[Span, ...], blocked: tuple[Span, ...]) -> Iterator[Breach]:
    for bare in without(task.splits, [*cover, *blocked]):
        what = f"the face says other words than are heard for {bare.length} frames"
        yield Breach("cover split edits", bare.start, what)


def _black(task: CoverTask, cover: tuple[Span, ...], blocked: tuple[Span, ...]) -> Iterator[Breach]:
    for bare in without(task.holes, [*cover, *blocked]):
        yield Breach("no black", bare.start, f"nothing at all is seen for {bare.length} frames")


def _unseen(task: CoverTask, rules: Frames, shots: tuple[Shot, ...]) -> Iterator[Breach]:
    for run in unseen_runs(task, [shot.span for shot in shots]):
        if run.length > rules.unseen_max:
            yield Breach("somebody is seen", run.start, f"nobody is seen for {run.length} frames")
    for hidden in late_faces(task, rules, [shot.span for shot in shots]).values():
        heard = sum(span.length for span in hidden)
        yield Breach(
            "somebody is seen", hidden[0].start, f"a speaker is heard for {heard} frames and not seen yet"
        )


def _lengths(task: CoverTask, rules: Frames, shots: tuple[Shot, ...]) -> Iterator[Breach]:
    for shot in shots:
        cuts = sum(cut.at in shot.span for cut in task.cuts)
        longest = rules.shot_span_max if cuts > 1 else rules.shot_max
        if not rules.shot_min <= shot.span.length <= longest:
            yield Breach("shot length", shot.span.start, f"a shot of {shot.span.length} frames")


def _edges(
    task: CoverTask, rules: Frames, shots: tuple[Shot, ...], blocked: tuple[Span, ...]
) -> Iterator[Breach]:
    given = {0, task.length} | {frame for span in blocked for frame in (span.start, span.end)}
    for edge in sorted({frame for shot in shots for frame in (shot.span.start, shot.span.end)} - given):
        near = [at for at in task.sound_edits if abs(at - edge) < rules.edge]
        if near:
            yield Breach("cut apart", edge, f"picture is cut {abs(near[0] - edge)} frames from a sound edit")


def _faces(task: CoverTask, rules: Frames, cover: tuple[Span, ...]) -> Iterator[Breach]:
    looks = find_first_looks(task, rules)
    seen: set[str] = set()
    for view in task.views:
        if not view.who:
            continue
        for face in without([view.span], cover):
            first = view.who not in seen
            seen.add(view.who)
            untouched = face == view.span
            if first and view.who in looks and face.length < rules.face_first:
                yield Breach("first look", face.start, "the speaker's first look is too short")
            elif face.length < rules.face_min and not untouched:
                yield Breach("no flash of face", face.start, f"the face is seen for {face.length} frames")


def _whose(task: CoverTask, shots: tuple[Shot, ...]) -> Iterator[Breach]:
    for shot in shots:
        own = set(shot.moment.whose)
        others = [voice for voice in task.voices if own and not own & set(voice.who)]
        if any(voice.span.start < shot.span.end and shot.span.start < voice.span.end for voice in others):
            what = f"a shot of {shot.moment.person} lies where somebody else speaks"
            yield Breach("whose shot it is", shot.span.start, what)


def _sources(task: CoverTask, rules: Frames, shots: tuple[Shot, ...]) -> Iterator[Breach]:
    for one, other in pairwise(shots):
        if one.span.end == other.span.start and not differ(one.moment, other.moment):
            yield Breach("neighbours differ", other.span.start, "two shots alike stand side by side")
    places = [(u.source, u.span_in_source, u.span_on_timeline) for u in task.used] + [
        (s.moment.source, s.frames, s.span) for s in shots
    ]
    for shot in shots:
        if not shot.moment.span.covers(shot.frames):
            yield Breach("handled ends", shot.span.start, "the shot leaves its usable range")
    by_source: dict[str, list[tuple[Span, Span]]] = {}
    for source, frames, place in places:
        by_source.setdefault(source, []).append((frames, place))
    for uses in by_source.values():
        for (frames, place), (other_frames, other_place) in combinations(uses, 2):
            later = max(place, other_place)
            if frames.overlaps(other_frames):
                yield Breach("no frame twice", later.start, "a source frame is shown a second time")
            if place.grown(rules.reuse_after, rules.reuse_after).overlaps(other_place):
                yield Breach("rest before reuse", later.start, "the same clip comes again too soon")
