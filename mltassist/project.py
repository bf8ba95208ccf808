"""A project document opened for reading; every change gives a new one, the file is never touched."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b
from pathlib import Path

from mltassist.document.load import Document, load
from mltassist.document.paths import rebase, stays
from mltassist.document.save import free_name, permit, save, serialized
from mltassist.errors import HostileDocument
from mltassist.files import here, read_bytes
from mltassist.hosts.base import Host
from mltassist.hosts.nesting import TRACKED, check_nesting
from mltassist.hosts.reading import read
from mltassist.hosts.registry import endings_of_others, host_of
from mltassist.hosts.subtitles import place_companions
from mltassist.hosts.writing import apply
from mltassist.timeline.edits import Edit
from mltassist.timeline.model import Timeline


@dataclass(frozen=True)
class Project:
    """An opened project: its document, the host whose layout it has, and its timeline."""

    document: Document
    host: Host

    @property
    def path(self) -> Path:
        """Where the original is."""
        return self.document.path

    @cached_property
    def state(self) -> str:
        """A digest of the document as it stands: another after every change, however small."""
        return blake2b(serialized(self.document), digest_size=16).hexdigest()

    @cached_property
    def timeline(self) -> Timeline:
        """The edit, read when first asked for.

        Raises NotAProject when the document has none, HostileDocument when it is longer than a day or nests
        without measure, ProjectError where a part plays itself.
        """
        found = read(self.host, self.document)
        if found.length > self.document.longest:
            raise HostileDocument(
                self.path,
                "the film is longer than a day, beyond what timecode can name",
                "look for a clip or a gap whose end lies far too late",
            )
        return found

    def with_edits(self, edits: Iterable[Edit]) -> Project:
        """A copy of the project in which the edits are carried out, in order."""
        document = self.document.copy()
        apply(self.host, document, edits)
        return Project(document, self.host)

    def save(self, target: str | os.PathLike[str], *, force: bool = False) -> Path:
        """Write the document to a new file, whole or not at all; paths to media stay valid there.

        Raises OutputError for a place that cannot be written, that exists (unless `force`), or that is
        the original under whatever name.
        """
        path = Path(target)
        document, beside = self._moved_to(path)
        for file in (path, *beside):
            permit(self.path, file, force=force)
        rebase(document, path.resolve().parent)
        return save(document, path, beside=beside, force=force)

    def is_saved_as(self, target: str | os.PathLike[str]) -> bool:
        """True where this very document has been saved under a name already, with all that lies beside it."""
        path = Path(target)
        document, beside = self._moved_to(path)
        rebase(document, path.resolve().parent)
        wanted = {path: serialized(document), **{file: text.encode("utf-8") for file, text in beside.items()}}
        try:
            return all(read_bytes(here(file), len(data)) == data for file, data in wanted.items())
        except OSError:
            return False

    def _moved_to(self, path: Path) -> tuple[Document, dict[Path, str]]:
        """The document that may be rewritten for another place, and the text of what lies beside it there."""
        # Saved as it is, the document needs no copy: nothing in it is rewritten.
        as_it_is = not self.document.companions and stays(self.document, path.resolve().parent)
        document = self.document if as_it_is else self.document.copy()
        return document, place_companions(self.host, document, path)

    def misnamed(self, target: Path) -> bool:
        """True where the ending of a name is that of another host's documents, and not the original's."""
        ending = target.suffix.lower()
        return ending in endings_of_others(self.host) and ending != self.path.suffix.lower()

    def free_name(self, suffix: str) -> Path:
        """A name beside the original that is not taken: NAME-suffix.ext, then numbered."""
        return free_name(self.path, f"-{suffix}")


def open_project(path: str | os.PathLike[str], *, sequence: str = "") -> Project:
    """Open a project document; `sequence` names the edit to work on where it holds several.

    Raises NotAProject, HostileDocument or ProjectError. What entries of playlists play is looked at when the
    timeline is read, or changed.
    """
    document = load(Path(path))
    document.sequence = sequence
    check_nesting(document, TRACKED)
    return Project(document, host_of(document))
