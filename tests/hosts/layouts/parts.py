"""What the writers of the older layouts share: lanes as tracks, and ways to find a part again."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from lxml import etree

from mltassist.demofilm.film import Film, Lane, Placement, Rush
from mltassist.demofilm.markup import clock

Properties = dict[str, object]
BLACK = "black"


@dataclass(frozen=True, slots=True)
class Half:
    """The picture or the sound of a lane, or (`joined`) both on one track."""

    name: str
    sound: bool
    joined: bool
    spots: tuple[Placement, ...]


def split(film: Film) -> list[Half]:
    """Sound tracks from the last lane to the first, then picture tracks: a lane with both makes two."""
    heard = [Half(lane.name, True, False, _with(film, lane, sound=True)) for lane in film.lanes if lane.sound]
    seen = [
        Half(lane.name, False, False, _with(film, lane, sound=False)) for lane in film.lanes if lane.picture
    ]
    return [*reversed(heard), *seen]


def sound_first(film: Film) -> list[Half]:
    """Sound-only tracks from the last to the first, then picture tracks, which carry their sound."""
    return [*reversed(_only_heard(film)), *_seen(film)]


def picture_first(film: Film) -> list[Half]:
    """Picture tracks, which carry their sound, then sound-only tracks."""
    return [*_seen(film), *_only_heard(film)]


def _only_heard(film: Film) -> list[Half]:
    return [Half(lane.name, True, False, lane.placements) for lane in film.lanes if not lane.picture]


def _seen(film: Film) -> list[Half]:
    return [Half(lane.name, False, lane.sound, lane.placements) for lane in film.lanes if lane.picture]


def _with(film: Film, lane: Lane, *, sound: bool) -> tuple[Placement, ...]:
    rushes = by_file(film)
    return tuple(
        spot for spot in lane.placements if (rushes[spot.file].sound if sound else rushes[spot.file].picture)
    )


def by_file(film: Film) -> dict[str, Rush]:
    """The rushes by their path."""
    return {rush.file: rush for rush in film.rushes}


def folder_ids(film: Film, first: int = 2) -> dict[str, int]:
    """Numbers of the bin folders, from `first` on."""
    names = dict.fromkeys(rush.folder for rush in film.rushes if rush.folder)
    return {name: number for number, name in enumerate(names, start=first)}


def braced(film: Film, what: str) -> str:
    """A UUID in braces that follows from the film's title."""
    return f"{{{uuid.uuid5(uuid.NAMESPACE_URL, f'{film.title}/{what}')}}}"


def last_frame(spot: Placement) -> int:
    """The last source frame that is played."""
    return spot.source_in + spot.length - 1


def only_stream(half: Half, rush: Rush) -> Properties:
    """Properties that keep a file with picture and sound to the stream that its track plays."""
    if half.sound and rush.picture:
        return {"video_index": -1}
    if not half.sound and not half.joined and rush.sound:
        return {"audio_index": -1}
    return {}


def seconds_text(film: Film, frame: int) -> str:
    """Seconds as the hosts print them: six significant digits."""
    return f"{float(film.rate.seconds(frame)):g}"


# --- finding parts of a written tree ----------------------------------------------------------------


def part(root: etree._Element, identity: str) -> etree._Element:
    """The part with an id. Raises LookupError when there is none."""
    for element in root:
        if element.get("id") == identity:
            return element
    raise LookupError(identity)


def entries(root: etree._Element, playlist: str) -> list[etree._Element]:
    """The entries of a playlist, in order."""
    return list(part(root, playlist).iterchildren("entry"))


def value(element: etree._Element, name: str) -> str | None:
    """The text of a property; None when it is not there."""
    for found in element.iterchildren("property"):
        if found.get("name") == name:
            return found.text or ""
    return None


def write_value(element: etree._Element, name: str, text: object) -> None:
    """Set a property, new ones before all children that are none."""
    for found in element.iterchildren("property"):
        if found.get("name") == name:
            found.text = str(text)
            return
    fresh = etree.Element("property", {"name": name})
    fresh.text = str(text)
    element.insert(len(list(element.iterchildren("property"))), fresh)


def drop_value(element: etree._Element, name: str) -> None:
    """Take a property away, if it is there."""
    for found in list(element.iterchildren("property")):
        if found.get("name") == name:
            element.remove(found)


def property_list(element: etree._Element, pairs: Iterable[tuple[str, object]]) -> None:
    """Set several properties."""
    for name, text in pairs:
        write_value(element, name, text)


def ends(film: Film, first: int, last: int) -> dict[str, str]:
    """Attributes ``in`` and ``out`` as clock times, both played."""
    return {"in_": clock(first, film.rate), "out": clock(last, film.rate)}


def add_before(root: etree._Element, place: etree._Element, *fresh: etree._Element) -> None:
    """Put parts before another one, in their order: the engine wants a part defined before its use."""
    for element in fresh:
        root.insert(root.index(place), element)
