"""The page of generations, made from the fixtures: ``python -m tests.hosts.generations_page`` renews it."""

from __future__ import annotations

from pathlib import Path

from tests.hosts.generations import FEATURES, GENERATIONS
from tests.hosts.written import generation_of

PAGE = Path(__file__).parents[2] / "docs" / "generations.md"

READ, FEATURE = "test_generations_read", "test_features_read"
EDITED, AGAIN = "test_generations_edited", "test_keep_changed"
EVERYWHERE: dict[str, tuple[str, str]] = {
    "clips on tracks": (READ, "test_clips_lie_where_the_film_says"),
    "picture and sound told apart": (READ, "test_pictures_and_sounds_are_told_apart"),
    "bin and its folders": (READ, "test_the_bin_holds_the_rushes_in_their_folders"),
    "saved without an edit": (READ, "test_saving_without_an_edit_changes_nothing"),
    "a cutaway laid": (EDITED, "test_a_shot_is_laid_silent_on_a_track_of_ours"),
    "natural sound laid": (EDITED, "test_natural_sound_comes_with_picture_and_fades"),
    "a pause opened": (EDITED, "test_a_pause_moves_all_that_follows_by_its_length"),
    "gain of a whole track at a pause": (EDITED, "test_a_tracks_gain_is_the_same_before_and_after_a_pause"),
    "a level curve set": (EDITED, "test_a_curve_is_read_as_it_was_set"),
    "a marker added": (EDITED, "test_a_marker_is_added_and_known_as_ours"),
    "our work cleared": (EDITED, "test_clearing_gives_the_timeline_of_before"),
    "our work found after the host saved": (
        AGAIN,
        "test_a_second_run_after_the_host_has_saved_replaces_the_first",
    ),
    "a shot changed by hand kept": (AGAIN, "test_a_shot_changed_by_hand_is_told_from_the_others"),
    "faults of structure": ("test_check", "test_a_clip_out_of_place_is_found_in_every_layout"),
    "played by the engine as read": (
        "test_generations_edited_played",
        "test_the_edited_film_is_played_as_it_is_read_and_else_as_before",
    ),
}
"""What is tested for every generation: by which module and test."""

TOPICS: dict[str, tuple[str, str]] = {
    "dissolves": (FEATURE, "test_dissolves_within_a_track_are_read"),
    "speeds": (FEATURE, "test_clips_at_other_speeds_show_the_right_source_frames"),
    "gain_db": (FEATURE, "test_steady_gains_are_read"),
    "levels": (FEATURE, "test_level_keys_are_read_in_timeline_frames"),
    "track_levels": (FEATURE, "test_level_keys_of_a_track_are_read"),
    "fades": (FEATURE, "test_fades_of_sound_are_read"),
    "muted": (FEATURE, "test_states_of_tracks_are_read"),
    "names": (FEATURE, "test_names_of_tracks_are_read_in_their_order"),
    "markers": (FEATURE, "test_marks_zones_and_folders_of_clips_are_read"),
    "zones": (FEATURE, "test_marks_zones_and_folders_of_clips_are_read"),
    "folders": (FEATURE, "test_marks_zones_and_folders_of_clips_are_read"),
    "guides": (FEATURE, "test_markers_are_read"),
    "categories": (FEATURE, "test_categories_of_markers_are_read_by_name"),
    "linked": (FEATURE, "test_pairs_of_picture_and_sound_are_read"),
    "paths": (FEATURE, "test_a_proxy_is_measured_where_its_original_is_missing"),
    "nested": (FEATURE, "test_a_nested_sequence_is_one_clip"),
    "subtitles": (FEATURE, "test_subtitle_files_are_named"),
    "ignored": (FEATURE, "test_a_track_of_the_hosts_own_is_none_of_the_editors"),
}
"""What is tested where a fixture has it: by its topic."""

CALLED = {
    "dissolves": "dissolves (and those between tracks, which are none of one track)",
    "speeds": "other speeds",
    "gain_db": "steady gain of a clip",
    "levels": "level keys of a clip",
    "track_levels": "level keys of a track",
    "fades": "fades of sound",
    "muted": "muted, hidden, locked",
    "names": "names and order of tracks",
    "markers": "markers in clips",
    "zones": "zones of clips",
    "folders": "folders in folders",
    "guides": "markers in other forms",
    "categories": "categories of markers",
    "linked": "groups in other forms",
    "paths": "proxies",
    "nested": "sequences as clips",
    "subtitles": "subtitles",
    "ignored": "tracks of the host's own",
}


def tests() -> list[tuple[str, str]]:
    """Every test that the page names, once, in order."""
    return list(dict.fromkeys((*EVERYWHERE.values(), *TOPICS.values())))


def page() -> str:
    """The page's whole text."""
    number = {test: place for place, test in enumerate(tests(), start=1)}
    said: dict[str, set[str]] = {name: set() for name in GENERATIONS}
    for name, feature in FEATURES.items():
        # An empty statement is tested too, but only of dissolves does it say what the row says.
        said[generation_of(name)] |= {t for t, what in feature.says.items() if what or t == "dissolves"}
    heading = ("", *(name.replace("kdenlive", "k").replace("shotcut", "s") for name in GENERATIONS))
    rows = [heading, ("---",) * len(heading)]
    rows += [(what, *(str(number[test]) for _ in GENERATIONS)) for what, test in EVERYWHERE.items()]
    rows += [
        (CALLED[topic], *(str(number[test]) if topic in said[name] else "missing" for name in GENERATIONS))
        for topic, test in TOPICS.items()
    ]
    table = "\n".join(f"| {' | '.join(row)} |" for row in rows)
    named = "\n".join(
        f"{place}. `tests/hosts/{module}.py::{test}`" for place, (module, test) in enumerate(tests(), start=1)
    )
    return f"""# Generations

Which layouts of project documents are read and written, and which test shows it. Made from the fixtures of
the tests, so a cell can be trusted: a number names a test below that runs for this layout; *missing* means
that no fixture of this layout has the thing, not that it cannot be read. k: Kdenlive's document version;
s: Shotcut's release.

{table}

{named}

What differs by layout:

- Shotcut and Kdenlive up to 0.96 keep picture and sound in one clip, so there nothing is linked.
- Kdenlive up to 0.95 does not add tracks up but lets the engine combine them; a mix measured by us is then
  only near to what that engine plays.
- Where a document names a still shorter than its clip, the clip keeps its length.
- At other speeds the engine shows the source frame nearest to the exact place, half a frame going up; one
  frame may differ where the place lies exactly between two. A speed that changes within a clip is rounded
  down.
- A fade without keys on a whole track that a pause cuts becomes three filters, so that it is as steep as
  before. Smooth curves, and levels whose value is followed by a unit, are moved but not cut.
"""


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
