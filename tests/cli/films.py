"""Films that differ from the example in one thing, written by the same builders."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from lxml import etree

from mltassist.demofilm.documents import kdenlive_document, plain_document, shotcut_document
from mltassist.demofilm.film import Film, Lane, Mark, Placement
from mltassist.demofilm.scenario import film
from mltassist.frames import Rate

EXAMPLE = Path(__file__).parents[2] / "example_projects" / "saltreed"
DOCUMENTS = ("saltreed.mlt", "saltreed.kdenlive", "saltreed-shotcut.mlt")
LAYOUTS: dict[str, Callable[[Film], bytes]] = {
    "plain.mlt": plain_document,
    "host.kdenlive": kdenlive_document,
    "shotcut.mlt": shotcut_document,
}


def write(made: Film, folder: Path, layout: str = "host.kdenlive") -> Path:
    """A document of this film beside the example's media."""
    if not (folder / "media").exists():
        (folder / "media").symlink_to(EXAMPLE / "media")
    path = folder / layout
    path.write_bytes(LAYOUTS[layout](made))
    return path


def without_folder(made: Film, *folders: str) -> Film:
    """The film without the rushes of these bin folders, and without what the edit uses of them."""
    gone = {rush.file for rush in made.rushes if rush.folder.partition("/")[0] in folders}
    lanes = tuple(
        replace(lane, placements=tuple(p for p in lane.placements if p.file not in gone))
        for lane in made.lanes
    )
    rushes = tuple(rush for rush in made.rushes if rush.file not in gone)
    return replace(made, rushes=rushes, lanes=tuple(lane for lane in lanes if lane.placements))


def with_file(path: Path, old: str, new: str) -> Path:
    """The same document, playing another file instead of one."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def at_rate(rate: Rate, made: Film | None = None) -> Film:
    """The film with every place at the frame of another rate that is nearest in time."""
    made = made or film()

    def frames(count: int) -> int:
        return rate.frames(Fraction(count) / made.rate.fraction)

    def moved(spot: Placement) -> Placement:
        start, end = frames(spot.start), frames(spot.start + spot.length)
        return Placement(spot.file, start, frames(spot.source_in), end - start)

    def through(lane: Lane) -> Lane:
        spots = [moved(spot) for spot in lane.placements]
        for number, spot in enumerate(lane.placements[1:], 1):
            last = lane.placements[number - 1]
            if spot.file == last.file and spot.source_in == last.source_in + last.length:
                earlier = spots[number - 1]
                spots[number] = replace(spots[number], source_in=earlier.source_in + earlier.length)
        return replace(lane, placements=tuple(spots))

    return replace(
        made,
        rate=rate,
        rushes=tuple(
            replace(rush, length=int(rush.length * rate.fraction / made.rate.fraction))
            for rush in made.rushes
        ),
        lanes=tuple(through(lane) for lane in made.lanes),
        marks=tuple(replace(mark, at=frames(mark.at)) for mark in made.marks),
    )


def locked(path: Path, track: str) -> Path:
    """A kdenlive or shotcut document with the tracks of this name locked."""
    tree = etree.parse(path)
    for named in tree.iterfind(".//property"):
        kind = named.get("name")
        holder = named.getparent()
        if named.text != track or kind not in ("kdenlive:track_name", "shotcut:name"):
            continue
        name = "kdenlive:locked_track" if kind == "kdenlive:track_name" else "shotcut:lock"
        for old in holder.iterfind(f"property[@name='{name}']"):
            holder.remove(old)
        new = etree.Element("property", name=name)
        new.text = "1"
        holder.insert(0, new)
    tree.write(path, encoding="utf-8", xml_declaration=True)
    return path


def switched_off(path: Path, track: str) -> Path:
    """A kdenlive document with the tracks of this name hidden or muted."""
    tree = etree.parse(path)
    for named in tree.iterfind(".//tractor/property[@name='kdenlive:track_name']"):
        if named.text == track:
            for inner in named.getparent().iterfind("track"):
                inner.set("hide", "both")
    tree.write(path, encoding="utf-8", xml_declaration=True)
    return path


def resources(path: Path) -> set[Path]:
    """Media files that a document plays, resolved from its own folder by hand."""
    root = etree.parse(path).getroot()
    base = path.resolve().parent
    if root.get("root"):
        base = base / root.get("root")
    found = set()
    for named in root.iterfind(".//property[@name='resource']"):
        if named.text and re.search(r"\.(mp4|ogg|wav)$", named.text):
            found.add(base / named.text)
    return found


def scarce(made: Film, *names: str) -> Film:
    """The film without most of the cutaways that its edit does not use: few are soon looked at and weighed.

    names: files, without their ending, that stay in any case.
    """
    used = {spot.file for lane in made.lanes for spot in lane.placements}
    spare = [rush for rush in made.rushes if "/cutaways/" in rush.file and rush.file not in used]
    kept = {rush.file for rush in spare[::4]} | {f"media/cutaways/{name}.mp4" for name in names}
    return replace(made, rushes=tuple(r for r in made.rushes if r not in spare or r.file in kept))


def short(end: int = 1000) -> Film:
    """The first frames of the film: narration, six bites with three jump cuts, music."""
    made = film()
    lanes = (
        replace(
            lane,
            placements=tuple(
                replace(spot, length=min(spot.length, end - spot.start))
                for spot in lane.placements
                if spot.start < end
            ),
        )
        for lane in made.lanes
    )
    return replace(made, lanes=tuple(lanes), marks=(Mark(786, "let the wheel be heard"),))
