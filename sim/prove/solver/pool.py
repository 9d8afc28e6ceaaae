"""Work over several processes, each task with a time in which it must be done.

z3 does not always stop when its time is up, and a process can die under it. So each worker is a process of its own: one
that is overdue is ended, one that dies is replaced, and the task is reported as what became of it, never as done.
"""

import multiprocessing
import time
from collections.abc import Callable, Iterator, Sequence
from multiprocessing.connection import Connection, wait
from typing import Any, Generic, NamedTuple, TypeVar

TaskT = TypeVar("TaskT")
ResultT = TypeVar("ResultT")

DONE, OVERDUE, DIED = "done", "overdue", "died"


class Outcome(NamedTuple, Generic[TaskT, ResultT]):
    """What became of a task: DONE with its result, OVERDUE or DIED without; `words` why it died."""

    task: TaskT
    how: str
    result: ResultT | None
    words: str = ""


class _Worker:
    def __init__(self, context: Any, make: Callable[[], Callable[[Any], Any]]) -> None:
        self.pipe, far = context.Pipe()
        self.process = context.Process(target=_serve, args=(far, make), daemon=True)
        self.process.start()
        far.close()
        self.task: Any = None
        self.busy = False
        self.due_s = 0.0

    def give(self, task: Any, limit_s: float) -> None:
        """Hand it a task that must be done in `limit_s`."""
        self.task, self.busy, self.due_s = task, True, time.monotonic() + limit_s
        self.pipe.send(task)

    def end(self) -> None:
        """End it, whatever it does."""
        self.pipe.close()
        if self.process.is_alive():
            self.process.kill()
        self.process.join()


def _serve(pipe: Connection, make: Callable[[], Callable[[Any], Any]]) -> None:
    try:
        work = make()
        while True:
            task = pipe.recv()
            try:
                pipe.send((True, work(task)))
            except Exception as error:  # noqa: BLE001 - reported as the task's end, by name; the next task may do
                pipe.send((False, f"{type(error).__name__}: {error}"))
    except (EOFError, KeyboardInterrupt, BrokenPipeError):
        return


def over_processes(
    tasks: Sequence[TaskT], make: Callable[[], Callable[[TaskT], ResultT]], workers: int, limit_s: float,
    go_on: Callable[[], bool] = lambda: True,
) -> Iterator[Outcome[TaskT, ResultT]]:  # fmt: skip
    """Each task's outcome as it comes, in no fixed order. `make` is called once in each worker and gives what does the
    work. Tasks are begun in the order given; once `go_on` says no, no more are begun, and those left are not reported.
    """
    if "fork" not in multiprocessing.get_all_start_methods():
        yield from _in_this_one(tasks, make, go_on)
        return
    context = multiprocessing.get_context("fork")
    waiting = list(reversed(tasks))
    crew = [_Worker(context, make) for _ in range(min(workers, len(tasks)))]
    try:
        while True:
            for worker in crew:
                if not worker.busy and waiting and go_on():
                    worker.give(waiting.pop(), limit_s)
            busy = [worker for worker in crew if worker.busy]
            if not busy:
                return
            wait([worker.pipe for worker in busy], timeout=0.5)
            for worker in busy:
                outcome = _look(worker)
                if outcome is None:
                    continue
                worker.busy = False
                if outcome.how != DONE:
                    worker.end()
                    crew[crew.index(worker)] = _Worker(context, make)
                yield outcome
    finally:
        for worker in crew:
            worker.end()


def _look(worker: _Worker) -> Outcome[Any, Any] | None:
    """What became of the worker's task, None while it is at it."""
    try:
        if worker.pipe.poll():
            well, told = worker.pipe.recv()
            if well:
                return Outcome(worker.task, DONE, told)
            return Outcome(worker.task, DIED, None, told)
    except (EOFError, OSError):
        worker.process.join(1.0)
        return Outcome(worker.task, DIED, None, f"the process ended with status {worker.process.exitcode}")
    if time.monotonic() > worker.due_s:
        return Outcome(worker.task, OVERDUE, None)
    return None


def _in_this_one(
    tasks: Sequence[TaskT], make: Callable[[], Callable[[TaskT], ResultT]], go_on: Callable[[], bool]
) -> Iterator[Outcome[TaskT, ResultT]]:
    """Where processes cannot be forked: one task after the other, here, each as long as it takes."""
    work = make()
    for task in tasks:
        if not go_on():
            return
        try:
            yield Outcome(task, DONE, work(task))
        except Exception as error:  # noqa: BLE001 - as in a worker
            yield Outcome(task, DIED, None, f"{type(error).__name__}: {error}")
