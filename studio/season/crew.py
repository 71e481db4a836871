"""Who makes the episodes: processes of this computer, or the workers of a Dask cluster."""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from types import TracebackType
from typing import Any, Protocol, Self

import psutil

from studio.errors import ToolError

CONNECT_S = 10.0
"""For a cluster to answer and to show a worker."""
AWAY_S = 120.0
"""For a cluster without any worker left to get one, while work waits for it."""


class Crew(Protocol):
    """Workers, each a process of its own, behind an executor of the standard library.

    As a context manager: left after an error or an interrupt, it stops at once what it can.
    """

    def size(self) -> int:
        """How many episodes can be in work at once."""

    def submit(self, task: Callable[..., Any], *args: object) -> Future[Any]:
        """Have `task(*args)` done by a free worker."""

    def renew(self) -> None:
        """Replace the workers after one of them has died."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None: ...


class Local:
    """A pool of processes that start afresh (spawn): no state of the parent leaks into them."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._executor = self._pool()

    def _pool(self) -> ProcessPoolExecutor:
        context = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(self._workers, mp_context=context, initializer=_deaf)

    def size(self) -> int:
        """As many as there are processes."""
        return self._workers

    def submit(self, task: Callable[..., Any], *args: object) -> Future[Any]:
        """Raises: BrokenExecutor: a worker has died; see `renew`."""
        return self._executor.submit(task, *args)

    def renew(self) -> None:
        """A pool that has lost a process takes no more work; open another."""
        self._executor.shutdown(wait=False, cancel_futures=True)
        self._executor = self._pool()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is not None:
            # results are written aside and renamed, so ending hard leaves nothing half-made
            for worker in multiprocessing.active_children():
                _kill(worker.pid)
        self._executor.shutdown(wait=kind is None, cancel_futures=True)


class Cluster:
    """The workers of a running Dask cluster.

    Args:
        address: Of its scheduler, e.g. "tcp://127.0.0.1:8786".

    Raises:
        ToolError: Dask is not installed, nothing answers at the address, or no worker is there.
    """

    def __init__(self, address: str) -> None:
        try:
            from dask import distributed
        except ImportError as error:
            raise ToolError(
                "--cluster: Dask is not installed.", "Run: pip install 'launchside[batch]'"
            ) from error
        client: Callable[..., Any] = distributed.Client  # it says nothing of its types
        try:
            # knock first: a client that never got through takes half a minute more to give up
            asyncio.run(_knock(address))
            self._client = client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError) as error:
            raise ToolError(
                f"{address}: no Dask scheduler answers there.",
                "Start one with `dask scheduler`, and give the address it prints.",
            ) from error
        try:
            self._client.wait_for_workers(1, timeout=CONNECT_S)
        except TimeoutError as error:
            self._client.close()
            raise ToolError(
                f"{address}: the scheduler has no workers.",
                f"Start some: dask worker {address} --nworkers 2 --nthreads 1",
            ) from error
        self._address, self._seen_s = address, time.monotonic()
        # not pure: the same episode is to be looked at again however often it is asked for
        self._executor: Executor = self._client.get_executor(pure=False)

    def size(self) -> int:
        """As many as there are worker processes now; they may come and go.

        Raises:
            ToolError: The scheduler is gone, or all workers are and none has come back.
        """
        with self._reached():
            workers = len(self._client.nthreads())
        now_s = time.monotonic()
        if workers:
            self._seen_s = now_s
        elif now_s - self._seen_s > AWAY_S:
            raise ToolError(
                f"{self._address}: all workers of the cluster are gone.",
                "Start some and run the same command again to go on.",
            )
        return max(1, workers)

    def submit(self, task: Callable[..., Any], *args: object) -> Future[Any]:
        """Dask itself gives a task whose worker died to another one, three times at most.

        Raises:
            ToolError: The scheduler is gone.
        """
        with self._reached():
            return self._executor.submit(task, *args)

    @contextlib.contextmanager
    def _reached(self) -> Iterator[None]:
        try:
            yield
        except Exception as error:
            raise ToolError(
                f"{self._address}: the scheduler of the cluster is gone.",
                "Start it and its workers, and run the same command again to go on.",
            ) from error

    def renew(self) -> None:
        """Nothing to do: Dask replaces its workers."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        # what a worker has begun cannot be called back; the episode's lock keeps others off it
        with contextlib.suppress(*([] if kind is None else [Exception])):  # it may be long gone
            self._executor.shutdown(wait=kind is None)
            self._client.close()


async def _knock(address: str) -> None:
    from dask.distributed import comm

    connect: Callable[..., Any] = getattr(comm, "connect")  # noqa: B009 - nor of its exports
    line = await connect(address, timeout=CONNECT_S)
    await line.close()


def _deaf() -> None:
    """Ctrl-C reaches the whole group of processes; the parent decides and ends its workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _kill(pid: int | None) -> None:
    """A worker and the programs it runs."""
    with contextlib.suppress(psutil.Error):
        worker = psutil.Process(pid if pid is not None else -1)
        family = [*worker.children(recursive=True), worker]
        for process in family:
            with contextlib.suppress(psutil.Error):
                process.kill()


def usual_workers() -> int:
    """Half of the processors: most stages use several threads of their own already."""
    return max(1, (os.cpu_count() or 1) // 2)
