"""Where a note lies once the edits that move its place are carried out."""

from __future__ import annotations

from mltassist.plans import Note, notes_after
from mltassist.timeline.edits import OpenPause


def test_what_is_told_of_the_very_frame_of_a_pause_is_told_where_that_frame_then_lies() -> None:
    notes = [Note(str(at), at) for at in (299, 300, 301)]
    moved = notes_after(notes, [OpenPause(300, 50, "asked for")])
    assert [note.at for note in moved] == [299, 350, 351]
