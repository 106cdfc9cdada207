"""Work in several processes, any of which may die without costing more than what killed it."""

from __future__ import annotations

import logging
import os
import pkgutil
import sys
import threading
import time
from collections import deque
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import TYPE_CHECKING

from roomir import __version__
from roomir.audio.files import display_name
from roomir.batching.apart import work_apart
from roomir.batching.find import Item
from roomir.batching.work import Record, Work, died
from roomir.errors import RoomirError

if TYPE_CHECKING:
    from distributed import Client

Records = Generator[tuple[Item, Record], None, None]

_CONNECT_S = 10.0
_LOOK_S = 1.0
_TRIES = 2
_following: set[int] = set()


def each_record(items: Sequence[Item], *, work: Work, jobs: int) -> Records:
    """Do the work on every item in processes of this machine; yield what is done as it is done.

    Parameters
    ----------
    items : sequence of Item
        What to work on.
    work : callable
        Must not raise; sent to the processes.
    jobs : int
        How many at a time.

    Yields
    ------
    (Item, Record)
        In whatever order they are done. An item whose process dies, and dies
        again when it has one to itself, yields a record of failure.
    """
    from joblib import parallel_config

    # joblib does the work of a single job in this very process, which has to survive it: it gets two, and
    # one item at a time.
    with parallel_config(backend="loky", n_jobs=max(jobs, 2)):
        yield from _each(
            items, work=partial(_work_for, os.getpid(), work), ahead=1 if jobs == 1 else 2 * jobs
        )


def each_record_on_cluster(items: Sequence[Item], *, work: Work, scheduler: str, folder: str) -> Records:
    """Do the work on the workers of a Dask cluster, as :func:`each_record` otherwise.

    Parameters
    ----------
    scheduler : str
        Address of the scheduler.
    folder : str
        Where the recordings lie, for every worker as for this process.

    Raises
    ------
    RoomirError
        ``no-cluster`` without dask, ``no-scheduler`` where nobody answers,
        ``no-workers`` where a scheduler has none, ``cluster-differs`` where
        they have not this version of roomir, ``folder-not-seen``, and
        ``cluster-lost`` where the scheduler is gone midway.
    """
    from joblib import parallel_config

    with _client(scheduler) as client:
        n_threads = _check_cluster(client, scheduler=scheduler, folder=folder)
        with parallel_config(backend="dask", n_jobs=n_threads, client=client):
            try:
                # joblib waits for ever for a task whose worker has died, so no worker may.
                apart = partial(work_apart, work=work)
                yield from _each(items, work=apart, ahead=2 * n_threads)
            except CancelledError as error:
                raise RoomirError(
                    f"the scheduler at {scheduler} no longer answers",
                    code="cluster-lost",
                    remedy="start the cluster again; the same command goes on from here",
                ) from error


def _work_for(parent: int, work: Work, item: Item) -> Record:
    _end_with(parent)
    return work(item)


def _end_with(parent: int) -> None:
    """Let this process end soon after the one that started it, even if that is killed."""
    if parent in _following or sys.platform == "win32":
        return
    _following.add(parent)

    def follow() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOK_S)
        os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


def _each(items: Sequence[Item], *, work: Work, ahead: int) -> Iterator[tuple[Item, Record]]:
    waiting = deque(items)
    while waiting:
        begun: dict[int, Item] = {}
        try:
            for item, record in _run(_begin(waiting, begun), work=work, ahead=ahead):
                del begun[item.place]
                yield item, record
        except (
            BrokenProcessPool
        ):  # killed for its memory, or crashed in a decoder; joblib's own is a child of it
            # One of these is to blame; the others only died with it.
            for item in [*begun.values()]:
                yield item, _alone(item, work=work)


def _begin(waiting: deque[Item], begun: dict[int, Item]) -> Iterator[Item]:
    while waiting:
        item = waiting.popleft()
        begun[item.place] = item
        yield item


def _alone(item: Item, *, work: Work) -> Record:
    for _ in range(_TRIES):
        try:
            ((_, record),) = _run(iter([item]), work=work, ahead=1)
        except BrokenProcessPool:
            continue
        return record
    return died(item)


def _run(items: Iterator[Item], *, work: Work, ahead: int) -> Iterator[tuple[Item, Record]]:
    from joblib import Parallel, delayed

    # At most `ahead` items are on their way, so that memory does not grow with their number.
    parallel = Parallel(return_as="generator_unordered", batch_size=1, pre_dispatch=ahead)
    yield from parallel(delayed(_paired)(item, work) for item in items)


def _paired(item: Item, work: Work) -> tuple[Item, Record]:
    return item, work(item)


def _client(scheduler: str) -> Client:
    try:
        from distributed import Client
    except ImportError as error:
        raise RoomirError(
            "a cluster needs dask, which is not installed",
            code="no-cluster",
            remedy="install roomir with the extra cluster: pip install '.[cluster]'",
        ) from error
    # What it says about a lost connection, with its traceback, is said here in a sentence.
    for name in ("distributed", "distributed.client"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        return Client(scheduler, timeout=_CONNECT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise RoomirError(
            f"no scheduler answers at {scheduler}",
            code="no-scheduler",
            remedy="give its address as it prints it, such as tcp://192.168.1.20:8786",
        ) from error


def _check_cluster(client: Client, *, scheduler: str, folder: str) -> int:
    """Count the cluster's threads, once everything they need is there."""
    n_threads = int(sum(client.nthreads().values()))
    if not n_threads:
        raise RoomirError(
            f"the cluster at {scheduler} has no workers", code="no-workers", remedy="start some"
        )
    # Asked with functions of Python's own: one of roomir's could not even be named where roomir is missing.
    wanted = "roomir:__version__"
    try:
        versions = {client.run_on_scheduler(pkgutil.resolve_name, wanted)}
        versions |= set(client.run(pkgutil.resolve_name, wanted).values())
    except Exception as error:  # whatever the cluster's Python says; it comes as it was raised there
        raise _differs(scheduler, f"cannot load roomir ({error})") from error
    if versions != {__version__}:
        raise _differs(
            scheduler, f"has roomir {', '.join(sorted(map(str, versions)))}, here it is {__version__}"
        )
    blind = [worker for worker, seen in client.run(os.path.isdir, folder).items() if not seen]
    if blind:
        raise RoomirError(
            f"{display_name(folder)} is not there for {len(blind)} of the cluster's workers",
            code="folder-not-seen",
            remedy="share the folder with them under the same path",
        )
    return n_threads


def _differs(scheduler: str, how: str) -> RoomirError:
    return RoomirError(
        f"the cluster at {scheduler} {how}",
        code="cluster-differs",
        remedy="install the same version of roomir for its scheduler and for all its workers",
    )


def usual_jobs() -> int:
    """As many processes as this one may use cores."""
    from joblib import cpu_count

    return int(cpu_count())
