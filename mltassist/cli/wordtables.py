"""What is said in a film, shown as tables."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from mltassist.cli.rows import Rows
from mltassist.cli.saying import on_one_line
from mltassist.cli.screen import out
from mltassist.cutaways.hidden import CAUTION, Removed, frames_gone, left_out, lying_over
from mltassist.cutaways.wordlist import Words
from mltassist.frames import Rate, format_timecode
from mltassist.rushes.balance import Balance


def print_words(found: Words) -> None:
    """What is said bite by bite, what was cut between, what was looked for, and the balance of the film."""
    rate = found.rate
    if found.found is not None:
        table = Rows("said in", box=None, pad_edge=False)
        table.add_column("at", no_wrap=True)
        table.add_column("line")
        for place in found.found:
            alike = f"(heard as '{place.alike}') " if place.alike else ""
            table.add_row(place.clip, format_timecode(place.source_in, rate), alike + place.text)
        out().print(table if found.found else "found nowhere")
        if any(place.heard for place in found.found):
            out().print("what was heard, and not typed, may be another word that sounds the same")
        return
    table = Rows(box=None, pad_edge=False)
    table.add_column("at", no_wrap=True)
    table.add_column("speaker")
    table.add_column("said")
    for bite in found.bites:
        table.add_row(format_timecode(bite.at, rate), bite.speaker, bite.text or "-")
    out().print(table)
    if found.removed is not None:
        _print_removed(found.removed, rate)
    _print_balance(found.balance)


def _print_removed(edits: Sequence[Removed], rate: Rate) -> None:
    """Every edit in a few short lines, so that it can be read on a narrow screen too."""
    out().print("\ntaken out between bites")
    table = Rows(box=None, pad_edge=False, show_header=False, leading=1)
    table.add_column(no_wrap=True)
    table.add_column(max_width=24)
    table.add_column()
    for edit in edits:
        told = [edit.speaker, f"over it: {lying_over(edit)}" if edit.hidden else "seen"]
        told += [f"{float(rate.seconds(edit.frames)):.1f} s left out"] if edit.frames else []
        told += [f"look again: {', '.join(edit.looks)}"] if edit.looks else []
        said = (edit.before or "-", f"> {left_out(edit)}", edit.after or "-")
        table.add_row(format_timecode(edit.at, rate), _lines(told), _lines(said))
    out().print(table)
    hidden = sum(edit.hidden for edit in edits)
    seconds = float(rate.seconds(frames_gone(edits)))
    out().print(
        f"\n{len(edits)} edits, {hidden} of them hidden; {seconds:.1f} s left out that the film plays nowhere"
    )
    out().print(CAUTION)


def _lines(texts: Sequence[str]) -> Text:
    return Text("\n".join(on_one_line(text) for text in texts))


def _print_balance(balance: Balance) -> None:
    def part(frames: int) -> str:
        return f"{float(balance.rate.seconds(frames)):.1f} s, {frames / max(1, balance.length):.0%}"

    table = Rows("balance", "", box=None, pad_edge=False)
    for element, frames in balance.elements.items():
        table.add_row(element.value, part(frames))
    for who, frames in balance.words.items():
        table.add_row(f"words of {who}", part(frames))
    for who, frames in balance.faces.items():
        table.add_row(f"face of {who}", part(frames))
    table.add_row("natural-sound pauses", str(len(balance.pauses)))
    unbroken = balance.unbroken
    since = f"{part(unbroken.length)}, from {format_timecode(unbroken.start, balance.rate)}"
    table.add_row("longest without one", since)
    out().print(table)
    if balance.caution:
        out().print(balance.caution)
