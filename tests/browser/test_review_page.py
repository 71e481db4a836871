"""The desk as a coach uses it, in a real Chromium."""

import re
import signal
from urllib.parse import urlsplit

import pytest

from studio.store import write_text
from tests.browser.conftest import enter, until

pytestmark = pytest.mark.browser


def saved(page):
    """Wait until the last edit is on disk."""
    until(page, "document.getElementById('saved').textContent === 'Saved'")


def rate(page):
    page.click("#tab-technique")
    return page.inner_text("[data-measure=rate] td >> nth=0")


def to_clip(page):
    page.click("#views >> text=Clip")
    until(page, "document.getElementById('video').readyState >= 2")


def drag(page, locator, dx, dy=0):
    box = locator.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.mouse.up()


def test_nothing_is_asked_of_any_other_host(page, running):
    host = urlsplit(running.url).netloc
    page.click("#tab-finish")
    page.wait_for_timeout(300)
    assert page.requested
    assert {urlsplit(u).netloc for u in page.requested if not u.startswith("data:")} == {host}
    assert "token" not in page.url


def test_play_and_pause_from_the_keyboard(page):
    to_clip(page)
    page.keyboard.press("k")
    until(page, "document.getElementById('video').currentTime > 0.4")
    page.keyboard.press("k")
    assert page.evaluate("document.getElementById('video').paused")
    page.wait_for_timeout(300)  # a frame may still be on its way to the screen
    before = page.evaluate("Number(document.getElementById('overlay').dataset.frame)")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")  # at once: the first must not be lost
    until(page, f"Number(document.getElementById('overlay').dataset.frame) === {before + 2}")
    page.keyboard.press("-")
    assert page.evaluate("document.getElementById('video').playbackRate") == 0.5


def test_keys_go_to_the_next_catch_and_finish(page, running):
    to_clip(page)
    page.keyboard.press("f")
    page.keyboard.press("c")
    page.click("#tab-technique")
    second = page.inner_text("[data-item='stroke:1'] td >> nth=0")
    shown = page.inner_text("#time")
    seconds = [float(t.split(":")[0]) * 60 + float(t.split(":")[1]) for t in (second, shown)]
    assert seconds[0] == pytest.approx(seconds[1], abs=1 / 30 + 0.01)  # its frame


def test_dragging_a_catch_changes_the_measures_and_is_on_disk(page, running):
    to_clip(page)
    before = rate(page)
    drag(page, page.locator("[data-key='catch:1']"), 40)
    saved(page)
    assert rate(page) != before
    assert "[[events]]" in running.corrections()
    page.click("#undo")
    saved(page)
    assert rate(page) == before
    assert "[[events]]" not in running.corrections()
    page.click("#redo")
    saved(page)
    assert "[[events]]" in running.corrections()


def test_a_finish_moves_by_the_arrow_keys_a_frame_at_a_time(page, running):
    to_clip(page)
    page.focus("[data-key='finish:1']")
    page.keyboard.press("ArrowRight")
    saved(page)
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(100)
    saved(page)
    (start,), (end,) = (re.findall(rf"{name}_s = ([\d.]+)", running.corrections())
                        for name in ("from", "to"))  # fmt: skip
    assert float(end) - float(start) == pytest.approx(2 / 30, abs=3e-3)
    assert page.evaluate("document.activeElement.dataset.key") == "finish:1"


def test_dragging_a_joint_on_a_held_frame_changes_its_angle(page, running):
    to_clip(page)
    page.keyboard.press("f")
    page.check("#movejoints")
    page.click("#tab-technique")
    before = page.inner_text("[data-measure=layback]")
    drag(page, page.locator("[data-joint=shoulder]"), 60)
    saved(page)
    assert 'joint = "shoulder"' in running.corrections()
    assert page.inner_text("[data-measure=layback]") != before


def test_a_stroke_marked_as_none_and_put_back(page, running):
    page.click("#tab-technique")
    count = page.locator("[data-item^='stroke:']").count()
    page.click("[data-key='wrong:1']")
    saved(page)
    assert page.locator("[data-item^='stroke:']").count() == count - 1
    page.click("text=Put it back")
    saved(page)
    assert page.locator("[data-item^='stroke:']").count() == count


def strike_out_and_stand_there(page):
    """Strike out the second stroke, then stand where its catch was."""
    to_clip(page)
    page.click("#tab-technique")
    page.click("[data-key='wrong:1']")
    saved(page)
    struck = float(re.search(r"0:0(\d\.\d+)", page.inner_text(".struck")).group(1))
    box = page.locator("#lanearea").bounding_box()
    length = page.evaluate("document.getElementById('video').duration")
    page.mouse.click(box["x"] + box["width"] * struck / length, box["y"] + 8)
    return struck


@pytest.mark.parametrize("way", ["mouse", "keys"])
def test_a_stroke_that_was_missed_is_added(page, running, way):
    at_s = strike_out_and_stand_there(page)
    count = page.locator("[data-item^='stroke:']").count()
    assert "catch at the plumb line" in page.get_attribute("#addstroke", "aria-label")
    if way == "mouse":
        page.click("#addstroke")
    else:
        page.keyboard.press("a")
    until(page, f"document.querySelectorAll(\"[data-item^='stroke:']\").length === {count + 1}")
    saved(page)
    found = re.search(r"\[\[added_strokes\]\]\ncatch_s = ([\d.]+)\nfinish_s = ([\d.]+)",
                      running.corrections())  # fmt: skip
    assert float(found[1]) == pytest.approx(at_s, abs=1 / 30 + 0.01)  # its frame
    until(page, "document.activeElement.dataset.key === 'finish:2'")
    page.keyboard.press("ArrowRight")
    saved(page)
    (finish,) = re.findall(r"finish_s = ([\d.]+)", running.corrections())
    assert float(finish) - float(found[2]) == pytest.approx(1 / 30, abs=3e-3)
    page.keyboard.press("Shift+C")  # to its catch
    page.focus("#addstroke")
    page.keyboard.press("Enter")  # one is under way here now
    page.wait_for_selector("#toast >> text=A stroke is under way here")
    page.click("[data-key='wrong:1']")
    saved(page)
    assert "added_strokes" not in running.corrections()


def test_a_caption_is_edited_split_and_merged(page, running):
    page.click("#tab-captions")
    page.click(".cueline >> nth=0")
    page.fill("[data-key=cue-text]", "Welcome, rowers, to Stroke Surgery.")
    until(page, "document.getElementById('saved').textContent === 'Saved'")
    assert 'text = "Welcome, rowers, to Stroke Surgery."' in running.corrections()
    page.fill("[data-key=cue-end_s]", "0:02.90")
    page.keyboard.press("Tab")
    saved(page)
    assert "end_s = 2.9" in running.corrections()
    page.click("text=As heard")
    saved(page)
    page.click("[data-key=cue-join]")
    page.wait_for_selector("text=Undo merge")
    assert "join_next = true" in running.corrections()
    whole = page.input_value("[data-key=cue-text]")
    page.fill("[data-key=cue-text]", f"{whole} Truly.")
    page.keyboard.press("Tab")
    saved(page)
    assert f'text = "{whole} Truly."' in running.corrections()
    page.click("text=As heard")
    saved(page)
    assert "[[captions]]" not in running.corrections()


def test_splits_and_merges_follow_one_another(page, running):
    page.click("#tab-captions")
    first, second, third = page.locator(".cueline .text").all_inner_texts()[:3]
    page.click(".cueline >> nth=0")
    area = page.locator("[data-key=cue-text]")
    words = first.split()

    def cut_before(word):  # with the mouse
        area.evaluate("(a, w) => { const at = a.value.indexOf(w); a.setSelectionRange(at, at); }",
                      word)  # fmt: skip
        page.click("[data-key=cue-split]")
        until(page, f"document.querySelector('[data-key=cue-text]').value.includes('\\n{word}')")
        saved(page)

    cut_before(words[1])
    cut_before(words[3])
    page.click("[data-key=cue-join]")
    page.wait_for_selector("[data-key=cue-close]")
    until(page, f"document.querySelector('[data-key=cue-text]').value.endsWith('{second[-6:]}')")
    area.evaluate("(a, n) => { a.focus(); a.setSelectionRange(n, n); }", len(first))
    page.keyboard.press("Enter")  # with the keys
    page.wait_for_timeout(600)
    saved(page)
    page.click("[data-key=cue-join]")
    until(page, f"document.querySelector('[data-key=cue-text]').value.endsWith('{third[-6:]}')")
    wanted = [words[0], " ".join(words[1:3]), " ".join(words[3:]), f"{second} {third}"]
    assert area.input_value().split("\n") == wanted
    saved(page)
    on_screen = page.evaluate("fetch('/state').then(a => a.json()).then(s => s.cues)")
    texts = [text.replace("\n", " ") for *_, text in on_screen]
    assert texts[:3] == wanted[:3]
    assert " ".join(texts).startswith(" ".join(wanted))
    assert f'text = """{words[0]}\n' in running.corrections()
    page.click("text=Undo splits")
    saved(page)
    assert area.input_value() == " ".join(wanted)
    page.click("text=As heard")
    saved(page)
    assert page.locator(".cueline .text").first.inner_text() == second


def test_a_correction_whose_caption_is_gone_is_listed_and_taken_out(page, running):
    lost = '[[captions]]\nrecording_s = 90.0\ntext = "Nobody says this."\n'
    write_text(running.folder / "corrections.toml", lost)
    page.reload()
    page.wait_for_selector("body[data-ready]")
    page.click(".lookat >> text=Nobody says this")
    page.click("text=Take the correction out")
    saved(page)
    assert "Nobody" not in running.corrections()
    page.click("#tab-look")
    assert page.locator(".lookat >> text=Nobody says this").count() == 0


def test_a_chapter_is_renamed_added_and_removed(page, running):
    page.click("#tab-chapters")
    page.fill("[data-key='title:0']", "Hello from the club")
    page.keyboard.press("Tab")
    saved(page)
    assert 'title = "Hello from the club"' in running.corrections()
    page.click("#views >> text=Recording")
    page.evaluate("document.getElementById('lanearea').scrollIntoView()")
    box = page.locator("#lanecanvas").bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.2, box["y"] + 8)
    count = page.locator("[data-item^='chapter:']").count()
    page.click("[data-key=addchapter]")
    saved(page)
    assert page.locator("[data-item^='chapter:']").count() == count + 1
    page.click("[aria-label='Remove chapter 2']")
    until(page, f"document.querySelectorAll(\"[data-item^='chapter:']\").length === {count}")


def test_a_finding_and_a_point_are_rejected(page, running):
    page.click("#tab-technique")
    page.locator(".card >> text=Reject").first.click()
    saved(page)
    assert 'verdict = "reject"' in running.corrections()
    assert page.locator(".card.rejected").count() == 1
    page.click("#tab-points")
    page.locator(".card >> text=Reject").first.click()
    saved(page)
    assert "[[points]]" in running.corrections()


def test_settings_go_to_the_episode_file(page, running):
    page.click("#tab-athlete")
    page.fill("[data-key='athlete.alias']", "Mira B")
    page.fill("[data-key='athlete.height_cm']", "178")
    page.keyboard.press("Tab")
    saved(page)
    page.check("[data-key='athlete.consent:no']")
    saved(page)
    text = (running.folder / "episode.toml").read_text()
    assert "# invented" in text
    for line in ('alias = "Mira B"', "height_cm = 178.0", 'consent = "no"'):
        assert line in text


def test_what_deserves_a_look_is_a_click_away(page):
    page.click(".lookat >> text=Hard to hear")
    page.wait_for_selector("[data-key=cue-text]")
    assert "kech" in page.input_value("[data-key=cue-text]")
    assert page.get_attribute("#tab-captions", "aria-selected") == "true"
    assert page.evaluate("document.scrollingElement.scrollTop") == 0
    assert page.evaluate("document.scrollingElement.scrollHeight <= innerHeight")


def test_reload_and_kill_in_the_middle_and_all_is_kept(page, context, running):
    page.click("#tab-captions")
    page.click(".cueline >> nth=0")
    page.fill("[data-key=cue-text]", "Kept through everything.")
    page.reload()  # at once: what was being typed is sent on leaving
    page.wait_for_selector("body[data-ready]")
    page.click("#tab-captions")
    page.wait_for_selector("text=Kept through everything.")
    page.click("#tab-chapters")
    page.fill("[data-key='title:0']", "Kept too")
    saved_or_saving = "document.getElementById('saved').textContent !== ''"
    until(page, saved_or_saving)
    saved(page)
    assert running.stop(signal.SIGKILL) == -signal.SIGKILL
    page.fill("[data-key='title:0']", "Lost, and said so")
    page.wait_for_selector("#toast:not([hidden])")
    assert "does not answer" in page.inner_text("#toast")
    page.troubles.clear()
    running.start()
    again = enter(context, running.url)
    again.click("#tab-chapters")
    assert again.input_value("[data-key='title:0']") == "Kept too"
    assert again.is_enabled("#undo")
    again.click("#undo")
    saved(again)
    again.click("#undo")
    saved(again)
    assert "Kept" not in running.corrections()
    page.troubles.clear()


def test_a_second_tab_follows_and_never_overwrites(page, context, running):
    other = enter(context, running.url.split("?")[0])
    page.click("#tab-technique")
    page.locator(".card >> text=Accept").first.click()
    saved(page)
    other.click("#tab-technique")
    other.wait_for_selector(".card [aria-pressed=true]")
    path = running.folder / "corrections.toml"
    write_text(path, path.read_text() + "# by hand\n")
    other.locator(".card >> text=Reject").first.click()
    other.wait_for_selector("#toast:not([hidden])")
    assert "# by hand" in running.corrections()
    assert "reject" not in running.corrections() or "# by hand" in running.corrections()
    other.troubles.clear()


def test_make_with_progress_and_download(page, running):
    page.click("#make >> text=Make episode")
    page.wait_for_selector("#make progress")
    page.wait_for_selector("#make >> text=The episode is up to date", timeout=120_000)
    page.click("#tab-finish")
    page.wait_for_selector("text=episode.mp4")
    with page.expect_download() as download:
        page.click("[aria-label='Download captions.srt']")
    assert "Stroke Surgery" in download.value.path().read_text()
    page.click("[aria-label='Copy chapters.txt']")
    page.wait_for_selector("text=Copied")
    assert page.evaluate("navigator.clipboard.readText()").startswith("0:00 ")
    page.click("#views >> text=Episode")
    until(page, "document.getElementById('video').readyState >= 2")


def test_a_make_can_be_cancelled(page, running):
    page.click("#make >> text=Make episode")
    page.click("#make >> text=Cancel")
    page.wait_for_selector("#make >> text=Stopped")
    assert not list(running.folder.rglob(".aside-*"))


@pytest.mark.parametrize("width", [1280, 768])
def test_axe_finds_nothing_serious(page, width):
    """axe-core (Deque), the rules of WCAG 2.2 A and AA."""
    from axe_playwright_python.sync_playwright import Axe

    page.set_viewport_size({"width": width, "height": 900})
    for tab in ("look", "technique", "captions", "chapters", "points", "athlete", "finish"):
        page.click(f"#tab-{tab}")
        if tab == "captions":
            page.click(".cueline >> nth=0")
        found = Axe().run(page).response["violations"]
        bad = [(v["id"], [n["html"][:90] for n in v["nodes"][:3]]) for v in found
               if v["impact"] in ("serious", "critical")]  # fmt: skip
        assert bad == [], tab


def test_everything_is_reached_by_the_tab_key(page):
    to_clip(page)
    page.evaluate("document.body.focus()")
    reached = set()
    for _ in range(90):
        page.keyboard.press("Tab")
        reached.add(page.evaluate(
            "document.activeElement.id || document.activeElement.dataset.key || ''"))  # fmt: skip
    for wanted in ("play", "speed", "catch:1", "finish:1", "make", "tab-look", "panel"):
        assert wanted in reached
