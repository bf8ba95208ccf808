"""Words and tables for people. Results go to standard output, progress and notes to standard error."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from math import floor, isfinite
from textwrap import shorten
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

from mltassist.cli.parted import Parted
from mltassist.cli.rows import Rows
from mltassist.cli.saying import as_json, on_one_line
from mltassist.cli.wording import edit_table, passage_table, seconds, shot_table
from mltassist.frames import Rate, format_timecode
from mltassist.timeline.edits import ClearOurs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from mltassist.api import Hearing
    from mltassist.checking import Fault
    from mltassist.joins.hear import Join
    from mltassist.plans import Note, Plan
    from mltassist.season.film import Outcome
    from mltassist.timeline.picturefaults import PictureFault


PROVEN = 0.0005
"""Part of the cost of a plan below which nothing is left to gain."""
TELLING = 0.1
"""A part that says more of how little is proven than of the plan: nothing is told then."""
QUOTED = 70
"""Letters of what is said at a missing shot that the screen tells."""
HANDFUL = 5
"""Places of one note, or missing shots of which nothing more is known, that are each told on their own."""


class Screen(Console):
    """A console on which names are shown, never obeyed."""

    def print(self, *objects: Any, **options: Any) -> None:  # noqa: ANN401 - as its parent's
        """Print texts without controls; anything else as it is."""
        super().print(*(on_one_line(one) if isinstance(one, str) else one for one in objects), **options)


def out() -> Console:
    """Where results are printed."""
    width = None if sys.stdout.isatty() else 120
    return Screen(highlight=False, markup=False, emoji=False, width=width)  # names are shown as they are


def err() -> Console:
    """Where progress and notes are printed."""
    return Screen(stderr=True, highlight=False, markup=False, emoji=False, soft_wrap=True)


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
    sys.stdout.write(as_json(data))


def print_notes(notes: Iterable[Note], rate: Rate, *, quiet: bool = False) -> None:
    """Notes by timecode, those that need the editor first; what holds for many places in one line.

    quiet: only those.
    """
    told = [note for note in notes if note.needs_editor or not quiet]
    order = sorted(told, key=lambda note: (not note.needs_editor, note.at if note.at is not None else -1))
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


def print_edits(plan: Plan, *, passed: bool = True) -> None:
    """Every edit with its timecode, what it does and its reason. passed: an earlier run was made."""
    edits = [edit for edit in plan.edits if passed or not isinstance(edit, ClearOurs)]
    if edits:
        out().print(edit_table(edits, plan.rate))


def print_plan(plan: Plan, *, listed: bool = False) -> None:
    """The closing table of a plan: what it found and what it does. listed: its shots are told already."""
    figures = plan.figures
    table = Rows(box=None, show_header=False, pad_edge=False)
    for row in _figure_rows(figures, plan.rate):
        table.add_row(*row)
    if table.rows:
        out().print(table)
    if not listed and (shown := figures.get("shown")):
        console = out()
        console.print(shot_table(shown, console.width))
    if mends := figures.get("mends"):
        rows = Rows("mended at", "what was done", box=None, pad_edge=False)
        for row in mends:
            rows.add_row(row["timecode"], row["done"])
        out().print(rows)
    if passages := figures.get("passages"):
        console = out()
        console.print(passage_table(passages, plan.rate, console.width))
    if mix := figures.get("mix"):
        rows = Rows("whole film", "loudness", "range", "true peak", box=None, pad_edge=False)
        for name in ("before", "after"):
            row = mix[name]
            units = (("integrated_lufs", "LUFS"), ("range_lu", "LU"), ("peak_dbtp", "dBTP"))
            rows.add_row(
                name, *("-" if row[key] is None else f"{row[key]:.1f} {unit}" for key, unit in units)
            )
        out().print(rows)
        out().print(f"to {mix['target_lufs']:g} LUFS: {_gain(mix)}")


def _gain(mix: Any) -> str:  # noqa: ANN401  (plain JSON data)
    """The gain still wanted; where the true peak keeps it under what the loudness wants, that too."""
    if mix["gain_to_target_db"] is None:
        return "no gain is told, since sound files cannot be heard"
    level = mix["after"]["integrated_lufs"]
    short = level is not None and mix["target_lufs"] - level - mix["gain_to_target_db"] >= 0.05
    gain_db = round(mix["gain_to_target_db"], 1) + 0.0  # never "-0.0"
    return f"{gain_db:+.1f} dB{': its true peak allows no more' if short else ''}"


def _figure_rows(figures: Any, rate: Rate) -> Iterator[tuple[str, str]]:  # noqa: ANN401  (plain JSON data)
    for place in figures.get("pauses", ()):
        how = "opened" if place["rippled"] else "room that was there is used"
        yield (
            "pause",
            f"{place['timecode']}, {place['seconds']:.1f} s, {how}: {place['natural_sound'] or 'silent'}",
        )
    if "edits_in_speech" in figures:
        names = ("edits_in_speech", "edits_mended", "edits_heard", "edits_to_check")
        counts = (figures[name] for name in names)
        yield "edits in speech", "{} listened to, {} mended, {} heard, {} to check".format(*counts)
    if (length := figures.get("length")) and length["after"] != length["before"]:
        by = length["after"] - length["before"]
        few = f"{abs(by)} frame{'s' if abs(by) > 1 else ''}"
        much = few if abs(by) < rate.fraction else seconds(abs(by), rate)
        yield "length", f"{length['timecode']}, {much} {'longer' if by > 0 else 'shorter'} than before"
    if "jump_cuts" in figures:
        yield from _cover_rows(figures)


def _cover_rows(figures: Any) -> Iterator[tuple[str, str]]:  # noqa: ANN401  (plain JSON data)
    by_editor = figures["jump_cuts_covered_by_editor"]
    yield (
        "jump cuts",
        f"{figures['jump_cuts']} found, {by_editor} covered by the editor,"
        f" {figures['jump_cuts_covered']} covered now, {figures['jump_cuts_left']} left",
    )
    if figures["jump_cuts_stay"]:
        yield "", f"{figures['jump_cuts_stay']} more where the face stays"
    yield "narration", f"{figures['narration_s']:.1f} s"
    if figures["jump_cuts_hidden_by_size"]:
        yield "", f"{figures['jump_cuts_hidden_by_size']} more hidden by a change of size"
    kept = figures["earlier_shots"]
    stay = f", {figures['earlier_shots_kept']} of the {kept} earlier ones among them" if kept else ""
    yield "shots laid", f"{figures['shots']}{stay}"
    if figures["alternatives_laid"] or figures["sounds_kept"]:
        beside = f"{figures['alternatives_laid']} alternatives, switched off; {figures['sounds_kept']} sounds"
        yield "beside them", beside
    yield "face", f"{figures['face_before_s']:.1f} s seen before, {figures['face_after_s']:.1f} s now"
    yield "rules not kept", str(len(figures["rules_not_kept"]))
    if figures["matched"]:
        words = ", ".join(dict.fromkeys(row["word"] for row in figures["matched"]))
        shots = len(figures["matched"])
        yield "words shown", f"{shots} shot{'s' if shots > 1 else ''}: {words}"
    if (left := figures["gap"]) < PROVEN:
        yield "plan", "the best there is, by the weights of the recipe"
    elif left < TELLING:
        least = floor(1000 * (1 - left)) / 10
        yield "plan", f"no other can cost less than {least:g} % of it, by the weights of the recipe"
    elif figures["pick_ups"]:
        yield "plan", "the best that was found: which few clips fit where cannot be proven"
    else:
        yield "plan", "the best that was found: a better one may be left"
    yield "shots missing", str(len(figures["pick_ups"]))
    untold = [row for row in figures["pick_ups"] if not row["subjects"]]
    left_out = untold[HANDFUL:]
    for row in figures["pick_ups"]:
        if row in left_out:
            continue
        wanted = "; ".join(
            f"{s['subject']}{' ' + '/'.join(s['sizes']) if s['sizes'] else ''}" for s in row["subjects"]
        )
        said = f', at "{shorten(row["words"], QUOTED, placeholder=" ...")}"' if row["words"] else ""
        yield "", f"{row['timecode']}  {row['seconds']:.1f} s{', such as ' + wanted if wanted else ''}{said}"
    if left_out:
        yield "", f"and {len(left_out)} more; --json and --plan list them all"


def print_hearing(found: Hearing, rate: Rate) -> None:
    """Verdict on every edit in speech, with its reasons, and what was measured."""
    columns = ["edit at", "track", "kind", "verdict", "score", "speech", "room", "pause", "why"]
    columns += ["mended"] if found.plan is not None else []
    table = Rows(*columns, box=None, pad_edge=False)
    for join in found.joins:
        m, judgement = join.measures, join.judgement
        table.add_row(
            format_timecode(join.at, rate),
            found.tracks.get(join.track, ""),
            join.edit.kind.value,
            judgement.verdict.value,
            f"{judgement.score:.2f}",
            _number(m.speech_step_db, "+.1f", "dB"),
            _number(m.background_step_db, "+.1f", "dB"),
            _number(m.pause_s, ".2f", "s"),
            "; ".join(reason.words for reason in (*judgement.reasons, *join.words)),
            *([_mended(join)] if found.plan is not None else ()),
        )
    out().print(table)


def _mended(join: Join) -> str:
    if join.mended is None:
        return ""
    judgement = join.mended.judgement
    return f"{judgement.verdict}, {judgement.score:.2f}"


def _number(value: float, form: str, unit: str) -> str:
    if not isfinite(value):
        return "-"
    told = f"{value:{form}}"
    return f"{told.lstrip('+-') if not float(told) else told} {unit}"


def print_faults(faults: Iterable[Fault], seen: Iterable[PictureFault], rate: Rate) -> None:
    """Faults of a document, then those of its film's picture, or that there are none."""
    table = Rows("fault", "where", "what", box=None, pad_edge=False)
    for fault in faults:
        table.add_row(fault.kind, fault.where, fault.what)
    out().print(table if table.row_count else "no faults found in the structure")
    table = Rows("picture", "what", box=None, pad_edge=False)
    for one in seen:
        table.add_row(format_timecode(one.at, rate), one.what)
    out().print(table if table.row_count else "no faults found in the picture")


def print_outcomes(outcomes: Iterable[Outcome]) -> None:
    """The closing table of a batch."""
    table = Rows(
        "project", "result", "jump cuts", "covered now", "left", "to check", box=None, pad_edge=False
    )
    for outcome in outcomes:
        figures = outcome.figures
        # A name that is cut is no name.
        done = "planned, not written" if outcome.output is None else str(outcome.output)
        done += ", finished before" if outcome.before else ""
        table.add_row(
            Parted(str(outcome.project)),
            Parted(f"failed: {outcome.problem}" if outcome.problem else done),
            *(str(figures.get(name, "-")) for name in ("jump_cuts", "jump_cuts_covered", "jump_cuts_left")),
            "-" if outcome.problem else str(outcome.check),
        )
    out().print(table)


def print_outcome_notes(outcomes: Iterable[Outcome]) -> None:
    """What needs the editor in each project of a batch."""
    for outcome in outcomes:
        for note in outcome.notes:
            if note.needs_editor and outcome.rate is not None:
                err().print(f"check: {outcome.project}: {note.told(outcome.rate)}")
