"""The process that reads a file of others, forked from one that has imported its libraries.

The planner starts one anew for each file, which takes a second; a study of thousands cannot. It
imports nothing of the study, so that a fork costs milliseconds.
"""

from __future__ import annotations

import gc
import io
import multiprocessing
import os
import sys

from planner.vetting import guard

_LIBRARIES = ("fastexcel", "arro3.io", "planner.vetting.workbook", "planner.report.word.writing")
_FORKS = multiprocessing.get_context("forkserver")
_FORKS.set_forkserver_preload([*_LIBRARIES, "docxtpl", __name__])


class Reader:
    """What `planner.vetting.guard` has of a process that it starts."""

    def communicate(self, given: bytes, timeout: float) -> tuple[bytes, bytes]:
        here, there = _FORKS.Pipe(duplex=False)
        told, telling = _FORKS.Pipe(duplex=False)
        process = _FORKS.Process(target=read, args=(given, there, telling))
        process.start()
        there.close()
        telling.close()
        answers = [_all_of(pipe.fileno()) for pipe in (here, told)]
        process.join(timeout)
        self.returncode = process.exitcode
        return answers[0], answers[1]

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None:
        pass


def start() -> None:
    """Start the process to fork from; what runs as a program is not imported into forks."""
    main = sys.modules["__main__"]
    main.__spec__ = None
    vars(main).pop("__file__", None)
    process = _FORKS.Process(target=gc.collect)
    process.start()
    process.join()


def _all_of(descriptor: int) -> bytes:
    return b"".join(iter(lambda: os.read(descriptor, 1 << 20), b""))


def read(given: bytes, answer, told) -> None:
    """Read a file as the planner's own process does."""
    os.dup2(answer.fileno(), 1)
    os.dup2(told.fileno(), 2)
    answer.close()
    told.close()
    sys.stdin = io.TextIOWrapper(io.BytesIO(given))
    guard.main()
    os.close(1)
