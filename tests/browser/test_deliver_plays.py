"""What was made plays in a real Chromium: with sound, without any, and after a jump."""

import pytest

from tests.unit.test_deliver_render import episode, make

__all__ = ["episode"]

PAGE = "<!doctype html><video id=video muted preload=auto src='{}'></video>"
TOLD = """() => { const v = document.getElementById('video');
  return {now: v.currentTime, long: v.duration, width: v.videoWidth, height: v.videoHeight,
          error: v.error && v.error.message, heard: v.webkitAudioDecodedByteCount,
          seen: v.webkitDecodedFrameCount}; }"""


@pytest.mark.parametrize("sounding", [True, False])
def test_the_episode_plays_and_can_be_jumped_in(chromium, episode, tmp_path, sounding):
    out = tmp_path / "episode.mp4"
    silent = {} if sounding else {"recording": None, "playhead": None}
    plan, _ = make(episode, out, **silent)
    page_file = tmp_path / "page.html"
    page_file.write_text(PAGE.format(out.name))
    page = chromium.new_page()
    try:
        page.goto(page_file.as_uri())
        page.wait_for_function("document.getElementById('video').readyState >= 2")
        page.evaluate("document.getElementById('video').play()")
        page.wait_for_function("document.getElementById('video').currentTime > 0.6")
        told = page.evaluate(TOLD)
        assert told["error"] is None
        assert (told["width"], told["height"]) == (plan.width_px, plan.height_px)
        assert told["long"] == pytest.approx(float(plan.duration_s), abs=0.05)
        assert told["seen"] > 5
        assert (told["heard"] > 0) is sounding
        page.evaluate("document.getElementById('video').currentTime = 2.0")
        page.wait_for_function("!document.getElementById('video').seeking")
        assert page.evaluate(TOLD)["now"] >= 2.0
    finally:
        page.close()
