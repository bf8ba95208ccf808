"""Words and tables for people. Results go to standard output, progress and notes to standard error."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from math import isfinite
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn
from rich.table import Table

from mltassist.cutaways.hidden import CAUTION, COLUMNS
from mltassist.cutaways.hidden import rows as removed_rows
from mltassist.frames import Rate, format_timecode
from mltassist.timeline.edits import Edit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from mltassist.api import Hearing, Survey
    from mltassist.batches import Outcome
    from mltassist.checking import Fault
    from mltassist.cutaways.wordlist import Words
    from mltassist.joins.hear import Join
    from mltassist.plans import Note, Plan
    from mltassist.rushes.balance import Balance


PROVEN = 0.0005
"""Part of the cost of a plan below which nothing is left to gain."""
HANDFUL = 5
"""Places of one note, or missing shots of which nothing more is known, that are each told on their own."""


def out() -> Console:
    """Where results are printed."""
    width = None if sys.stdout.isatty() else 120
    return Console(highlight=False, markup=False, emoji=False, width=width)  # names are shown as they are


def err() -> Console:
    """Where progress and notes are printed."""
    return Console(stderr=True, highlight=False, markup=False, emoji=False, soft_wrap=True)


@contextmanager
def progress() -> Iterator[Callable[[str, float], None] | None]:
    """A bar for each stage with the time left; nothing where no one watches."""
    console = err()
    if not console.is_terminal:
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn(compact=True))
    with Progress(*columns, console=console, transient=True) as bars:
        tasks: dict[str, TaskID] = {}

        def told(stage: str, part: float) -> None:
            for name, task in tasks.items():
                if name != stage:
                    bars.remove_task(task)
            for name in [name for name in tasks if name != stage]:
                del tasks[name]
            if stage not in tasks:
                tasks[stage] = bars.add_task(stage, total=1.0)
            bars.update(tasks[stage], completed=part)

        yield told


def print_json(data: dict[str, Any] | list[Any]) -> None:
    """Data as JSON on standard output."""
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2) + "\n")


def print_notes(notes: Iterable[Note], rate: Rate) -> None:
    """Notes by timecode, those that need the editor first; what holds for many places in one line."""
    order = sorted(notes, key=lambda note: (not note.needs_editor, note.at if note.at is not None else -1))
    places: dict[tuple[bool, str], list[int]] = {}
    for note in order:
        if note.at is not None:
            places.setdefault((note.needs_editor, note.text), []).append(note.at)
    for note in order:
        mark = "check" if note.needs_editor else "note"
        first, *more = places.get((note.needs_editor, note.text), (None,))
        if len(more) < HANDFUL or note.at is None:
            err().print(f"{mark}: {note.told(rate)}")
        elif note.at == first:
            soon = ", ".join(format_timecode(at, rate) for at in more[:3])
            err().print(f"{mark}: {note.told(rate)}; so it is at {len(more)} more places: {soon} ...")


def print_edits(plan: Plan) -> None:
    """Every edit with its timecode, its fields and its reason."""
    table = Table("at", "edit", "what", "reason", box=None, pad_edge=False)
    for edit in plan.edits:
        table.add_row(_place(edit, plan.rate), type(edit).__name__, _what(edit), edit.reason)
    out().print(table)


def _place(edit: Edit, rate: Rate) -> str:
    at = getattr(edit, "at", None)
    return "" if at is None else format_timecode(at, rate)


def _what(edit: Edit) -> str:
    values = {name: value for name, value in asdict(edit).items() if name not in ("at", "reason")}
    if name := values.get("name"):
        return f"{name}, {values['length']} frames from its frame {values['source_in']}"
    if keys := values.get("keys"):
        levels = [gain for _, gain in keys]
        return f"track {values['track']}, {len(keys)} keys, {min(levels):.1f} to {max(levels):.1f} dB"
    return ", ".join(
        f"{value} frames" if name == "length" else str(value) for name, value in values.items() if value
    )


def print_plan(plan: Plan) -> None:
    """The closing table of a plan: what it found and what it does."""
    figures = plan.figures
    table = Table(box=None, show_header=False, pad_edge=False)
    for row in _figure_rows(figures):
        table.add_row(*row)
    if table.rows:
        out().print(table)
    if passages := figures.get("passages"):
        rows = Table(
            "from", "seconds", "under", "music by", "separation before", "after", box=None, pad_edge=False
        )
        for p in passages:
            rows.add_row(
                p["timecode"],
                f"{float(plan.rate.seconds(p['length'])):.1f}",
                p["kind"],
                f"{p['depth_db']:.1f} dB",
                _level(p["separation_before_lu"], "LU"),
                _level(p["separation_after_lu"], "LU"),
            )
        out().print(rows)
    if mix := figures.get("mix"):
        rows = Table("whole film", "loudness", "range", "true peak", box=None, pad_edge=False)
        for name in ("before", "after"):
            row = mix[name]
            units = (("integrated_lufs", "LUFS"), ("range_lu", "LU"), ("peak_dbtp", "dBTP"))
            rows.add_row(
                name, *("-" if row[key] is None else f"{row[key]:.1f} {unit}" for key, unit in units)
            )
        out().print(rows)
        out().print(f"to {mix['target_lufs']:g} LUFS: {mix['gain_to_target_db']:+.1f} dB{_limited(mix)}")


def _limited(mix: Any) -> str:  # noqa: ANN401  (plain JSON data)
    """What to add to the gain where the true peak keeps it under what the loudness wants."""
    level = mix["after"]["integrated_lufs"]
    short = level is not None and mix["target_lufs"] - level - mix["gain_to_target_db"] >= 0.05
    return ": its true peak allows no more" if short else ""


def _figure_rows(figures: Any) -> Iterator[tuple[str, str]]:  # noqa: ANN401  (plain JSON data)
    for place in figures.get("pauses", ()):
        how = "opened" if place["rippled"] else "room that was there is used"
        yield (
            "pause",
            f"{place['timecode']}, {place['length']} frames, {how}: {place['natural_sound'] or 'silent'}",
        )
    if "edits_in_speech" in figures:
        names = ("edits_in_speech", "edits_mended", "edits_heard", "edits_to_check")
        counts = (figures[name] for name in names)
        yield "edits in speech", "{} listened to, {} mended, {} heard, {} to check".format(*counts)
    if "jump_cuts" in figures:
        by_editor = figures["jump_cuts_covered_by_editor"]
        yield (
            "jump cuts",
            f"{figures['jump_cuts']} found, {by_editor} covered by the editor,"
            f" {figures['jump_cuts_covered']} covered now, {figures['jump_cuts_left']} left",
        )
        yield "narration", f"{figures['narration_s']:.1f} s"
        if figures["jump_cuts_hidden_by_size"]:
            yield "", f"{figures['jump_cuts_hidden_by_size']} more hidden by a change of size"
        yield "shots laid", str(figures["shots"])
        if figures["alternatives_laid"] or figures["sounds_kept"]:
            beside = (
                f"{figures['alternatives_laid']} alternatives, switched off; {figures['sounds_kept']} sounds"
            )
            yield "beside them", beside
        yield "face", f"{figures['face_before_s']:.1f} s seen before, {figures['face_after_s']:.1f} s now"
        yield "rules not kept", str(len(figures["rules_not_kept"]))
        if figures["matched"]:
            words = ", ".join(dict.fromkeys(row["word"] for row in figures["matched"]))
            yield "words shown", f"{len(figures['matched'])} shots: {words}"
        left = figures["gap"]
        yield "plan", "the best there is" if left < PROVEN else f"within {left:.1%} of the best there can be"
        yield "shots missing", str(len(figures["pick_ups"]))
        plain = [row for row in figures["pick_ups"] if not row["subjects"]]
        left_out = plain[HANDFUL:]
        for row in figures["pick_ups"]:
            if row in left_out:
                continue
            wanted = "; ".join(
                f"{s['subject']}{' ' + '/'.join(s['sizes']) if s['sizes'] else ''}" for s in row["subjects"]
            )
            yield "", f"{row['timecode']}  {row['seconds']:.1f} s{', such as ' + wanted if wanted else ''}"
        if left_out:
            yield "", f"and {len(left_out)} more; --json and --plan list them all"


def _level(value: float | None, unit: str) -> str:
    return "-" if value is None else f"{value:+.1f} {unit}"


def print_survey(found: Survey) -> None:
    """Elements, tracks and edits of a project."""
    timeline, rate = found.timeline, found.timeline.rate
    console = out()
    length = format_timecode(timeline.length, rate)
    console.print(
        f"{timeline.path.name}: {timeline.host} project, {length}, {float(rate.fraction):g} frames a second"
    )
    table = Table("element", "in the film", "in the bin", box=None, pad_edge=False)
    for element, frames in found.on_timeline.items():
        table.add_row(
            element.value, *(f"{float(rate.seconds(n)):.1f} s" for n in (frames, found.in_bin[element]))
        )
    console.print(table)
    if (ratio := found.shooting_ratio) is not None:
        console.print(f"rushes to film (interviews, cutaways, natural sound): {float(ratio):.1f} to 1")
    table = Table("track", "kind", "name", "clips", "element", "why", box=None, pad_edge=False)
    for track in found.timeline.tracks:
        verdict = found.elements.tracks[track.index]
        state = "".join(f", {word}" for word in ("locked", "hidden", "muted") if getattr(track, word))
        table.add_row(
            str(track.index),
            track.kind.value,
            track.name + state,
            str(sum(1 for _ in track.clips())),
            verdict.element.value if verdict.element else "?",
            verdict.why + ("" if verdict.sure else " (not sure: pin it in a recipe)"),
        )
    console.print(table)
    table = Table("bin", "clips", "element", "why", box=None, pad_edge=False)
    groups: dict[tuple[str, str, str], int] = {}
    for clip in timeline.bin:
        verdict = found.elements.sources[clip.source.key]
        key = (clip.folder or "top", verdict.element.value if verdict.element else "?", verdict.why)
        groups[key] = groups.get(key, 0) + 1
    for (folder, kind, why), count in groups.items():
        table.add_row(folder, str(count), kind, why)
    console.print(table)
    if found.log_sheets:
        moments = sum(map(len, found.logged.values()))
        sheets = ", ".join(sheet.name for sheet in found.log_sheets)
        console.print(f"log sheets ({sheets}): moments: {moments}, clips: {len(found.logged)}")
    table = Table("edit at", "track", "kind", "source left out", "", box=None, pad_edge=False)
    for cut in found.cuts:
        table.add_row(
            format_timecode(cut.at, rate),
            str(cut.track),
            cut.kind.value,
            f"{cut.removed} frames" if cut.removed else "",
            "covered" if cut.covered else "",
        )
    console.print(table)


def print_hearing(found: Hearing, rate: Rate) -> None:
    """Verdict on every edit in speech, with its reasons, and what was measured."""
    columns = ["edit at", "track", "kind", "verdict", "score", "speech", "room", "pause", "why"]
    columns += ["mended"] if found.plan is not None else []
    table = Table(*columns, box=None, pad_edge=False)
    for join in found.joins:
        m, judgement = join.measures, join.judgement
        table.add_row(
            format_timecode(join.at, rate),
            str(join.track),
            join.edit.kind.value,
            judgement.verdict.value,
            f"{judgement.score:.2f}",
            _number(m.speech_step_db, "+.1f", "dB"),
            _number(m.background_step_db, "+.1f", "dB"),
            _number(m.pause_s, ".2f", "s"),
            "; ".join(reason.words for reason in judgement.reasons),
            *([_mended(join)] if found.plan is not None else ()),
        )
    out().print(table)


def _mended(join: Join) -> str:
    if join.mended is None:
        return ""
    judgement = join.mended.judgement
    return f"{judgement.verdict}, {judgement.score:.2f}"


def _number(value: float, form: str, unit: str) -> str:
    return f"{value:{form}} {unit}" if isfinite(value) else "-"


def print_words(found: Words) -> None:
    """What is said bite by bite, what was cut between, what was looked for, and the balance of the film."""
    rate = found.rate
    if found.found is not None:
        table = Table("said in", "at", "line", box=None, pad_edge=False)
        for place in found.found:
            table.add_row(place.clip, format_timecode(place.source_in, rate), place.text)
        out().print(table if found.found else "found nowhere")
        return
    table = Table("at", "speaker", "said", box=None, pad_edge=False)
    for bite in found.bites:
        told = f"[{bite.text}?]" if bite.unsure else bite.text or "-"
        table.add_row(format_timecode(bite.at, rate), bite.speaker, told)
    out().print(table)
    if found.removed is not None:
        out().print("\ntaken out between bites")
        table = Table(*COLUMNS, box=None, pad_edge=False)
        for row in removed_rows(found.removed, rate):
            table.add_row(*row)
        out().print(table)
        out().print(CAUTION)
    _print_balance(found.balance)


def _print_balance(balance: Balance) -> None:
    def part(frames: int) -> str:
        return f"{float(balance.rate.seconds(frames)):.1f} s, {frames / max(1, balance.length):.0%}"

    table = Table("balance", "", box=None, pad_edge=False)
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


def print_faults(faults: Iterable[Fault]) -> None:
    """Faults of a document, or that there are none."""
    table = Table("fault", "where", "what", box=None, pad_edge=False)
    for fault in faults:
        table.add_row(fault.kind, fault.where, fault.what)
    out().print(table if table.row_count else "no faults found")


def print_outcomes(outcomes: Iterable[Outcome]) -> None:
    """The closing table of a batch."""
    table = Table("project", "result", "jump cuts", "covered", "left", "to check", box=None, pad_edge=False)
    for outcome in outcomes:
        figures = outcome.figures
        done = "planned, not written" if outcome.output is None else str(outcome.output)
        table.add_row(
            str(outcome.project),
            f"failed: {outcome.problem}" if outcome.problem else done,
            *(str(figures.get(name, "-")) for name in ("jump_cuts", "jump_cuts_covered", "jump_cuts_left")),
            "-" if outcome.problem else str(outcome.check),
        )
    out().print(table)


def print_outcome_notes(outcomes: Iterable[Outcome]) -> None:
    """What needs the editor in each project of a batch."""
    for outcome in outcomes:
        for note in outcome.notes:
            err().print(f"check: {outcome.project}: {note}")
