"""Documents of every layout written into a folder, and what must be true of them after an edit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from mltassist.demofilm.film import Film
from mltassist.document import properties
from mltassist.frames import Rate
from mltassist.hosts.parts import Parts
from mltassist.hosts.reading import main_timeline
from mltassist.project import Project, open_project
from mltassist.timeline.edits import Edit
from mltassist.timeline.model import Timeline, Track, TrackKind
from tests.hosts.films import FILM, Row, rows
from tests.hosts.generations import FEATURES, GENERATIONS, Feature, playable, tracks

WHY = "a test"
RATES = (Rate(25), Rate(30000, 1001))
NewTrack = tuple[str, TrackKind, list[Row]]


class Written(NamedTuple):
    """A film as a document of one layout."""

    generation: str
    film: Film
    path: Path

    def project(self) -> Project:
        """The document, freshly read."""
        return open_project(self.path)

    def edited(self, *edits: Edit) -> Project:
        """The document with the edits carried out, saved beside the original and read again."""
        return saved(self.project().with_edits(edits))

    def key(self, file: str) -> str:
        """What the model calls a file of the film."""
        return str(self.path.parent / file)

    def index(self, name: str, kind: TrackKind) -> int:
        """Number of the editor's track of that name that plays the picture or the sound of a lane."""
        found = [track for track in self.project().timeline.tracks if track.name == name]
        return next((track for track in found if track.kind is kind), found[0]).index


def saved(project: Project) -> Project:
    """The project written beside its original and read again."""
    target = project.path.with_name(f"edited-{project.path.name}")
    return open_project(project.save(target, force=True), sequence=project.document.sequence)


def write_generation(name: str, folder: Path, film: Film = FILM, *, plays: bool = False) -> Written:
    """Write the film in the layout of that name; `plays`: so that the engine here plays it."""
    generation = GENERATIONS[name]
    document = generation.write(film)
    path = folder / f"film-{name.replace(' ', '-')}{generation.suffix}"
    path.write_bytes(playable(document) if plays else document)
    return Written(name, film, path)


def write_feature(name: str, folder: Path, rate: Rate = FILM.rate, *, plays: bool = False) -> Path:
    """Write a feature's document and all that lies beside it."""
    feature = FEATURES[name]
    document = feature.write(replace(FILM, rate=rate))
    path = folder / f"film{feature.suffix}"
    path.write_bytes(playable(document) if plays else document)
    for beside, content in feature.beside.items():
        (folder / beside).write_bytes(content)
    return path


def generation_of(feature: str) -> str:
    """The layout a feature's name begins with."""
    return next(name for name in GENERATIONS if feature.startswith(f"{name} "))


def saying(*topics: str) -> list[str]:
    """Names of the features that say something of a topic."""
    return [name for name, feature in FEATURES.items() if any(topic in feature.says for topic in topics)]


def feature_named(name: str) -> Feature:
    """A feature by its name."""
    return FEATURES[name]


def meant(generation: str, film: Film) -> list[NewTrack]:
    """Name, kind and clips of the tracks above the background, lowest first."""
    return [
        (
            half.name,
            TrackKind.SOUND if half.sound else TrackKind.PICTURE,
            [Row(spot.start, spot.length, spot.file, spot.source_in) for spot in half.spots],
        )
        for half in tracks(generation, film)
    ]


def editors(timeline: Timeline) -> list[NewTrack]:
    """The same of the editor's own tracks, as they were read."""
    return [(track.name, track.kind, rows(track)) for track in timeline.tracks if not track.ours]


def track_named(timeline: Timeline, name: str, kind: TrackKind) -> Track:
    """The track of that name that plays a lane's picture or sound."""
    found = [track for track in timeline.tracks if track.name == name]
    return next((track for track in found if track.kind is kind), found[0])


def hang_track_gain(project: Project, track: int, values: dict[str, str], **span: str) -> None:
    """Put a volume filter on a whole track of the document, as the hosts hang it."""
    from lxml import etree

    parts = Parts(project.document)
    timeline = main_timeline(project.host, parts)
    strip = next(s for s in project.host.strips(parts, timeline) if s.index == track)
    element = etree.SubElement(strip.holder, "filter", {k.rstrip("_"): v for k, v in span.items()})
    for name, value in {"mlt_service": "volume", **values}.items():
        properties.put(element, name, value)
