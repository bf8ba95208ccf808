"""Which file a clip plays: the base folder of relative names, and keeping names valid elsewhere."""

from __future__ import annotations

import os
import re
from pathlib import Path, PureWindowsPath
from urllib.parse import unquote, urlsplit

from lxml import etree

from mltassist.document.load import Document
from mltassist.document.properties import get, put
from mltassist.files import here

_GENERATORS = frozenset(
    ["black", "blank", "blipflash", "color", "colour", "count", "hold", "kdenlivetitle", "noise", "tone"]
)
_GENERATOR_RESOURCE = re.compile(r"(?:color|colour|count|noise|tone|blipflash)(?::.*)?", re.DOTALL)
_SPEED = re.compile(r"(-?\d+(?:[.,]\d+)?:)(.+)", re.DOTALL)
_SEQUENCE_QUERY = re.compile(r"([^?]*(?:%0?\d*d|/\.all\.)[^?]*)\?.*", re.DOTALL)
_NAMES = ("resource", "warp_resource", "kdenlive:originalurl", "kdenlive:proxy")


def base(document: Document) -> Path:
    """The folder from which relative names count.

    The root attribute of the document, itself relative to the document's folder. Without one, or
    when that folder does not exist here, the document's folder.
    """
    folder = document.path.resolve().parent
    root = document.root.get("root", "")
    if not root or not _is_possible(root) or (_is_windows(root) and os.name != "nt"):
        return folder
    candidate = folder / root
    return candidate if here(candidate).is_dir() else folder


def resolve(
    document: Document, resource: str | None, service: str = "", *, folder: Path | None = None
) -> Path | None:
    """The file that a producer with this resource and service plays, whether or not it exists.

    None for services without a media file (colours, titles, another project), and for a name longer than
    any file's. Names of another
    system (drive letters, shares) and names below the prefix ``$$/``, whose folder is not known,
    are returned as they are; so are addresses (``http://...``). For an image sequence this is the
    pattern (``still%05d.png``), for a speed change the file behind the speed. `folder`: the document's
    base where it is known already.
    """
    if service == "xml" or not resource or not _is_file(resource, service):
        return None
    name = _split_speed(resource, service)[1]
    if name.lower().startswith("file:"):
        name = _from_url(name)
    if sequence := _SEQUENCE_QUERY.fullmatch(name):
        name = sequence[1]
    if not _is_possible(name):
        return None
    return here((folder or base(document)) / name if _is_relative(name) else Path(name))


def rebase(document: Document, new_folder: Path | str) -> int:
    """Rewrite relative names so that they hold when the document is saved in `new_folder`.

    Returns how many values changed. Nothing changes when the folder stays the same, or when the root
    attribute is an absolute folder that exists, or one of another system. Names become relative to the new
    folder; absolute where that cannot be said (another drive) or where the root attribute names a folder that
    does not exist here, which would mislead the editor. A relative root attribute is removed, since it
    would count from the new folder.
    """
    if stays(document, new_folder):
        return 0
    new = Path(new_folder).resolve()
    root = document.root.get("root", "")
    absolute_root = bool(root) and not _is_relative(root)
    source = base(document)
    changed = 0
    for element in document.root.iter("producer", "chain", "link", "filter", "transition"):
        service = get(element, "mlt_service") or ""
        for name in _NAMES:
            value = get(element, name)
            if not value or not _moves(element, name, value, service, source):
                continue
            speed, file = _split_speed(value, service if name == "resource" else "-")
            put(element, name, speed + _seen_from(source, file, new, absolute=absolute_root))
            changed += 1
    if root and not absolute_root:
        del document.root.attrib["root"]
    return changed


def stays(document: Document, new_folder: Path | str) -> bool:
    """True when every relative name holds in `new_folder` as it does where the document is."""
    new, old = Path(new_folder).resolve(), document.path.resolve().parent
    if new == old or _same_folder(here(new), here(old)):
        return True
    root = document.root.get("root", "")
    if not root or _is_relative(root):
        return False
    if _is_windows(root) and os.name != "nt":
        return True  # a folder of another system: the same from everywhere
    return _is_possible(root) and here(Path(root)).is_dir()


def _same_folder(one: Path, other: Path) -> bool:
    return one.exists() and other.exists() and one.samefile(other)


def _moves(element: etree._Element, name: str, value: str, service: str, source: Path) -> bool:
    """True when `value` is a relative name that counts from `source`."""
    if element.tag not in ("producer", "chain"):
        # Filters and transitions also name built-in things here ("%luma01.pgm", "circle").
        return _is_relative(value) and _is_possible(value) and here(source / value).is_file()
    if not _is_file(value, service) or value == "-":  # "-": no proxy
        return False
    return _is_relative(_split_speed(value, service)[1] if name == "resource" else value)


def _seen_from(source: Path, name: str, new: Path, *, absolute: bool) -> str:
    target = os.path.normpath(source.resolve() / name)
    if absolute:
        return Path(target).as_posix()
    try:
        return Path(os.path.relpath(target, new)).as_posix()
    except ValueError:  # another drive
        return Path(target).as_posix()


def _is_file(resource: str, service: str) -> bool:
    if service in _GENERATORS or service.startswith("frei0r."):
        return False
    return bool(service) or _GENERATOR_RESOURCE.fullmatch(resource) is None


def _is_possible(name: str) -> bool:
    """False for a name that a system refuses to look for: its limits are 255 bytes a part, 4096 in all."""
    return len(name.encode()) < 3000 and all(len(part.encode()) <= 255 for part in re.split(r"[/\\]", name))


def _is_relative(name: str) -> bool:
    if name.startswith(("/", "\\\\", "$$/")) or "://" in name or name.lower().startswith("file:/"):
        return False
    return not _is_windows(name)


def _is_windows(name: str) -> bool:
    """True for a name with a drive letter or a share, as Windows writes them."""
    return re.match(r"[A-Za-z]:[/\\]", name) is not None or bool(
        name.startswith("\\\\") and PureWindowsPath(name).drive
    )


def _split_speed(resource: str, service: str) -> tuple[str, str]:
    """The speed with its colon ('' when there is none) and the name behind it."""
    match = _SPEED.fullmatch(resource) if service in ("timewarp", "") else None
    return (match[1], match[2]) if match else ("", resource)


def _from_url(url: str) -> str:
    """The name in a ``file:`` address: ``file:///a%20b`` is ``/a b``."""
    parts = urlsplit(url.replace("#", "%23").replace("?", "%3F"))
    path = unquote(parts.path)
    if re.match(r"/[A-Za-z]:[/\\]", path):
        return path[1:]
    host = parts.netloc
    return f"//{host}{path}" if host and host.lower() != "localhost" else path
