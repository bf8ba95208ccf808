"""Groups of clips as Kdenlive stores them in JSON: leaves that name a clip by track and start."""

from __future__ import annotations

from collections.abc import Callable

from mltassist.hosts.kdenlive_store import Json

Place = tuple[int, int]
"""(track number, start frame)."""


def place(leaf: Json) -> Place | None:
    """The clip a leaf names; the document counts tracks from 0 above the black one."""
    fields = str(leaf.get("data", "")).split(":")
    if leaf.get("type") != "Leaf" or len(fields) < 2:
        return None
    try:
        return int(fields[0]) + 1, int(fields[1])
    except ValueError:
        return None


def places(groups: list[Json]) -> tuple[Place, ...]:
    """Every clip that some group names."""
    found: list[Place] = []
    for group in groups:
        if (named := place(group)) is not None:
            found.append(named)
        found += places(_children(group))
    return tuple(found)


def pairs(groups: list[Json]) -> tuple[tuple[Place, ...], ...]:
    """Picture and sound of one clip, groups within groups included."""
    found: list[tuple[Place, ...]] = []
    for group in groups:
        children = _children(group)
        leaves = tuple(named for child in children if (named := place(child)) is not None)
        if group.get("type") == "AVSplit" and len(leaves) == 2:
            found.append(leaves)
        found += pairs(children)
    return tuple(found)


def pair(clips: tuple[Place, ...], *, fields: int) -> Json:
    """A new group of one clip's picture and sound; leaves have two or three fields by generation."""
    leaves = [
        {"data": ":".join([str(track - 1), str(start), "-1"][:fields]), "leaf": "clip", "type": "Leaf"}
        for track, start in clips
    ]
    return {"children": leaves, "type": "AVSplit"}


def changed(groups: list[Json], change: Callable[[int, int], Place]) -> list[Json]:
    """The groups with every leaf's track and start changed."""
    result = []
    for group in groups:
        new = dict(group)
        if (named := place(group)) is not None and (moved := change(*named)) != named:
            rest = str(group["data"]).split(":")[2:]
            new["data"] = ":".join([str(moved[0] - 1), str(moved[1]), *rest])
        if children := _children(group):
            new["children"] = changed(children, change)
        result.append(new)
    return result


def without_track(groups: list[Json], track: int) -> list[Json]:
    """The groups without what lies on a track; those left with one clip or none go."""
    result = []
    for group in groups:
        if (named := place(group)) is not None:
            if named[0] != track:
                result.append(group)
            continue
        children = _children(group)
        kept = without_track(children, track)
        if kept == children:
            result.append(group)
        elif len(kept) > 1:
            result.append({**group, "children": kept})
    return result


def _children(group: Json) -> list[Json]:
    return [child for child in group.get("children") or () if isinstance(child, dict)]
