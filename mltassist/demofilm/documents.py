"""The demonstration film as three project documents that all play the same edit."""

from __future__ import annotations

from pathlib import Path

from mltassist.demofilm.documents_kdenlive import kdenlive_document
from mltassist.demofilm.documents_plain import plain_document
from mltassist.demofilm.documents_shotcut import shotcut_document
from mltassist.demofilm.film import Film
from mltassist.demofilm.markup import clock

__all__ = ["clock", "kdenlive_document", "plain_document", "shotcut_document", "write_documents"]


def write_documents(film: Film, folder: Path, name: str = "saltreed") -> tuple[Path, Path, Path]:
    """Write the plain, the kdenlive and the shotcut document, so named, into an existing folder.

    The media are looked for at the rushes' paths from that folder. Raises OSError when the folder
    cannot be written to; what it holds under the three names is replaced.
    """
    plain, kdenlive, shotcut = (folder / f"{name}{end}" for end in (".mlt", ".kdenlive", "-shotcut.mlt"))
    plain.write_bytes(plain_document(film))
    kdenlive.write_bytes(kdenlive_document(film))
    shotcut.write_bytes(shotcut_document(film))
    return plain, kdenlive, shotcut
