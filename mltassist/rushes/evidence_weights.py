"""The weights of the evidence."""
from __future__ import annotations
from mltassist.timeline.elements import Element
PICTURED = {}
SOUND_ALONE = {}
