"""What the bin has, what the film used of it, and what is still to be shot."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from mltassist.cutaways.planner.film import CoverTask, Frames, Shot
from mltassist.cutaways.planner.words import Matcher, is_name, word_stem
from mltassist.frames import Span, joined

WIDE_TO_CLOSE = ("WS", "MS", "CU")
"""Every subject is filmed wide, medium and close (common practice)."""
_WIDTH = {
    **dict.fromkeys(("EWS", "WS", "LS", "MLS"), "WS"),
    **dict.fromkeys(("MS", "MCU"), "MS"),
    **dict.fromkeys(("CU", "ECU"), "CU"),
}
OFTEN, NAMED = 4, 2
"""Times that a word, or a name, is said before its subject is missed."""
LONG_WORD = 5
"""Letters of a word that may be a subject: shorter ones mostly bind others together."""
TOLD = 12


@dataclass(frozen=True, slots=True)
class Stock:
    """One subject of the bin: frames that can be used and are used, and the sizes it was filmed in."""

    subject: str
    usable: int
    used: int
    sizes: tuple[str, ...]

    @property
    def lacking(self) -> tuple[str, ...]:
        """Of wide, medium and close, the sizes it was not filmed in; none where no size is known."""
        known = {_WIDTH[size] for size in self.sizes if size in _WIDTH}
        return tuple(size for size in WIDE_TO_CLOSE if size not in known) if known else ()


@dataclass(frozen=True, slots=True)
class PickUp:
    """A shot that is missing: where, over which cuts, what is said there, and what would serve.

    subjects: of the bin, named there, with the sizes that they lack.
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
    return tuple(
        Stock(subject, frames, used[subject], tuple(sorted(sizes[subject])))
        for subject, frames in sorted(usable.items(), key=lambda item: (-item[1], item[0]))
    )


def pick_ups(
    task: CoverTask, rules: Frames, bare: Sequence[Span], stock: Sequence[Stock]
) -> tuple[PickUp, ...]:
    """What is missing for every span that is left bare."""
    if not bare:
        return ()
    subjects = [(row.subject,) for row in stock]
    matcher = Matcher(task.words, subjects, dict(task.synonyms)) if task.words else None
    found = []
    for span in bare:
        near = span.grown(rules.match_reach, rules.match_reach)
        words = dict.fromkeys(word.text for word in task.words if word.at in near)
        named = []
        for row in stock:
            match = matcher.match((row.subject,), span, rules.match_reach) if matcher else None
            if match is not None:
                named.append((match.weight, row))
        named.sort(key=lambda pair: (-pair[0], pair[1].subject))
        cuts = tuple(cut.at for cut in task.cuts if cut.at in span)
        wanted = tuple((row.subject, row.lacking) for _, row in named[:3])
        found.append(PickUp(span, cuts, tuple(words), wanted))
    return tuple(found)


def unfilmed(task: CoverTask, tags: Iterable[str] = ()) -> tuple[Unfilmed, ...]:
    """Subjects that are spoken of and were never filmed, those said most often first.

    tags: of clips that were filmed and cannot be used, besides those of the supply.

    Names said twice, and words of five letters and more said four times, that no tag means. It is a list
    to look through: a word said often need not be a thing that can be seen.
    """
    filmed = {subject for moment in task.supply for subject in moment.subjects} | set(tags)
    known = Matcher(task.words, [(tag,) for tag in filmed], dict(task.synonyms)).heaviest()
    said: defaultdict[str, list[tuple[int, str, bool]]] = defaultdict(list)
    for word in task.words:
        if word.at not in known:
            said[word_stem(word.text, word.language)].append((word.at, word.text, is_name(word)))
    rows = []
    for times in said.values():
        named = sum(name for *_, name in times) * 2 > len(times)
        long = len(times[0][1]) >= LONG_WORD
        if (named and len(times) >= NAMED) or (long and len(times) >= OFTEN):
            rows.append(Unfilmed(times[0][1], tuple(sorted(at for at, *_ in times))))
    return tuple(sorted(rows, key=lambda row: (-len(row.at), row.word)))[:TOLD]
