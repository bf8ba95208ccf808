"""Write the made parts of the pages anew: ``python -m tests.docs.renew``. Look at what has changed."""

from __future__ import annotations

from tests.docs import pages


def main() -> None:
    found = pages.survey_of_film()
    for page, name, content in (
        (pages.COMMANDS, "help", pages.help_texts()),
        (pages.RECIPE, "keys", pages.recipe_table()),
        (pages.SALTREED, "figures", pages.film_figures(found)),
        (pages.SALTREED, "edits", pages.film_edits(found)),
    ):
        page.write_text(pages.renewed(page, name, content), encoding="utf-8")


if __name__ == "__main__":
    main()
