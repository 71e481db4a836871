"""Making the episode from the page: a process of its own, so that neither can harm the other."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

Event = dict[str, Any]
KEPT_NOTES = 50
AGAIN_S = 1.0
"""The make is asked again until it is gone: a starting interpreter can swallow a signal."""


class Hub:
    """Sends every event to every open page."""

    def __init__(self) -> None:
        self._pages: set[asyncio.Queue[Event | None]] = set()

    def send(self, event: Event) -> None:
        """To all pages; from the event loop only."""
        for page in self._pages:
            page.put_nowait(event)

    def close(self) -> None:
        """End every stream."""
        for page in self._pages:
            page.put_nowait(None)

    async def listen(self, first: Event) -> AsyncIterator[str]:
        """Server-sent events for one page: `first`, then whatever comes; a comment every 15 s."""
        page: asyncio.Queue[Event | None] = asyncio.Queue()
        self._pages.add(page)
        try:
            yield f"data: {json.dumps(first)}\n\n"
            while True:
                try:
                    event = await asyncio.wait_for(page.get(), 15)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                if event is None:
                    return
                yield f"data: {json.dumps(event)}\n\n"
        finally:
            self._pages.discard(page)


class Maker:
    """At most one make at a time.

    Args:
        folder: The episode.
        hub: Told of every step.
        done: Called when a make has ended, however it ended.
    """

    def __init__(self, folder: Path, hub: Hub, done: Callable[[], None]) -> None:
        self._folder, self._hub, self._done = folder, hub, done
        self._process: asyncio.subprocess.Process | None = None
        self._task: asyncio.Task[None] | None = None
        self._stopping = asyncio.Event()
        self.status: Event = {"kind": "make", "state": "idle", "notes": []}

    @property
    def busy(self) -> bool:
        """A make is at work."""
        return self._task is not None and not self._task.done()

    def start(self) -> bool:
        """Begin; False where one is at work already."""
        if self.busy:
            return False
        self._say(state="working", label="Starting", share=None, notes=[], error="")
        self._stopping.clear()
        self._task = asyncio.create_task(self._run())
        return True

    def cancel(self) -> None:
        """Ask the make to stop, also one that is just starting; earlier results are kept."""
        if self.busy and not self._stopping.is_set():
            self._say(state="stopping")
            self._stopping.set()

    async def close(self) -> None:
        """Stop the make, and wait until it is gone."""
        self.cancel()
        if self._task is not None:
            with contextlib.suppress(asyncio.TimeoutError):
                await asyncio.wait_for(self._task, 5)
        if self._process is not None and self._process.returncode is None:
            self._process.kill()

    async def _run(self) -> None:
        self._process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "studio.review.worker", str(self._folder),
            stdin=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.PIPE, env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        process = self._process
        assert process.stdout is not None
        assert process.stderr is not None
        last_words = asyncio.create_task(process.stderr.read())
        stopper = asyncio.create_task(self._end_when_asked(process))
        async for line in process.stdout:
            with contextlib.suppress(ValueError):
                self._heard(json.loads(line))
        code = await process.wait()
        stopper.cancel()
        said = (await last_words).decode(errors="replace").strip().splitlines()
        if code == 0:
            self._say(state="done", label="", share=1.0)
        elif self.status["state"] == "stopping":
            self._say(state="stopped", label="")
        else:
            trouble = self.status.get("error") or (said[-1] if said else f"it ended with {code}")
            self._say(state="failed", label="", error=trouble)
        self._done()

    async def _end_when_asked(self, process: asyncio.subprocess.Process) -> None:
        await self._stopping.wait()
        while process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                process.terminate()  # heard as Ctrl-C is, and also where a shell has that ignored
            await asyncio.sleep(AGAIN_S)

    def _heard(self, said: Event) -> None:
        if "note" in said:
            self._say(notes=[*self.status["notes"], said["note"]][-KEPT_NOTES:])
        elif "error" in said:
            self._say(error=said["error"])
        else:
            self._say(label=said.get("label", ""), share=said.get("share"))

    def _say(self, **changes: object) -> None:
        self.status = self.status | changes
        self._hub.send(self.status)
