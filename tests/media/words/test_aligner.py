"""Known English words found in the sound, by the real model."""

from __future__ import annotations

import numpy as np
import pytest

from mltassist.media.sound.decode import read_sound
from mltassist.media.words.aligner import SphinxAligner, dictionary_sounds
from mltassist.media.words.interface import WORDS_HZ, Aligner
from mltassist.media.words.letters import sounds_of
from tests import needs
from tests.media.words.voices import arctic, labelled


@pytest.fixture(scope="module")
def aligner() -> Aligner:
    needs.recogniser()
    return SphinxAligner()


def test_words_begin_where_people_and_machines_have_marked_them(aligner: Aligner) -> None:
    errors = []
    for spoken in (arctic(), *labelled()):
        mono = read_sound(spoken.path, 0, 4 * WORDS_HZ, rate_hz=WORDS_HZ, mono=True)[0]
        fit = aligner.align(mono, spoken.text.split())
        assert fit is not None
        assert len(fit.words) == len(spoken.begins)
        found = [span.start / WORDS_HZ for span in fit.words]
        errors += [abs(a - b) for a, b in zip(found, spoken.begins, strict=True)]
    assert len(errors) == 17
    assert np.median(errors) <= 0.040
    assert np.quantile(errors, 0.95) <= 0.150


def test_words_without_a_sound_of_their_own_take_no_time(aligner: Aligner) -> None:
    spoken = arctic()
    mono = read_sound(spoken.path, 0, 4 * WORDS_HZ, rate_hz=WORDS_HZ, mono=True)[0]
    texts = spoken.text.split()
    fit = aligner.align(mono, [*texts[:3], "—", *texts[3:]])
    assert fit is not None
    assert fit.words[3].length == 0
    assert fit.words[3].start == fit.words[2].end


def test_what_is_not_said_fits_worse(aligner: Aligner) -> None:
    spoken = arctic()
    mono = read_sound(spoken.path, 0, 4 * WORDS_HZ, rate_hz=WORDS_HZ, mono=True)[0]
    right = aligner.align(mono, spoken.text.split())
    wrong = aligner.align(mono, ["bring", "both", "boats", "before", "sunset"])
    assert right is not None
    assert wrong is None or sum(wrong.scores) < 2 * sum(right.scores)


def test_more_words_than_fit_into_the_sound_are_not_found(aligner: Aligner) -> None:
    assert aligner.align(np.zeros(WORDS_HZ // 10, np.float32), ["mississippi"] * 9) is None
    assert aligner.align(np.zeros(WORDS_HZ, np.float32), ["…"]) is None


def test_only_english_is_understood(aligner: Aligner) -> None:
    assert [aligner.understands(code) for code in ("", "und", "en", "en-GB", "eng", "de", "fra")] == [
        True,
        True,
        True,
        True,
        True,
        False,
        False,
    ]


def test_the_dictionary_tells_how_words_sound() -> None:
    needs.recogniser()
    # The CMU dictionary, which lies in the wheel; what it does not have is read off its letters.
    found = dictionary_sounds({"wheel", "will", "saltreed"})
    assert found == {"wheel": "W IY L", "will": "W IH L", "saltreed": sounds_of("saltreed")}
