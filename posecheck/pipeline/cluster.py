"""Work on clips on several machines: workers of a Dask scheduler do tasks.

A scheduler and its workers are started by hand (``docs/cluster.md``) and run whatever whoever
reaches them asks for, so they belong on a network that is trusted, or behind TLS. This machine
opens one connection, to the scheduler's address, and no other.

What a check rests on is the same as on one machine: whoever asks for the work keeps its results in
the record, alone. Workers read the film and write landmarks and drawn clips where they would lie on
one machine, each file whole and named after content, in a folder that all of them share.

Every worker is looked at before it is given anything: it runs the same code, has the same pose
models, sees the folders and may write where results go. It has one task at a time.
"""

from __future__ import annotations

import math
import secrets
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from posecheck.errors import ClusterError, ModelError, UsageError
from posecheck.files.moved import whole, with_paths
from posecheck.pipeline.cluster_worker import (
    Around,
    Facts,
    Kind,
    Places,
    Reply,
    do_task,
    look_around,
)
from posecheck.pipeline.limits import ANSWER_S, NO_WORKER_S, TICK_S, duration_words
from posecheck.pipeline.scheduler import Cluster, connected
from posecheck.pipeline.tasks import Task, TookTooLong, WorkerDied, Workers


@contextmanager
def cluster_workers(
    cluster: Cluster,
    open_reader: Callable[[], Any],
    facts: Callable[[], Facts],
    on_remark: Callable[[str], object],
) -> Iterator[Workers]:
    """The workers of a scheduler for the block.

    Args:
        cluster: where they are.
        open_reader: opens the pose model; called once in each worker, which keeps it from run to
            run.
        facts: asked here and of every worker; one that gives others is not used.
        on_remark: called with a sentence on a worker that is not used, or that is lost.

    Raises:
        UsageError: the address or the TLS files cannot be used, or Dask is not installed.
        ClusterError: nobody answers there, or no worker can be used.
    """
    client = connected(cluster)
    try:
        workers = _ClusterWorkers(client, cluster, open_reader, facts, on_remark)
        workers.wait_for_one()
        try:
            yield workers
        finally:
            workers.close()
    finally:
        client.close(timeout=ANSWER_S)


@dataclass
class _InHand:
    worker: str
    task: Task
    future: Any
    tries: int
    since: float = field(default_factory=time.monotonic)

    @property
    def too_long(self) -> TookTooLong | None:
        """Why it was given up, if it was; frames are not counted from so far."""
        took_s = time.monotonic() - self.since
        if took_s >= self.task.limit_s:
            return TookTooLong.limit(self.task)
        if took_s >= self.task.quiet_s:
            return TookTooLong(f"the last time after {duration_words(took_s)} without an end")
        return None


class _ClusterWorkers:
    def __init__(
        self,
        client: Any,
        cluster: Cluster,
        open_reader: Callable[[], Any],
        facts: Callable[[], Facts],
        on_remark: Callable[[str], object],
    ) -> None:
        self._client, self._cluster, self._remark = client, cluster, on_remark
        self._places = Places(cluster.here.resolve(), cluster.there)
        self._open_reader = with_paths(open_reader, whole)
        self._facts, self._own_facts = with_paths(facts, whole), facts()
        self._asking: dict[str, Future[Any]] = {}
        self._asks = ThreadPoolExecutor(8, "ask-worker")
        self._looked_at = self._had_one_at = -math.inf
        self._usable: set[str] = set()
        self._refused: set[str] = set()

    def outcomes(
        self, tasks: Iterator[Task], on_tick: Callable[[], object] = lambda: None
    ) -> Iterator[tuple[Task, Any]]:
        in_hand: dict[str, _InHand] = {}
        again: deque[tuple[Task, int]] = deque()
        ended: SimpleQueue[str] = SimpleQueue()

        def begin(worker: str, task: Task, tries: int) -> None:
            future = self._client.submit(
                do_task,
                with_paths(task, whole),
                self._open_reader,
                self._places,
                key=f"posecheck-{secrets.token_hex(8)}",
                workers=[worker],
                pure=False,
            )
            in_hand[future.key] = _InHand(worker, task, future, tries)
            future.add_done_callback(lambda done: ended.put(done.key))

        try:
            while True:
                free = self._free([each.worker for each in in_hand.values()])
                # Without anybody to do it, it must still be known whether there is more.
                for worker in free if free or in_hand else [None]:
                    task, tries = again.popleft() if again else (next(tasks, None), 1)
                    if task is None:
                        break
                    if worker is None:
                        again.append((task, tries))
                    else:
                        begin(worker, task, tries)
                if not in_hand and not again:
                    return
                done = _next(ended)
                on_tick()
                self.look()
                lost = [key for key, each in in_hand.items() if each.worker not in self._usable]
                for key in dict.fromkeys([*done, *lost]):
                    if (each := in_hand.pop(key, None)) is None:
                        continue
                    reply = self._reply_of(each)
                    if reply.kind is Kind.UNSEEN:
                        self._refuse(each.worker, _unseen(reply.value))
                        again.append((each.task, each.tries))
                    elif reply.kind is Kind.LOST and each.tries == 1:
                        self._remark(
                            f"The worker at {each.worker} is gone; {each.task.name} is begun again."
                        )
                        again.append((each.task, 2))
                    elif reply.kind is Kind.LOST:
                        yield each.task, each.too_long or WorkerDied()
                    elif isinstance(reply.value, ModelError | UsageError):
                        raise type(reply.value)(f"The worker at {each.worker}: {reply.value}")
                    else:
                        yield each.task, reply.value
        finally:
            self._give_up(each.future for each in in_hand.values())

    def wait_for_one(self) -> None:
        """Wait for a worker that can be used, until all that are there have been looked at.

        Raises:
            ClusterError: none of them can be used.
        """
        start = time.monotonic()
        self.look()
        while not self._usable and (self._asking or not self._refused):
            # To ask loads posecheck there, from a cold disk perhaps.
            patience_s = NO_WORKER_S if self._asking else ANSWER_S
            if time.monotonic() - start > patience_s:
                break
            time.sleep(TICK_S / 5)
            self.look()
        if not self._usable:
            n = len(self._refused) + len(self._asking)
            raise ClusterError(
                f"{self._cluster.address}: none of its {n} workers can be used."
                if n
                else f"{self._cluster.address}: this scheduler has no workers; start some with "
                "dask worker."
            )

    def look(self) -> None:
        """See who has come and who is gone.

        Raises:
            ClusterError: the scheduler does not answer any more, or has had nobody to do the work
                for a while.
        """
        now = time.monotonic()
        if now - self._looked_at >= TICK_S:
            self._looked_at = now
            try:
                present = set(self._client.nthreads())
            except (OSError, TimeoutError, RuntimeError):
                raise ClusterError(
                    f"{self._cluster.address}: the scheduler does not answer any more; what is "
                    "done is kept, start it again and run the same command."
                ) from None
            self._usable &= present
            for worker in present - self._usable - self._refused - self._asking.keys():
                self._asking[worker] = self._asks.submit(self._ask, worker)
        for worker, asked in [each for each in self._asking.items() if each[1].done()]:
            del self._asking[worker]
            why = asked.result()
            if why == "":
                self._usable.add(worker)
            elif why is not None:
                self._refuse(worker, why)
        if self._usable or self._asking or self._had_one_at == -math.inf:
            self._had_one_at = now
        elif now - self._had_one_at > NO_WORKER_S:
            raise ClusterError(
                f"{self._cluster.address}: no worker is left that can be used; what is done is "
                "kept, start some and run the same command again."
            )

    def close(self) -> None:
        """Ask nobody any more."""
        self._asks.shutdown(wait=False, cancel_futures=True)

    def _free(self, busy: Sequence[str]) -> list[str]:
        free = sorted(self._usable.difference(busy))
        most = self._cluster.at_once
        return free if most is None else free[: max(0, most - len(busy))]

    def _ask(self, worker: str) -> str | None:
        """Why a worker cannot be used, empty when it can; None when it has not answered."""
        cluster = self._cluster
        folders = [[whole(each) for each in some] for some in (cluster.films, cluster.results)]
        asked = look_around, self._facts, self._places, *folders
        try:
            found = self._client.run(*asked, workers=[worker], on_error="return").get(worker)
        except Exception as error:
            found = error
        if found is None or isinstance(found, OSError | TimeoutError):
            return None  # the connection to it broke, or it is only coming up
        if isinstance(found, ImportError | AttributeError):
            return "posecheck is not installed there as it is here"
        if not isinstance(found, Around):
            return f"asked what it is, it fails ({type(found).__name__}: {found})"
        for what, ours in self._own_facts.items():
            theirs = found.facts.get(what, "not known")
            if theirs != ours:
                return f"its {what} is {theirs}, here it is {ours}; install the same on both"
        for folder in found.unseen:
            return _unseen(folder)
        for folder in found.not_writable:
            return f"it cannot write to {folder}; give it the permission"
        return ""

    def _refuse(self, worker: str, why: str) -> None:
        self._usable.discard(worker)
        self._refused.add(worker)
        self._remark(f"The worker at {worker} is not used: {why}.")

    def _reply_of(self, each: _InHand) -> Reply:
        from distributed import KilledWorker

        if not each.future.done() or each.future.cancelled():
            self._give_up([each.future])
            return Reply(Kind.LOST, None)
        try:
            reply: Reply = each.future.result(timeout=ANSWER_S)
        except (KilledWorker, OSError, TimeoutError):
            # Gone with its result before that was fetched.
            self._give_up([each.future])
            return Reply(Kind.LOST, None)
        except Exception as error:  # what came back cannot be read
            return Reply(Kind.RAISED, error)
        return reply

    def _give_up(self, futures: Iterable[Any]) -> None:
        with suppress(OSError, TimeoutError, RuntimeError):  # the scheduler is gone
            self._client.cancel(list(futures), force=True)


def _next(ended: SimpleQueue[str]) -> list[str]:
    """Keys of what has ended, after a tick at most."""
    keys = []
    with suppress(Empty):
        keys.append(ended.get(timeout=TICK_S))
        while True:
            keys.append(ended.get_nowait())
    return keys


def _unseen(path: Path) -> str:
    return (
        f"it does not see {path}; share that folder with it under the same path, or say with "
        "--seen-as where it lies there"
    )
