"""Words that only bind others together: in a sentence they name nothing that can be seen."""

from __future__ import annotations

import re

SHORTEST = 3
"""Letters of the shortest word of a sentence that can name a thing."""

COMMON_WORDS = frozenset(
    re.findall(
        r"\S+",
        """
        about above after again all also always and any are around because been before behind being below
        between both but can could did does down during each few for from get gets good got had has have her
        here him his how into its just like more most much near nice not now off one onto other our out over
        own same she should some still such take than that the their them then there these they this those
        through too two under until use very was were what when where which while who why will with would
        you your
        aber als auch auf aus bei bis das dass dem den der des die doch durch ein eine einem einen einer
        eines für gegen ihr ihre ist kein keine mehr mit nach nicht noch nur oder ohne schon sehr sein sich
        sie sind über und unter vom von vor wie wir wird zum zur zwischen
        après avant avec aux ces cette comme dans deux elle entre est être fait ils leur leurs mais même
        nous par pas plus qui sans ses sous sur très une vers vous
        como con del desde donde ella ellos esta este esto hacia hasta las los más muy para pero por que ser
        sin sobre sus todo una uno
        alla alle anche che come dal dalla della delle gli nel nella non per più quando questa questo sono
        sopra sotto sua tra
        """,
    )
)
"""From memory: articles, prepositions, pronouns and auxiliaries of five languages, and an editor's praise.

Those that name a thing in another of them ("man", "hat", "son") are left out.
"""
