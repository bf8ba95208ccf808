"""The trade's words by which names tell an element, in eleven languages.

From memory of common practice among editors; there is no source that lists them. Words that mean something
else in another of these languages are left out ("insert" is a verb, "sync" is a state of sound). A final * is
any ending: plurals and compounds. Letter case does not count; digits and underscores part words.
"""

from __future__ import annotations

from collections.abc import Mapping

from mltassist.timeline.elements import Element

TRADE_WORDS: Mapping[str, Mapping[Element, tuple[str, ...]]] = {
    "English": {
        Element.INTERVIEW: (
            "interview*",
            "bites",
            "bite",
            "soundbite*",
            "talking head*",
            "vox pop*",
            "sync",
            "testimony",
            "iv",
            "itv",
            "intv",
        ),
        Element.NARRATION: (
            "narration*",
            "narrator*",
            "voiceover*",
            "voice over",
            "voice-over",
            "commentary",
            "vo",
            "narr",
        ),
        Element.CUTAWAY: (
            "cutaway*",
            "cut-away*",
            "cut away*",
            "broll",
            "b-roll",
            "b roll",
            "inserts",
            "insert shots",
            "gvs",
        ),
        Element.NATURAL: (
            "natural sound*",
            "nat sound*",
            "natsound*",
            "nats",
            "nat",
            "natural",
            "ambience*",
            "ambient",
            "atmos",
            "wildtrack*",
            "wild track*",
            "room tone*",
            "roomtone*",
        ),
        Element.MUSIC: ("music*", "score", "soundtrack", "song*"),
    },
    "German": {
        Element.INTERVIEW: ("o-ton*", "o-töne*", "originalton*", "gespräch*"),
        Element.NARRATION: ("sprecher*", "off-text*", "offtext*", "off-sprecher*", "kommentarton"),
        Element.CUTAWAY: ("schnittbild*", "zwischenschnitt*", "zwischenbild*", "bebilderung"),
        Element.NATURAL: ("atmo", "atmo-ton", "atmosphäre*", "raumton", "nur-ton", "umgebungston"),
        Element.MUSIC: ("musik*", "filmmusik"),
    },
    "French": {
        Element.INTERVIEW: ("entretien*", "entrevue*", "témoignage*"),
        Element.NARRATION: ("voix off", "voix-off", "voixoff", "commentaire*"),
        Element.CUTAWAY: ("plan de coupe", "plans de coupe", "plans d'illustration", "images d'illustration"),
        Element.NATURAL: ("son seul", "sons seuls", "ambiance*", "son d'ambiance", "sons d'ambiance"),
        Element.MUSIC: ("musique*",),
    },
    "Spanish": {
        Element.INTERVIEW: ("entrevista*", "testimonio*"),
        Element.NARRATION: ("voz en off", "locución", "locucion", "locuciones", "narración", "narracion"),
        Element.CUTAWAY: ("plano recurso", "planos recurso", "planos de recurso", "planos de corte"),
        Element.NATURAL: ("sonido ambiente", "sonidos ambiente", "wildtrack"),
        Element.MUSIC: ("música*", "musica*"),
    },
    "Italian": {
        Element.INTERVIEW: ("intervista*", "interviste"),
        Element.NARRATION: ("voce fuori campo", "voce narrante", "narrazione", "voce off"),
        Element.CUTAWAY: ("copertura", "coperture", "immagini di copertura", "inquadrature di copertura"),
        Element.NATURAL: ("suono ambiente", "suoni ambiente", "presa diretta", "ambienti sonori"),
        Element.MUSIC: ("musiche", "colonna sonora"),
    },
    "Portuguese": {
        Element.INTERVIEW: ("depoimento*",),
        Element.NARRATION: ("locução", "locucao", "locuções", "narração", "narracao", "voz off"),
        Element.CUTAWAY: ("imagens de apoio", "imagem de apoio", "planos de corte", "imagens de corte"),
        Element.NATURAL: ("som ambiente", "sons ambiente", "som direto"),
        Element.MUSIC: ("trilha sonora", "banda sonora"),
    },
    "Dutch": {
        Element.INTERVIEW: ("vraaggesprek*",),
        Element.NARRATION: ("commentaarstem*", "vertelstem*", "commentaartekst*"),
        Element.CUTAWAY: ("tussenshot*", "sfeerbeeld*", "sfeershot*"),
        Element.NATURAL: ("omgevingsgeluid*", "sfeergeluid*", "achtergrondgeluid*"),
        Element.MUSIC: ("muziek*", "filmmuziek"),
    },
    "Swedish": {
        Element.INTERVIEW: ("intervju*",),
        Element.NARRATION: ("berättarröst*", "speakertext*", "speakerröst*"),
        Element.CUTAWAY: ("klippbild*", "täckbild*", "inklippsbild*"),
        Element.NATURAL: ("miljöljud", "atmosljud", "bakgrundsljud"),
        Element.MUSIC: ("filmmusik",),
    },
    "Danish": {
        Element.NARRATION: ("fortællerstemme*", "speaktekst*"),
        Element.CUTAWAY: ("dækbillede*", "klipbillede*"),
        Element.NATURAL: ("reallyd*", "baggrundslyd*"),
    },
    "Polish": {
        Element.INTERVIEW: ("wywiad*", "setka", "setki"),
        Element.NARRATION: ("lektor*", "narracja", "narracje"),
        Element.CUTAWAY: ("przebitka", "przebitki", "przebitek"),
        Element.NATURAL: ("tło dźwiękowe", "dźwięk tła", "dźwięki tła"),
        Element.MUSIC: ("muzyka", "muzyki"),
    },
    "Russian": {
        Element.INTERVIEW: ("интервью", "синхрон*"),
        Element.NARRATION: ("закадр*", "диктор*", "голос за кадром"),
        Element.CUTAWAY: ("перебивк*", "перебивок"),
        Element.NATURAL: ("интершум*", "атмосферный звук", "шумы"),
        Element.MUSIC: ("музык*",),
    },
}
"""By language, then element."""


def trade_words(element: Element) -> tuple[str, ...]:
    """All words for an element, whatever the language, each once."""
    rows = (word for words in TRADE_WORDS.values() for word in words.get(element, ()))
    return tuple(dict.fromkeys(rows))
