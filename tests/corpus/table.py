"""`python -m tests.corpus.table`: the tables of docs/solid.md, written into the page."""

from __future__ import annotations

import re
from pathlib import Path

from tests.corpus.media import CASES
from tests.corpus.texts import CAPTIONS, SETTINGS

PAGE = Path(__file__).parents[2] / "docs" / "solid.md"
BEGIN, END = "<!-- table {} -->\n", "<!-- end -->"
WORD = {"works": "works", "told": "works, with a notice", "refused": "refused, exit code {}"}


def row(name: str, outcome: str, says: str, code: int) -> str:
    """One row; `says` is a regular expression, shown without its signs."""
    plain = re.sub(r"\\(.)|[\^$]", r"\1", says.split("|")[0]) if outcome != "works" else ""
    said = f"“{plain}”" if plain else ""
    return f"| {name} | {WORD[outcome].format(code)} | {said} |\n"


def tables() -> dict[str, str]:
    """Name -> rows."""
    head = "| what | outcome | said, among other things |\n|---|---|---|\n"
    media = "".join(row(c.name, c.outcome, c.says, 3) for c in CASES)
    settings = "".join(row(t.name, t.outcome, t.says, 7) for t in SETTINGS)
    captions = "".join(row(t.name, t.outcome, t.says, 3) for t in CAPTIONS)
    return {"media": head + media, "settings": head + settings, "captions": head + captions}


def filled(page: str) -> str:
    """The page with its tables as they should be."""
    for name, text in tables().items():
        begin = BEGIN.format(name)
        before, _, rest = page.partition(begin)
        page = before + begin + text + END + rest.partition(END)[2]
    return page


if __name__ == "__main__":
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
