"""The desk on the web: routes and nothing else. Starlette, on 127.0.0.1."""

from __future__ import annotations

import asyncio
import json
import logging
import socket
import webbrowser
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from studio.errors import LaunchsideError, OutputError
from studio.review import page
from studio.review.desk import Desk
from studio.review.guard import Guard
from studio.review.journal import Conflict
from studio.review.maker import Hub, Maker

STATIC = Path(__file__).parent / "static"
WATCH_S = 1.0
"""How soon an edit by hand, in another program, shows on the page."""
logger = logging.getLogger(__name__)


class Desks:
    """The handlers, around one desk."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.hub = Hub()
        self.maker = Maker(desk.folder, self.hub, self._made)
        self._tasks: set[asyncio.Task[None]] = set()

    def _made(self) -> None:
        task = asyncio.create_task(self._reload())
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _reload(self) -> None:
        try:
            await run_in_threadpool(self.desk.reload)
        except LaunchsideError as error:
            logger.warning("%s", error)
        self.hub.send({"kind": "remade"})

    async def watch(self) -> None:
        """Tell the pages when the files change, whoever changed them."""
        seen = ""
        while True:
            revision = await run_in_threadpool(self.desk.journal.revision)
            if seen and revision != seen:
                self.hub.send({"kind": "changed", "revision": revision})
            seen = revision
            await asyncio.sleep(WATCH_S)

    async def home(self, _: Request) -> Response:
        """The page."""
        return FileResponse(STATIC / "index.html")

    async def state(self, _: Request) -> Response:
        """What an edit may change."""
        return _json(await run_in_threadpool(self.desk.state))

    async def talk(self, _: Request) -> Response:
        """What only a make can change."""
        return _json(await run_in_threadpool(lambda: page.talk(self.desk.live)))

    async def body(self, _: Request) -> Response:
        """The body's curves."""
        return _json(await run_in_threadpool(lambda: page.body(self.desk.live.technique)))

    async def edit(self, request: Request) -> Response:
        """One edit: {"revision", "op", "args", "merge"}; answers with the new state."""
        try:
            asked = json.loads(await request.body())
            revision, op, args = asked["revision"], asked["op"], asked.get("args", {})
            merge = asked.get("merge", "")
            if not (
                isinstance(args, dict) and all(isinstance(x, str) for x in (revision, op, merge))
            ):
                raise TypeError
        except (ValueError, KeyError, TypeError):
            return _json({"error": "Not an edit."}, 400)
        try:
            await run_in_threadpool(self.desk.edit, revision, op, args, merge)
        except Conflict as error:
            return _json(
                {"error": str(error), "state": await run_in_threadpool(self.desk.state)}, 409
            )
        except OutputError as error:
            return _json({"error": str(error)}, 507)
        except LaunchsideError as error:
            return _json({"error": str(error)}, 422)
        return _json({"state": await run_in_threadpool(self.desk.state)})

    async def make(self, request: Request) -> Response:
        """{"do": "start"} or {"do": "cancel"}."""
        try:
            do = json.loads(await request.body())["do"]
        except (ValueError, KeyError, TypeError):
            return _json({"error": "Say start or cancel."}, 400)
        if do == "cancel":
            self.maker.cancel()
        elif do != "start" or not self.maker.start():
            return _json({"error": "A make is at work already."}, 409)
        return _json(self.maker.status)

    async def events(self, _: Request) -> Response:
        """Server-sent events: the make's steps, and changes of the files."""
        stream = self.hub.listen(self.maker.status)
        return StreamingResponse(stream, media_type="text/event-stream",
                                 headers={"cache-control": "no-store"})  # fmt: skip

    async def media(self, request: Request) -> Response:
        """Recording, clip or program, by byte ranges."""
        path = self.desk.source(request.path_params["name"])
        return FileResponse(path) if path is not None else _json({"error": "Not there."}, 404)

    async def output(self, request: Request) -> Response:
        """One deliverable; `?download` saves it."""
        path = self.desk.output(request.path_params["name"])
        if path is None:
            return _json({"error": "Not there."}, 404)
        if "download" in request.query_params:
            return FileResponse(path, filename=path.name)
        text = path.suffix in (".txt", ".md", ".srt", ".vtt", ".csv", ".otio")
        kind = "text/plain; charset=utf-8" if text else None
        return FileResponse(path, media_type=kind)


def _json(value: Any, status: int = 200) -> Response:
    return JSONResponse(value, status, {"cache-control": "no-store"})


def build(desk: Desk, port: int, ready: Callable[[], None] | None = None) -> tuple[Guard, Desks]:
    """The guarded application for a desk that listens on `port`."""
    desks = Desks(desk)

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        watching = asyncio.create_task(desks.watch())
        if ready is not None:
            ready()
        yield
        watching.cancel()
        await desks.maker.close()

    app = Starlette(
        routes=[
            Route("/", desks.home),
            Route("/state", desks.state),
            Route("/talk", desks.talk),
            Route("/body", desks.body),
            Route("/edit", desks.edit, methods=["POST"]),
            Route("/make", desks.make, methods=["POST"]),
            Route("/events", desks.events),
            Route("/media/{name}", desks.media),
            Route("/out/{name:path}", desks.output),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        lifespan=life,
    )
    return Guard(app, port), desks


class _Server(uvicorn.Server):
    """Ends the event streams before it waits for them."""

    def __init__(self, config: uvicorn.Config, hub: Hub) -> None:
        super().__init__(config)
        self._hub = hub

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """As uvicorn's, with the pages told first."""
        self._hub.close()
        await super().shutdown(sockets)


def serve(folder: Path, *, port: int = 0, browser: bool = True,
          tell: Callable[[str], None]) -> None:  # fmt: skip
    """Open the desk and serve it until interrupted.

    Args:
        folder: The episode.
        port: 0 = any free one.
        browser: Open the page in the coach's browser.
        tell: Called once with the address, when the desk is ready.

    Raises:
        ConfigError: No episode folder.
        OutputError: The port is taken.
    """
    desk = Desk(folder)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("127.0.0.1", port))
        listener.listen()  # from here on a browser waits instead of being turned away
    except OSError as error:
        listener.close()
        raise OutputError(
            f"Port {port} of this computer is taken ({error.strerror}).",
            "Choose another with --port, or leave it out.",
        ) from error
    port = listener.getsockname()[1]

    def ready() -> None:
        address = f"http://127.0.0.1:{port}/?token={guard.token}"
        tell(address)
        if browser:
            webbrowser.open(address)

    guard, desks = build(desk, port, ready)
    config = uvicorn.Config(guard, log_level="warning", access_log=False, lifespan="on",
                            timeout_graceful_shutdown=2)  # fmt: skip
    with listener:
        _Server(config, desks.hub).run(sockets=[listener])
