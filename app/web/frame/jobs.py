"""Work that takes longer than a page should: done beside it, its progress told, stopped on request.

Answers are kept in memory by the question they answer, the latest few of them; after a restart
the same address simply asks again.
"""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from threading import Event, Lock
from typing import Generic, TypeVar

from app.core.errors import DomainError
from app.language import language, say

Answer = TypeVar("Answer")
Work = Callable[[Callable[[str, float], bool]], Answer]
KEPT, AT_ONCE, WAITING = 24, 2, 8


def key_of(question: str) -> str:
    """What the job for a question is known by; its answer is in the language of who asked."""
    return sha256(f"{language.get()}\n{question}".encode()).hexdigest()[:32]


class Job(Generic[Answer]):
    """One piece of work: what it is at, how far, and what came of it."""

    def __init__(self, key: str) -> None:
        self.key = key
        self.doing, self.share = say("waiting for its turn"), 0.0
        self.answer: Answer | None = None
        self.refusal: str | None = None
        self.stop, self.done = Event(), Event()
        self._language = language.get()

    def told(self, doing: str, share: float) -> bool:
        """Take note of the progress; says whether to stop."""
        self.doing, self.share = doing, max(self.share, min(share, 1.0))
        return self.stop.is_set()

    def run(self, work: Work[Answer]) -> None:
        """Do it and keep what came of it."""
        language.set(self._language)
        try:
            self.answer = work(self.told)
        except DomainError as error:
            self.refusal = error.message
        except Exception:
            logging.getLogger(__name__).exception("a plan failed")
            self.refusal = say("The plan could not be worked out; the program's log says why.")
        finally:
            self.done.set()


class Jobs:
    """All work that was asked for lately."""

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job[object]] = OrderedDict()
        self._lock = Lock()
        self._pool = ThreadPoolExecutor(AT_ONCE, thread_name_prefix="plan")

    def ask(self, question: str, work: Work[Answer]) -> Job[Answer]:
        """The job for a question, begun now unless it is known already."""
        key = key_of(question)
        with self._lock:
            job = self._jobs.get(key)
            if job is None:
                if sum(not other.done.is_set() for other in self._jobs.values()) >= WAITING:
                    words = say("Several plans are being worked out already; wait for them.")
                    raise DomainError(words)
                job = self._jobs[key] = Job(key)
                self._pool.submit(job.run, work)
            self._jobs.move_to_end(key)
            while len(self._jobs) > KEPT and next(iter(self._jobs.values())).done.is_set():
                self._jobs.popitem(last=False)
        return job  # type: ignore[return-value]

    def find(self, key: str) -> Job[object] | None:
        """A job by its key."""
        with self._lock:
            return self._jobs.get(key)

    def close(self) -> None:
        """Stop everything; for the end of the program and of a test."""
        with self._lock:
            for job in self._jobs.values():
                job.stop.set()
        self._pool.shutdown(wait=True)
