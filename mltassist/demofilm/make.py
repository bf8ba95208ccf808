"""The demonstration film written to a folder: media and three documents of the same edit."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from mltassist.demofilm.documents import write_documents
from mltassist.demofilm.media import write_media
from mltassist.demofilm.scenario import film
from mltassist.errors import OutputError


def demo(
    folder: str | os.PathLike[str],
    *,
    force: bool = False,
    on_progress: Callable[[str, float], None] | None = None,
) -> tuple[Path, ...]:
    """Write the demonstration film; gives its documents: plain MLT XML, and one in each host's layout.

    Raises OutputError when the folder cannot be written, or holds something already (unless `force`).
    """
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
        if any(target.iterdir()) and not force:
            raise OutputError(target, "the folder is not empty", "choose a new one, or use --force")
        write_media(target, on_progress=on_progress)
        return write_documents(film(), target)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(target, f"cannot be written ({error.strerror or error})") from error
