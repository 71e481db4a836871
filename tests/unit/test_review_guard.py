"""Who is refused: no token, wrong Host, another origin, outside paths, over-large bodies.

The rules are those of the OWASP cheat sheets on CSRF prevention (origin check, SameSite cookie) and
of RFC 9110 section 7.4 (421 for a Host that is not ours); status codes by RFC 9110.
"""

import httpx2
import pytest

from studio.review.desk import Desk
from studio.review.guard import MAX_BODY
from studio.review.server import build
from tests import review_scene

PORT = 4173
HOME = f"http://127.0.0.1:{PORT}"


@pytest.fixture(scope="module")
def episode(tmp_path_factory):
    folder = review_scene.build(tmp_path_factory.mktemp("desk") / "episode")
    (folder / "out").mkdir()
    (folder / "out" / "post.txt").write_text("Row well.")
    (folder / "secret.txt").write_text("not for the page")
    (folder / "out" / "link.txt").symlink_to(folder / "secret.txt")
    return folder


@pytest.fixture
def guard(episode):
    return build(Desk(episode), PORT)[0]


@pytest.fixture
def anyio_backend():
    return "asyncio"


class Browser:
    """A client that keeps cookies, as a page at `origin` would."""

    def __init__(self, guard, origin=HOME):
        transport = httpx2.ASGITransport(app=guard)
        self.client = httpx2.AsyncClient(transport=transport, base_url=HOME)
        self.origin = origin

    async def enter(self, token):
        return await self.client.get("/", params={"token": token})

    async def get(self, path, **headers):
        return await self.client.get(path, headers=headers)

    async def post(self, path, value, **headers):
        return await self.client.post(path, json=value, headers={"origin": self.origin} | headers)


@pytest.fixture
async def inside(guard):
    browser = Browser(guard)
    answer = await browser.enter(guard.token)
    assert answer.status_code == 303
    return browser


pytestmark = pytest.mark.anyio


async def test_without_a_token_nothing_is_shown(guard):
    browser = Browser(guard)
    for path in ("/", "/state", "/talk", "/media/clip", "/static/main.js", "/out/post.txt"):
        assert (await browser.get(path)).status_code == 403
    assert (await browser.enter("guess")).status_code == 403


async def test_the_token_opens_once_and_the_cookie_is_out_of_reach_of_scripts(guard):
    token = guard.token
    answer = await Browser(guard).enter(token)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert answer.headers["location"] == "/"
    assert (await Browser(guard).enter(token)).status_code == 403


async def test_with_the_cookie_the_page_comes_with_a_policy_that_lets_nothing_out(inside):
    answer = await inside.get("/")
    assert answer.status_code == 200
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "http" not in policy
    assert "unsafe" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1:80", ""])
async def test_another_host_name_is_refused(inside, host):
    assert (await inside.get("/state", host=host)).status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:80"])
async def test_another_origin_can_neither_write_nor_read(inside, origin):
    edit = {"revision": "x", "op": "undo"}
    assert (await inside.post("/edit", edit, origin=origin)).status_code == 403
    assert (await inside.get("/state", origin=origin)).status_code == 403


async def test_a_write_without_an_origin_is_refused(inside):
    answer = await inside.client.post("/make", json={"do": "start"})
    assert answer.status_code == 403


async def test_a_request_that_the_browser_calls_cross_site_is_refused(inside):
    answer = await inside.get("/media/clip", **{"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "path",
    ["/out/../secret.txt", "/out/%2e%2e/secret.txt", "/out/..%2fsecret.txt", "/out//etc/passwd",
     "/out/link.txt", "/out/%00", "/out/", "/static/../server.py", "/static/%2e%2e/server.py",
     "/media/captions", "/media/..%2fsecret.txt"],
)  # fmt: skip
async def test_a_path_outside_the_episode_is_not_there(inside, path):
    answer = await inside.get(path)
    assert answer.status_code in (403, 404)
    assert "not for the page" not in answer.text


async def test_a_deliverable_is_served_and_cannot_run_scripts(inside):
    answer = await inside.get("/out/post.txt")
    assert answer.text == "Row well."
    assert "sandbox" in answer.headers["content-security-policy"]
    assert "script-src" not in answer.headers["content-security-policy"]


async def test_an_over_large_body_is_refused_announced_or_not(inside):
    text = "x" * (MAX_BODY + 1)
    assert (await inside.post("/edit", {"op": text})).status_code == 413

    async def pieces():
        for _ in range(2 + MAX_BODY // 4096):
            yield b"x" * 4096

    headers = {"origin": HOME, "content-type": "application/json"}
    answer = await inside.client.post("/edit", content=pieces(), headers=headers)
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "sent",
    [b"", b"[", b"[]", b"7", b'{"op": "undo"}', b'{"revision": 1, "op": "undo"}',
     b'{"revision": "x", "op": "undo", "args": []}', b"\xff\xfe"],
)  # fmt: skip
async def test_nonsense_is_a_plain_refusal(inside, sent):
    answer = await inside.client.post("/edit", content=sent, headers={"origin": HOME})
    assert answer.status_code == 400


async def test_video_comes_by_byte_ranges(inside):
    """RFC 9110 section 14: 206 with Content-Range, and 416 past the end."""
    whole = (await inside.get("/media/clip")).content
    part = await inside.get("/media/clip", range="bytes=10-19")
    assert part.status_code == 206
    assert part.content == whole[10:20]
    assert part.headers["content-range"] == f"bytes 10-19/{len(whole)}"
    assert (await inside.get("/media/clip", range=f"bytes={len(whole)}-")).status_code == 416


async def test_two_tabs_never_overwrite_each_other_unseen(inside):
    revision = (await inside.get("/state")).json()["revision"]
    first = {
        "revision": revision,
        "op": "judge_finding",
        "args": {"code": "a", "verdict": "reject"},
    }
    answer = await inside.post("/edit", first)
    assert answer.status_code == 200
    late = first | {"args": {"code": "a", "verdict": "accept"}}
    answer = await inside.post("/edit", late)
    assert answer.status_code == 409
    assert answer.json()["state"]["revision"] != revision
    undo = {"revision": answer.json()["state"]["revision"], "op": "undo"}
    assert (await inside.post("/edit", undo)).status_code == 200


async def test_an_edit_that_makes_no_sense_says_why(inside):
    revision = (await inside.get("/state")).json()["revision"]
    args = {"name": "athlete.height_cm", "value": 7}
    answer = await inside.post("/edit", {"revision": revision, "op": "setting", "args": args})
    assert answer.status_code == 422
    assert "height_cm must be" in answer.json()["error"]
