"""Writing a project as a new file: whole or not at all, and never over the one that was read."""

from __future__ import annotations

import codecs
import contextlib
import os
import re
import secrets
from pathlib import Path

from lxml import etree

from mltassist.document.load import Document
from mltassist.errors import OutputError


def save(document: Document, target: Path | str, *, force: bool = False) -> Path:
    """Write `document` to `target` and return that path.

    The XML declaration, encoding and final line end are those of the file that was read. `force`
    permits another existing file to be replaced, never the document's own, under any of its names.
    A crash leaves either the old file or the new one, whole.

    Raises OutputError when the target may not or cannot be written.
    """
    target = Path(target)
    permit(document.path, target, force=force)
    data = serialized(document)
    try:
        _replace(target, data)
    except OSError as error:
        raise OutputError(
            target, f"cannot be written ({error.strerror or error})", "choose another folder or name"
        ) from error
    return target


def save_text(text: str, target: Path | str, *, original: Path, force: bool = False) -> Path:
    """Write text (a plan, a sheet) as carefully as a document: whole, and never over the original."""
    target = Path(target)
    permit(original, target, force=force)
    try:
        _replace(target, text.encode("utf-8"))
    except OSError as error:
        raise OutputError(
            target, f"cannot be written ({error.strerror or error})", "choose another folder or name"
        ) from error
    return target


def serialized(document: Document) -> bytes:
    """The document's bytes in the form in which it was read."""
    form = document.form
    if form.encoding.lower() in ("utf-8", "utf8"):
        return _in_utf8(document)
    text: str = etree.tostring(document.tree, encoding="unicode")
    declaration, encoding = form.declaration, form.encoding
    try:
        codecs.lookup(encoding)
    except LookupError:
        declaration, encoding = re.sub(r"(encoding\s*=\s*.)[^\"']+", r"\1utf-8", declaration), "utf-8"
    opening = declaration + "\n" if declaration else ""
    mark = "\ufeff" if form.marked else ""
    ending = "\n" if form.newline_at_end else ""
    return (mark + opening + text.rstrip("\n") + ending).encode(encoding, "xmlcharrefreplace")


def _in_utf8(document: Document) -> bytes:
    """`serialized` for the encoding that documents have: no text is made on the way."""
    form = document.form
    opening = (form.declaration + "\n").encode() if form.declaration else b""
    mark = codecs.BOM_UTF8 if form.marked else b""
    data: bytes = etree.tostring(document.tree, encoding="utf-8", xml_declaration=False)
    return b"".join((mark, opening, data.rstrip(b"\n"), b"\n" if form.newline_at_end else b""))


def free_name(path: Path | str, suffix: str = "-rough", extension: str | None = None) -> Path:
    """The first free name beside `path`: NAME-rough.ext, NAME-rough-2.ext, NAME-rough-3.ext ...

    `extension` includes its dot; None keeps that of `path`.
    """
    path = Path(path)
    ending = path.suffix if extension is None else extension
    candidate = path.with_name(f"{path.stem}{suffix}{ending}")
    number = 2
    while os.path.lexists(candidate):
        candidate = path.with_name(f"{path.stem}{suffix}-{number}{ending}")
        number += 1
    return candidate


def permit(original: Path, target: Path, *, force: bool = False) -> None:
    """Raise OutputError unless `target` may be written: not the original, free (or `force`), in a folder."""
    try:
        if _same_file(original, target):
            raise OutputError(target, "is the project that was read", "choose another name")
        if target.is_dir():
            raise OutputError(target, "is a folder", "name a file inside it")
        if os.path.lexists(target) and not force:
            raise OutputError(target, "exists already", "choose another name, or use --force")
        if not target.parent.is_dir():
            raise OutputError(target, "its folder does not exist", "make the folder or choose another")
    except OutputError:
        raise
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: a loop of links
        raise OutputError(target, f"is not a usable name ({error})", "choose another") from None


def _same_file(one: Path, other: Path) -> bool:
    """True for one file under two names: links, ``..``, letter case where the disk ignores it."""
    if os.path.normcase(one.resolve()) == os.path.normcase(other.resolve()):
        return True
    # The file system's own answer covers hard links and disks that ignore letter case.
    return one.exists() and other.exists() and one.samefile(other)


def _replace(target: Path, data: bytes) -> None:
    temporary = target.with_name(f".{secrets.token_hex(8)}.tmp")
    try:
        with temporary.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)  # noqa: PTH105 - the atomic call, named as the manuals name it
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    if os.name == "posix":
        # The file is in place; some file systems cannot flush a folder, which is no failure.
        with contextlib.suppress(OSError):
            _flush_folder(target.parent)


def _flush_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
