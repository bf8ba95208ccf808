"""The page of a plan, written as its options say."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from mltassist.cli.options import Common
from mltassist.cli.saying import say

if TYPE_CHECKING:
    from mltassist.choices.kinds import Choices
    from mltassist.plans import Plan
    from mltassist.project import Project
    from mltassist.recipe.rules import Recipe


def say_page(common: Common) -> None:
    """Tell where the page is, below all else, unless only data is wanted."""
    if common["page"] is not None and not common["as_json"]:
        say(f"page: {common['page']}")


def write_page(
    plan: Plan,
    project: Project,
    recipe: Recipe,
    choices: Choices | None,
    common: Common,
    told: Callable[[str, float], None] | None,
    *,
    no_words: bool = False,
) -> None:
    """Write the page of a plan where one is asked for."""
    target = common["page"]
    if target is None:
        return
    from mltassist.document.save import save_text
    from mltassist.page.gather import gather
    from mltassist.page.sheet import whole_page

    gathered = gather(
        project,
        plan,
        recipe=recipe,
        choices=choices,
        no_words=no_words,
        for_comments=common["for_comments"],
        on_progress=told,
    )

    def on_part(part: float) -> None:
        if told is not None:
            told("making stills and sounds", part)

    save_text(whole_page(gathered, on_part), target, original=project.path, force=common["force"])
