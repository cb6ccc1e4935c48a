"""The one process that computes what takes seconds, so that neither the event loop nor other answers wait for it.

The first search starts it and the service keeps it. Requests go to it through a pipe, and the end of the pipe is the
end of the process, also after kill -9. One search runs, two may wait, a third is `busy`. NumPy is not imported here:
the process that is started limits its threads first.
"""

import multiprocessing
import os
import pickle
import signal
import traceback
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, NamedTuple, TypeVar, cast

from studbook_service.actions.engine_thread import EngineThread
from studbook_service.actions.refusals import Refusal

T = TypeVar("T")

WAITING_MOST = 2
GRACE_S = 20.0
"""Beyond its budget a search may take so long to start, to finish its last step and to be sent; then it is ended."""

ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


class _Child(NamedTuple):
    process: BaseProcess
    pipe: Connection


class SearchProcess:
    """Runs one search at a time in a process of its own, which is started by the first one and then kept.

    When the service is killed the process reads the end of its pipe and ends too.

    Example:
        >>> import asyncio
        >>> from operator import mul
        >>> search_process = SearchProcess()
        >>> asyncio.run(search_process.run(partial(mul, 6, 7), within_s=1))  # doctest: +SKIP
        42
        >>> search_process.close()
    """

    def __init__(self) -> None:
        self._thread = EngineThread(name="searches", waiting_most=WAITING_MOST)
        self._child: _Child | None = None

    async def run(self, work: Callable[[], T], *, within_s: float) -> T:
        """Compute in turn.

        Args:
            work: can be pickled, as its answer and its errors can.
            within_s: what it should take; it is ended when it takes much longer.

        Raises:
            Refusal: `busy`: too many searches wait already, or this one did not end.
            Exception: what the work raised.
        """
        return await self._thread.run(partial(self._ask, work, within_s))

    def close(self) -> None:
        """End the search under way and drop those that wait."""
        child = self._child
        if child is not None:
            child.process.terminate()
        self._thread.close()
        self._end()

    def _ask(self, work: Callable[[], T], within_s: float) -> T:
        child = self._child or self._start()
        answer: T | None = None
        error: Exception | None = Refusal("busy", "the search did not come to its end", retry_after_s=1)
        ended = False
        with suppress(EOFError, OSError):  # as when somebody ends the process
            child.pipe.send(work)
            if child.pipe.poll(within_s + GRACE_S):
                answer, error = child.pipe.recv()
                ended = True
        if not ended:
            self._end()
        if error is not None:
            raise error
        return cast("T", answer)

    def _start(self) -> _Child:
        spawn = multiprocessing.get_context("spawn")
        ours, theirs = spawn.Pipe()
        process = spawn.Process(target=serve, args=(theirs,), name="searches", daemon=True)
        process.start()
        theirs.close()  # so that the end of the process is the end of the pipe
        self._child = _Child(process, ours)
        return self._child

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child.process.kill()
            child.process.join()
            child.pipe.close()


def serve(pipe: Connection) -> None:
    """Do what comes through the pipe until its other end is gone: what the process runs."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the service ends it
    os.environ.update(ONE_THREAD)
    with suppress(EOFError, OSError):
        while True:
            pipe.send(_done(pipe.recv()))


def _done(work: Callable[[], Any]) -> tuple[Any, Exception | None]:
    try:
        return work(), None
    except Exception as error:  # noqa: BLE001 - whatever it is, it is raised again at the caller
        error.add_note(traceback.format_exc())
        return None, _sendable(error)


def _sendable(error: Exception) -> Exception:
    """Give the error itself where it can travel, else one that says the same."""
    try:
        pickle.loads(pickle.dumps(error))  # noqa: S301 - what we have just written
    except Exception:  # noqa: BLE001 - any failure to travel is the same
        return RuntimeError("".join(traceback.format_exception(error)))
    return error
