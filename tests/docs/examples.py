"""The worked examples of DEVELOPERS.md, run as they stand there."""

import re
from pathlib import Path

PAGE = Path(__file__).parents[2] / "DEVELOPERS.md"
_BLOCK = re.compile(r"^```python (\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def sources() -> dict[str, str]:
    """Every named block of the page."""
    return dict(_BLOCK.findall(PAGE.read_text(encoding="utf-8")))


def example(name: str) -> dict:
    """What the block of that name defines."""
    names = {"__name__": f"developers_{name}"}
    exec(compile(sources()[name], PAGE.name, "exec", dont_inherit=True), names)
    return names
