"""What is said in a film, shown as tables."""

from __future__ import annotations

from mltassist.cli.rows import Rows
from mltassist.cli.screen import out
from mltassist.cutaways.hidden import CAUTION, COLUMNS
from mltassist.cutaways.hidden import rows as removed_rows
from mltassist.cutaways.wordlist import Words
from mltassist.frames import format_timecode
from mltassist.rushes.balance import Balance


def print_words(found: Words) -> None:
    """What is said bite by bite, what was cut between, what was looked for, and the balance of the film."""
    rate = found.rate
    if found.found is not None:
        table = Rows("said in", "at", "line", box=None, pad_edge=False)
        for place in found.found:
            alike = f"(sounds like it: {place.alike}) " if place.alike else ""
            table.add_row(place.clip, format_timecode(place.source_in, rate), alike + place.text)
        out().print(table if found.found else "found nowhere")
        if any(place.heard for place in found.found):
            out().print("what was heard, and not typed, may be another word that sounds the same")
        return
    table = Rows("at", "speaker", "said", box=None, pad_edge=False)
    for bite in found.bites:
        table.add_row(format_timecode(bite.at, rate), bite.speaker, bite.text or "-")
    out().print(table)
    if found.removed is not None:
        out().print("\ntaken out between bites")
        table = Rows(*COLUMNS, box=None, pad_edge=False)
        for row in removed_rows(found.removed, rate):
            table.add_row(*row)
        out().print(table)
        out().print(CAUTION)
    _print_balance(found.balance)


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
