"""Pages name what exists, and all of what they list."""

import re
from pathlib import Path

import pytest

from studio import errors
from studio.stages import STAGES

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), ROOT / "sample_project/README.md"])


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8")):
        assert target.startswith("https://") or (page.parent / target).exists(), target


def test_every_page_is_in_the_index():
    listed = set(re.findall(r"\]\(([\w-]+\.md)\)", (ROOT / "docs/README.md").read_text("utf-8")))
    assert listed == {p.name for p in ROOT.glob("docs/*.md")} - {"README.md"}
    decisions = (ROOT / "docs/decisions/README.md").read_text("utf-8")
    for page in ROOT.glob("docs/decisions/[0-9]*.md"):
        assert f"]({page.name})" in decisions
        parts = re.findall(r"^\*\*(\w+)\.\*\*", page.read_text("utf-8"), re.MULTILINE)
        assert parts == ["Context", "Decision", "Consequences"]


def test_the_data_model_lists_every_result_and_exit_code():
    text = (ROOT / "docs/data-model.md").read_text("utf-8")
    for stage in STAGES:
        if stage.kind:
            row = next(line for line in text.splitlines()
                       if line.startswith("|") and f"`{stage.name}`" in line)  # fmt: skip
            assert f"`{stage.kind.partition(':')[2]}`" in row
    kinds = [k for k in vars(errors).values() if isinstance(k, type)]
    assert len(kinds) > 5
    for kind in kinds:
        assert re.search(rf"\b{kind.exit_code} [a-z]", text), kind
