"""A make from the page: told step by step, stopped when asked, never more than one."""

import asyncio
import json

import pytest

from studio.review.maker import Hub, Maker
from studio.review.worker import Lines


@pytest.fixture
def anyio_backend():
    return "asyncio"


async def ended(maker, seconds=60):
    for _ in range(seconds * 20):
        if not maker.busy:
            return
        await asyncio.sleep(0.05)
    raise AssertionError("the make did not end")


@pytest.mark.anyio
async def test_what_goes_wrong_is_told_in_the_make_s_own_words(tmp_path):
    done = []
    maker = Maker(tmp_path, Hub(), lambda: done.append(1))
    assert maker.start()
    assert not maker.start()  # one is at work already
    await ended(maker)
    assert maker.status["state"] == "failed"
    assert "not an episode folder" in maker.status["error"]
    assert done == [1]


@pytest.mark.anyio
@pytest.mark.parametrize("after_s", [0, 0.002, 0.01, 0.05])
async def test_a_cancelled_make_is_stopped_not_failed(tmp_path, after_s):
    (tmp_path / "episode.toml").write_text('[sources]\nclip = "clip.mp4"\n')
    maker = Maker(tmp_path, Hub(), lambda: None)
    maker.start()
    await asyncio.sleep(after_s)
    maker.cancel()
    await ended(maker)
    assert maker.status["state"] == "stopped"


@pytest.mark.anyio
async def test_every_page_hears_every_event_in_the_form_of_the_standard():
    """Server-sent events (WHATWG HTML, section 9.2): `data:` lines, a blank line ends each."""
    hub = Hub()
    pages = [hub.listen({"kind": "make"}) for _ in range(2)]
    assert [await anext(page) for page in pages] == ['data: {"kind": "make"}\n\n'] * 2
    hub.send({"kind": "remade"})
    assert [await anext(page) for page in pages] == ['data: {"kind": "remade"}\n\n'] * 2
    hub.close()
    for page in pages:
        with pytest.raises(StopAsyncIteration):
            await anext(page)


def test_progress_is_one_json_line_a_step(capsys):
    lines = Lines()
    lines.start("Reading", 4, "frames")
    lines.advance(2)  # too soon after the first to be told
    lines.note("There is no sound.")
    lines.start("Thinking", None, "")
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert told == [{"label": "Reading", "share": 0.0}, {"note": "There is no sound."},
                    {"label": "Thinking", "share": None}]  # fmt: skip
