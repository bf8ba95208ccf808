"""Edits and shots of a plan in the words of the trade, each with its units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import PurePath
from typing import Any

from mltassist.cli.rows import Rows
from mltassist.frames import Rate, format_timecode
from mltassist.timeline import edits as kinds
from mltassist.timeline.edits import Edit

CLEARED = {
    "cover": "the cover of an earlier run",
    "natural": "natural sound of an earlier run",
    "joins": "what an earlier run laid at joins",
    "duck": "levels of an earlier run",
    "levels": "level curves of an earlier run",
    "gain": "the gain on the whole film",
    "markers": "markers of an earlier run",
    "tracks": "tracks of ours that are empty",
}
TRACKS = {
    "cover": "the cover",
    "alternatives": "alternatives, switched off",
    "under": "sound under the cover",
    "joins": "what is laid at joins",
    "natural": "natural sound",
    "natural picture": "the picture of natural sound",
}


def edit_table(edits: Iterable[Edit], rate: Rate) -> Rows:
    """Every edit with its timecode, what it does, and why."""
    table = Rows("at", "what is done", "", "why", box=None, pad_edge=False)
    for edit in edits:
        at = getattr(edit, "at", None)
        what, more = said(edit, rate)
        table.add_row("" if at is None else format_timecode(at, rate), what, more, edit.reason)
    return table


def said(edit: Edit, rate: Rate) -> tuple[str, str]:  # noqa: PLR0911, PLR0912 - one for each kind
    """What an edit does, and how much of it."""
    match edit:
        case kinds.ClearOurs(what=what):
            return "taken out", CLEARED.get(what, what)
        case kinds.AddTrack(role=role):
            return "track for", TRACKS.get(role, role)
        case kinds.LayShot(track=track):
            laid = "shot" if track == "cover" else "shot beside it, switched off"
            grown = f", grows by {round(100 * (edit.push_in - 1), 1):g} %" if edit.push_in > 1 else ""
            fills = ", enlarged to fill the frame" if edit.shape else ""
            return laid, f"{edit.name or file(edit.source)}, {_from(edit, rate)}{fills}{grown}"
        case kinds.LayNatural():
            return (
                "natural sound",
                f"{edit.name or file(edit.source)}, {_from(edit, rate)}, {edit.gain_db:+.1f} dB",
            )
        case kinds.LayUnder():
            return (
                "kept sound",
                f"{edit.name or file(edit.source)}, {seconds(edit.length, rate)}, {edit.gain_db:+.1f} dB",
            )
        case kinds.LayTone():
            return "room", f"{file(edit.source)}, {seconds(edit.length, rate)}, {edit.gain_db:+.1f} dB"
        case kinds.OpenPause():
            return "pause opened", seconds(edit.length, rate)
        case kinds.ClosePause():
            return "pause closed", seconds(edit.length, rate)
        case kinds.NudgeJoin():
            return "join moved", f"before it {frames(edit.before_by)}, after it {frames(edit.after_by)}"
        case kinds.FadeJoin():
            return "join crosses over", file(edit.source)
        case kinds.MatchLevel():
            return "level of a bite", f"{file(edit.source)}, {edit.gain_db:+.1f} dB"
        case kinds.SetLevelCurve():
            levels = [gain for _, gain in edit.keys]
            return "levels", f"{file(edit.source)}, from {min(levels):.1f} to {max(levels):.1f} dB"
        case kinds.SetFilmGain():
            return "gain on the film", f"{edit.gain_db:+.1f} dB"
        case kinds.AddMarker():
            return "marker", edit.text
        case kinds.MarkClip():
            return "marker on a clip", f"{file(edit.source)}: {edit.text}"


def shot_table(rows: Sequence[Any], width: int) -> Rows:
    """The shots by timecode, a line each: what is shown, what is said meanwhile, and why."""
    table = Rows("at", "seconds", "shown", "said", "why", box=None, pad_edge=False)
    reasons = [row["why"].removeprefix("covers ").replace(" is said", "") for row in rows]
    left = width - 28 - max((len(row["clip"]) for row in rows), default=0)
    why = max(12, min(max(map(len, reasons), default=0), left * 3 // 5))
    for row, reason in zip(rows, reasons, strict=True):
        said = short(row["said"], max(12, left - why))
        table.add_row(row["timecode"], f"{row['seconds']:.1f} s", row["clip"], said, short(reason, why))
    for column in table.columns[2:]:
        column.no_wrap, column.overflow = True, "ellipsis"
    return table


WIDE = 100
"""Columns of a screen on which every figure of a passage has room."""


def passage_table(rows: Iterable[Any], rate: Rate, width: int) -> Rows:
    """The mix, passage by passage. On a narrow screen its length and its words as they were are left out."""
    wide = width >= WIDE
    heads = [
        "from",
        *(["length"] if wide else []),
        "in front",
        "loudest beneath",
        "by",
        "separation",
        "words",
    ]
    table = Rows(*heads, "music up", box=None, pad_edge=False)
    for row in rows:
        depths = (one["depth_db"] for one in row["beneath"] if one["sound"] == row["loudest"])
        levels = [row["separation_before_lu"], row["separation_after_lu"]]
        words = [row["words_before"]] * wide + [row["words_after"]]
        table.add_row(
            row["timecode"],
            *([seconds(row["length"], rate)] if wide else []),
            row["kind"],
            row["loudest"] or "nothing",
            " ".join(f"{depth:.1f} dB" for depth in depths),
            "-" if None in levels else f"{levels[0]:.1f} to {levels[1]:.1f} LU",
            "-" if None in words else " to ".join(f"{one:.2f}" for one in words),
            row["music_up"] or "",
        )
    for column in table.columns:
        column.no_wrap = column.header not in ("in front", "loudest beneath")
    return table


def short(text: str, most: int) -> str:
    """A text cut where a word ends."""
    if len(text) <= most:
        return text
    return text[: most - 1].rpartition(" ")[0] + " …"


def _from(edit: kinds.LayShot | kinds.LayNatural, rate: Rate) -> str:
    return f"{seconds(edit.length, rate)} from its {format_timecode(edit.source_in, rate)}"


def seconds(length: int, rate: Rate) -> str:
    """A length in seconds."""
    return f"{float(rate.seconds(length)):.1f} s"


def frames(by: int) -> str:
    """How far something moves."""
    if not by:
        return "as it was"
    return f"{abs(by)} frame{'s' if abs(by) > 1 else ''} {'later' if by > 0 else 'earlier'}"


def file(source: str) -> str:
    """What a source is called."""
    return PurePath(source.replace("\\", "/")).name
