"""Rough cover passes for documentaries cut in editors whose projects are MLT XML.

    import mltassist

    project = mltassist.open("film.kdenlive")
    plan = mltassist.rough(project)
    for edit in plan.edits:
        print(edit.reason)
    plan.apply(project).save("film-rough.kdenlive")

The functions are those of the command line: survey, words, listen, cover, duck, pause, rough, review,
apply, adopt, clear, remarks, batch, check, demo.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mltassist.api import Hearing as Hearing
    from mltassist.api import Survey as Survey
    from mltassist.api import adopt as adopt
    from mltassist.api import apply as apply
    from mltassist.api import clear as clear
    from mltassist.api import cover as cover
    from mltassist.api import duck as duck
    from mltassist.api import listen as listen
    from mltassist.api import measure as measure
    from mltassist.api import pause as pause
    from mltassist.api import remarks as remarks
    from mltassist.api import rough as rough
    from mltassist.api import survey as survey
    from mltassist.batches import batch as batch
    from mltassist.checking import check as check
    from mltassist.choices.kinds import Choices as Choices
    from mltassist.choices.reading import load_choices as load_choices
    from mltassist.conforming.judge import Conformity as Conformity
    from mltassist.conforming.judge import conform as conform
    from mltassist.cutaways.wordlist import Words as Words
    from mltassist.cutaways.wordlist import words as words
    from mltassist.demofilm.make import demo as demo
    from mltassist.errors import MltAssistError as MltAssistError
    from mltassist.page.review import review as review
    from mltassist.plans import Plan as Plan
    from mltassist.project import Project as Project
    from mltassist.project import open_project

    open = open_project
    from mltassist.recipe.rules import Recipe as Recipe
    from mltassist.recipe.rules import load_recipe as load_recipe
    from mltassist.recipe.shipped.listing import recipes as recipes
    from mltassist.season.checks import check_all as check_all

_HOMES = {
    "Choices": "mltassist.choices.kinds",
    "Conformity": "mltassist.conforming.judge",
    "Hearing": "mltassist.api",
    "MltAssistError": "mltassist.errors",
    "Plan": "mltassist.plans",
    "Project": "mltassist.project",
    "Recipe": "mltassist.recipe.rules",
    "Survey": "mltassist.api",
    "Words": "mltassist.cutaways.wordlist",
    "adopt": "mltassist.api",
    "apply": "mltassist.api",
    "batch": "mltassist.batches",
    "check": "mltassist.checking",
    "check_all": "mltassist.season.checks",
    "conform": "mltassist.conforming.judge",
    "clear": "mltassist.api",
    "cover": "mltassist.api",
    "demo": "mltassist.demofilm.make",
    "duck": "mltassist.api",
    "listen": "mltassist.api",
    "load_choices": "mltassist.choices.reading",
    "load_recipe": "mltassist.recipe.rules",
    "measure": "mltassist.api",
    "open": "mltassist.project:open_project",
    "pause": "mltassist.api",
    "review": "mltassist.page.review",
    "remarks": "mltassist.api",
    "recipes": "mltassist.recipe.shipped.listing",
    "rough": "mltassist.api",
    "survey": "mltassist.api",
    "words": "mltassist.cutaways.wordlist",
}
__all__ = [
    "Choices",
    "Conformity",
    "Hearing",
    "MltAssistError",
    "Plan",
    "Project",
    "Recipe",
    "Survey",
    "Words",
    "adopt",
    "apply",
    "batch",
    "check",
    "check_all",
    "clear",
    "conform",
    "cover",
    "demo",
    "duck",
    "listen",
    "load_choices",
    "load_recipe",
    "measure",
    "open",
    "pause",
    "recipes",
    "remarks",
    "review",
    "rough",
    "survey",
    "words",
]
__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    """Import a public name when it is first used: starting up costs next to nothing."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, _, own = _HOMES[name].partition(":")
    value: object = getattr(import_module(module), own or name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """What is public."""
    return sorted((*__all__, "__version__"))
