"""What the bin has, what the film used of it, and what is still to be shot."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.things import in_a_language, names_things, small_things, thing_of
from mltassist.cutaways.planner.words import Matcher, Spoken, is_name, parted, word_stem
from mltassist.frames import Span, joined
from mltassist.timeline.commonwords import SHORTEST

WIDE_TO_CLOSE = ("WS", "MS", "CU")
"""Every subject is filmed wide, medium and close (common practice)."""
_WIDTH = {
    **dict.fromkeys(("EWS", "WS", "LS", "MLS"), "WS"),
    **dict.fromkeys(("MS", "MCU"), "MS"),
    **dict.fromkeys(("CU", "ECU"), "CU"),
}
OFTEN, NAMED = 4, 2
"""Times that a word, or a name, is said before its subject is missed."""
_LONGEST = 30
"""Words of a sentence that are told before and after the place, where nothing ends it."""
_TOLD = 12
SERVING = 3
"""Subjects that are told for one place."""


@dataclass(frozen=True, slots=True)
class Stock:
    """One subject of the bin: frames that can be used and are used, and the sizes it was filmed in."""

    subject: str
    usable: int
    used: int
    sizes: tuple[str, ...]

    small: bool = False

    @property
    def lacking(self) -> tuple[str, ...]:
        """Of wide, medium and close, the sizes that would serve it and that it was not filmed in.

        None where no size is known. A thing that a hand can hold is filmed close; and of one that was filmed
        medium and close nobody asks for a wide shot: it was there, and was not taken wide.
        """
        known = {_WIDTH[size] for size in self.sizes if size in _WIDTH}
        wanted = ("CU",) if self.small else () if known == {"MS", "CU"} else WIDE_TO_CLOSE
        return tuple(size for size in wanted if size not in known) if known else ()


@dataclass(frozen=True, slots=True)
class PickUp:
    """A shot that is missing: where, over which cuts, what is said there, and what would serve.

    words: the whole sentences, as they are heard in the film. subjects: named in them, with the sizes that
    were not filmed; first what was not filmed at all, then what lacks a size.
    """

    span: Span
    cuts: tuple[int, ...]
    words: tuple[str, ...]
    subjects: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Unfilmed:
    """A word said often, or a name, that no tag of the bin means, and the frames at which it is said."""

    word: str
    at: tuple[int, ...]


def stock_of(task: CoverTask, shots: Iterable[Shot]) -> tuple[Stock, ...]:
    """Every subject of the bin, those of which most can be used first."""
    spans: defaultdict[str, defaultdict[str, list[Span]]] = defaultdict(lambda: defaultdict(list))
    used: Counter[str] = Counter()
    sizes: defaultdict[str, set[str]] = defaultdict(set)
    for moment in task.supply:
        for subject in moment.subjects:
            spans[subject][moment.source].append(moment.span)
            if moment.size:
                sizes[subject].add(moment.size)
    # Moments of one clip may overlap: no frame counts twice.
    usable = {
        subject: sum(span.length for of in by_source.values() for span in joined(of))
        for subject, by_source in spans.items()
    }
    for shot in shots:
        for subject in shot.moment.subjects:
            used[subject] += shot.span.length
    small = small_things(usable)
    return tuple(
        Stock(subject, frames, used[subject], tuple(sorted(sizes[subject])), subject in small)
        for subject, frames in sorted(usable.items(), key=lambda item: (-item[1], item[0]))
    )


def pick_ups(
    task: CoverTask,
    rules: Frames,
    bare: Sequence[Span],
    stock: Sequence[Stock],
    missed: Sequence[Unfilmed] = (),
) -> tuple[PickUp, ...]:
    """What is missing for every span that is left bare. missed: what is spoken of and was never filmed."""
    if not bare:
        return ()
    subjects = [(row.subject,) for row in stock]
    matcher = task.matcher(subjects)
    known = matcher.heaviest() if matcher else {}
    spoken = in_a_language(task.words)
    things = names_things(spoken)
    found = []
    for span in bare:
        words = sentences_at(spoken, span.grown(rules.match_reach, rules.match_reach))
        times = {word.at for word in words}
        never = [row.word for row in missed if times.intersection(row.at)]
        never += _small_in([word for word in words if word.at not in known], things, never)
        small = small_things(never)
        named = _named_in(words, span, stock, matcher)
        wanted: list[tuple[str, tuple[str, ...]]] = [
            *((word, ("CU",) if word in small else WIDE_TO_CLOSE) for word in never),
            *((row.subject, row.lacking) for row in _one_a_clip(task, named)),
        ]
        cuts = tuple(cut.at for cut in task.cuts if cut.at in span)
        found.append(
            PickUp(span, cuts, tuple(word.text + word.after for word in words), tuple(wanted[:SERVING]))
        )
    return tuple(found)


def _small_in(
    words: Sequence[Spoken], things: frozenset[tuple[str, str]], never: Sequence[str]
) -> Iterator[str]:
    """Things that a hand can hold, or a hand, which these words name: they are filmed in a moment."""
    stems = {word_stem(word, code) for word in never for code, _ in things}
    for word in words:
        language, stem = thing_of(word)
        name = parted(word)[1].casefold()
        if (language, stem) in things and stem not in stems and small_things([name]):
            stems.add(stem)
            yield name


def _named_in(
    words: Sequence[Spoken], span: Span, stock: Sequence[Stock], matcher: Matcher | None
) -> list[Stock]:
    """Subjects of the bin that these words name, those that lack a size first, then what is said nearest."""
    if not words or matcher is None:
        return []
    whole = Span(words[0].at, words[-1].at + 1)
    ranked = []
    for row in stock:
        match = matcher.match((row.subject,), whole, 0)
        if match is not None:
            apart = max(span.start - match.at, match.at - span.end, 0)
            ranked.append(((not row.lacking, -match.weight, apart, row.subject), row))
    return [row for _, row in sorted(ranked, key=lambda pair: pair[0])]


def _one_a_clip(task: CoverTask, rows: Sequence[Stock]) -> Iterator[Stock]:
    """The rows without those of which every shot is one of another that its log names before: tools/wall."""
    shots = {
        row.subject: [moment.subjects for moment in task.supply if row.subject in moment.subjects]
        for row in rows
    }
    for row in rows:
        first = [
            all(other in each and each.index(other) < each.index(row.subject) for each in shots[row.subject])
            for other in shots
            if other != row.subject
        ]
        if not any(first):
            yield row


def sentences_at(words: Sequence[Spoken], near: Span) -> Sequence[Spoken]:
    """All words of the sentences of which something is said in `near`. words: in order.

    Where no marks are written a sentence ends where a line does.
    """
    inside = [place for place, word in enumerate(words) if word.at in near]
    if not inside:
        return ()
    first, last = inside[0], inside[-1]
    marked = any(_ends(word) for word in words)

    def parts(place: int) -> bool:
        """True where a sentence ends before the word at this place."""
        if not 0 < place < len(words):
            return True
        before = words[place - 1]
        return _ends(before) or (words[place].opens and not marked)

    while not parts(first) and inside[0] - first < _LONGEST:
        first -= 1
    while not parts(last + 1) and last - inside[-1] < _LONGEST:
        last += 1
    return words[first : last + 1]


def _ends(word: Spoken) -> bool:
    return any(mark in word.after for mark in ".!?…")


def unfilmed(task: CoverTask, tags: Iterable[str] = ()) -> tuple[Unfilmed, ...]:
    """Subjects that are spoken of and were never filmed, those said most often first.

    tags: of clips that were filmed and cannot be used, besides those of the supply.

    Names said twice, and words said four times that name a thing, which no tag means.
    It is a list to look through: what is said often need not be a thing that can be seen.
    """
    filmed = {subject for moment in task.supply for subject in moment.subjects} | set(tags)
    words = in_a_language(task.words)
    known = Matcher(words, [(tag,) for tag in filmed], dict(task.synonyms)).heaviest()
    said: defaultdict[tuple[str, str], list[tuple[int, str, bool]]] = defaultdict(list)
    for word in words:
        if word.at not in known:
            said[thing_of(word)].append((word.at, parted(word)[1], is_name(word)))
    things = names_things(words)
    rows = []
    for key, times in said.items():
        named = sum(name for *_, name in times) * 2 > len(times)
        thing = key in things and len(times[0][1]) >= SHORTEST
        if (named and len(times) >= NAMED) or (thing and len(times) >= OFTEN):
            rows.append(Unfilmed(times[0][1], tuple(sorted(at for at, *_ in times))))
    return tuple(sorted(rows, key=lambda row: (-len(row.at), row.word)))[:_TOLD]
