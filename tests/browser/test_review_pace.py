"""How soon the page is ready for a long episode, and whether overlays keep to their frame."""

from fractions import Fraction

import pytest

from tests import review_scene
from tests.browser.conftest import Running, enter, until
from tests.conftest import write_video

pytestmark = pytest.mark.browser
MINUTES = 15

READ_NUMBER = """() => {
  const video = document.getElementById('video');
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
  const pen = canvas.getContext('2d');
  pen.drawImage(video, 0, 0);
  let number = 0;
  for (let bit = 0; bit < BITS; bit += 1) {
    const x = (bit + 0.5) * canvas.width / BITS;
    if (pen.getImageData(x, canvas.height - 12, 1, 1).data[0] > 128) number += 2 ** bit;
  }
  return [number, Number(document.getElementById('overlay').dataset.frame)];
}""".replace("BITS", str(review_scene.BITS))


@pytest.fixture(scope="module")
def long_episode(tmp_path_factory):
    """Fifteen minutes: 27,000 playhead rows, some 2,600 words, the clip played 60 times."""
    folder = tmp_path_factory.mktemp("long") / "episode"
    made = tmp_path_factory.mktemp("video")
    frame = review_scene.numbered(1)
    # one picture a second is enough here; the playhead has its 30 rows a second all the same
    write_video(made / "recording.mp4", frame * (MINUTES * 60), rate=Fraction(1))
    talk = review_scene.TALK * 52
    return review_scene.build(folder, talk=talk, seconds=MINUTES * 60.0, plays=60,
                              recording=made / "recording.mp4")  # fmt: skip


def test_a_quarter_of_an_hour_is_ready_in_a_second_and_a_half(chromium, context, long_episode):
    desk = Running(long_episode)
    try:
        enter(context, desk.url).close()  # the browser's own warm-up is not the page's
        page = context.new_page()
        page.goto(desk.url.split("?")[0])
        page.wait_for_selector("body[data-ready]")
        ready_ms = page.evaluate("performance.getEntriesByName('ready')[0].startTime")
        rows = page.evaluate("fetch('/talk').then(a => a.json()).then(t => t.words.length)")
        assert rows > 2000
        assert ready_ms < 1500, f"{ready_ms:.0f} ms"
    finally:
        desk.stop()


def test_while_scrubbing_the_overlay_is_of_the_frame_on_screen(page):
    page.click("#views >> text=Clip")
    until(page, "document.getElementById('video').readyState >= 2")
    for frame in (3, 40, 17, 90, 89, 88, 61, 5, 100):
        page.evaluate(f"document.getElementById('video').currentTime = ({frame} + 0.5) / 30")
        until(
            page,
            "!document.getElementById('video').seeking && "
            f"Number(document.getElementById('overlay').dataset.frame) === {frame}",
        )
        assert page.evaluate(READ_NUMBER) == [frame, frame]


def test_while_playing_the_overlay_stays_within_one_frame(page):
    page.click("#views >> text=Clip")
    until(page, "document.getElementById('video').readyState >= 2")
    page.select_option("#speed", "0.5")
    page.keyboard.press("k")
    seen = []
    for _ in range(25):
        page.wait_for_timeout(60)
        seen.append(page.evaluate(READ_NUMBER))
    assert len({number for number, _ in seen}) > 10
    assert max(abs(number - frame) for number, frame in seen) <= 1
