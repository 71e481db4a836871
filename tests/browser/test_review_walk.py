"""A coach finds and mends three planted mistakes from the page alone, led by its list."""

import json
import re

import pytest

from studio.store import write_text
from tests.browser.conftest import enter, until

pytestmark = pytest.mark.browser
PLANTED = """\
[[chapters]]
action = "rename"
recording_s = {start}
title = "Zebra crossing"
"""


@pytest.fixture
def planted(running):
    """A catch 0.3 s late, a misheard term (in the scene's talk), and a title out of nowhere."""
    work = running.folder / "work"
    technique = json.loads((work / "technique.json").read_text())
    catch_s = technique["strokes"][1]["catch_s"]
    late = f'[[events]]\nevent = "catch"\nfrom_s = {catch_s}\nto_s = {catch_s + 0.3}\n\n'
    write_text(running.folder / "corrections.toml", late + PLANTED.format(start=0.0))
    return running, catch_s


class Hand:
    """The coach's hand: counts what it does."""

    def __init__(self, page) -> None:
        self.page = page
        self.clicks = 0

    def click(self, selector, count=1):
        self.clicks += 1
        self.page.click(selector, click_count=count)

    def drag(self, selector, dx):
        self.clicks += 1
        box = self.page.locator(selector).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + 10
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.mouse.move(x + dx, y, steps=4)
        self.page.mouse.up()

    def saved(self):
        until(self.page, "document.getElementById('saved').textContent === 'Saved'")

    def listed(self, text):
        return self.page.locator(f".lookat >> text={text}").count()


def mend_catch(hand, running, catch_s):
    page = hand.page
    hand.click(".lookat >> text=still moving at this catch")
    page.wait_for_selector("[data-key='catch:2']")
    until(page, "document.getElementById('video').readyState >= 2")
    width = page.locator("#lanearea").bounding_box()["width"]
    per_s = width / page.evaluate("document.getElementById('video').duration")
    hand.drag("[data-key='catch:2']", -0.3 * per_s)
    hand.saved()
    (to_s,) = re.findall(r"^to_s = ([\d.]+)", running.corrections(), re.M) or [str(catch_s)]
    assert float(to_s) == pytest.approx(catch_s, abs=0.04)


def mend_word(hand, running):
    page = hand.page
    hand.click(".lookat >> text=Hard to hear")
    page.wait_for_selector("[data-key=cue-text]")
    text = page.input_value("[data-key=cue-text]")
    hand.clicks += 1  # a double click on the word
    page.fill("[data-key=cue-text]", text.replace("kech", "catch"))
    page.keyboard.press("Tab")
    hand.saved()
    assert "catch is long" in running.corrections()


def mend_title(hand, running):
    hand.click(".lookat >> text=Zebra crossing")
    hand.click("[data-key='title:0']", 3)
    hand.page.keyboard.type("The catch")
    hand.page.keyboard.press("Tab")
    hand.saved()
    assert "Zebra" not in running.corrections()


def test_three_mistakes_are_found_and_mended_in_a_few_clicks(context, planted):
    running, catch_s = planted
    page = enter(context, running.url)
    hand = Hand(page)
    mend_catch(hand, running, catch_s)
    hand.click("#tab-look")
    mend_word(hand, running)
    hand.click("#tab-look")
    mend_title(hand, running)
    hand.click("#tab-look")
    for text in ("still moving", "Hard to hear", "Zebra"):
        assert hand.listed(text) == 0
    assert hand.clicks <= 10
    assert page.troubles == []
