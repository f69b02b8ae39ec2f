"""Drawing the slabs' photographs on every core.

Nothing here needs Django, so that a fresh process (all that some systems can start) begins in a
moment. Where no process can be started, the pictures are drawn in this one.
"""

import os
import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context

from PIL import Image, ImageOps

from inventory.demo.frame import px_per_m_for
from inventory.demo.look import SpeciesLook
from inventory.demo.picture import draw_detail, draw_edge, draw_face
from inventory.demo.shape import DemoShape
from inventory.photos.intake import Intake, from_image

FACE_PX = 1400
_BURL_TAKES = 2.5  # times as long as plain wood
_NO_PROCESSES = (OSError, ImportError, NotImplementedError, BrokenProcessPool)


@dataclass(frozen=True, eq=False)
class Sitter:
    """A slab to be drawn, and in which roles; `key` tells the caller whose picture it is."""

    key: int
    shape: DemoShape
    look: SpeciesLook
    figure: frozenset[str]
    roles: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Drawn:
    """One finished picture of one sitter."""

    key: int
    role: str
    intake: Intake


Stack = Sequence[Sitter]
"""Slabs of one log: they share their rings, so they are drawn by one process."""


@contextmanager
def drawing(stacks: Sequence[Stack], processes: int | None = None) -> Iterator[Iterator[Drawn]]:
    """Begin drawing at once; gives the pictures as they are finished, in no order.

    `processes` is every core unless told; with 1 they are drawn here, when they are asked for.
    """
    pool = _pool(processes or cores())
    try:
        yield _finished(pool, stacks)
    finally:
        if pool:
            pool.shutdown(wait=False, cancel_futures=True)


def cores() -> int:
    """How many this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def draw(sitter: Sitter, role: str) -> Image.Image:
    """The picture of that role, RGB."""
    shape, look, figure = sitter.shape, sitter.look, sitter.figure
    scale = px_per_m_for(shape, FACE_PX)
    if role == "edge":
        return draw_edge(shape, look, seed=shape.seed, figure=figure)
    if role == "detail":
        return draw_detail(shape, look, seed=shape.seed, figure=figure)
    if role == "face_wet":
        return draw_face(shape, look, seed=shape.seed, figure=figure, wet=True, px_per_m=scale)
    face = draw_face(shape, look, seed=shape.seed, figure=figure, px_per_m=scale)
    # Turned over along its length, what was the far edge lies near.
    return ImageOps.flip(face) if role == "other_face" else face


def draw_stack(stack: Stack) -> list[Drawn]:
    """Every picture of every sitter, developed as an upload would be."""
    return [
        Drawn(sitter.key, role, from_image(draw(sitter, role)))
        for sitter in stack
        for role in sitter.roles
    ]


def _pool(processes: int) -> ProcessPoolExecutor | None:
    if processes < 2:
        return None
    try:
        # "spawn" works alike on every system, and leaves the database's connection alone.
        return ProcessPoolExecutor(processes, get_context("spawn"), initializer=_leave_ctrl_c)
    except _NO_PROCESSES:
        return None


def _leave_ctrl_c() -> None:
    """Stopping is the parent's to handle, in one sentence."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _finished(pool: ProcessPoolExecutor | None, stacks: Sequence[Stack]) -> Iterator[Drawn]:
    """The pictures; the pool is put to work now, not when the first is asked for."""
    waiting = _submitted(pool, stacks) if pool else {}
    return _collected(waiting, stacks)


def _submitted(
    pool: ProcessPoolExecutor, stacks: Sequence[Stack]
) -> dict[Future[list[Drawn]], int]:
    longest_first = sorted(range(len(stacks)), key=lambda number: -_work(stacks[number]))
    try:
        return {pool.submit(draw_stack, stacks[number]): number for number in longest_first}
    except _NO_PROCESSES:
        return {}


def _work(stack: Stack) -> float:
    """How long a stack takes, in plain pictures; the longest begin first, so none is waited for."""
    times = (_BURL_TAKES if "burl" in sitter.figure else 1.0 for sitter in stack)
    return sum(len(sitter.roles) * each for sitter, each in zip(stack, times, strict=True))


def _collected(waiting: dict[Future[list[Drawn]], int], stacks: Sequence[Stack]) -> Iterator[Drawn]:
    """From the pool as long as it lasts; what it did not deliver is drawn here."""
    left = set(range(len(stacks)))
    try:
        for future in as_completed(waiting):
            finished = future.result()
            # Nothing keeps the future: all the pictures together are some 200 MB.
            left.discard(waiting.pop(future))
            yield from finished
    except BrokenProcessPool:
        pass
    for number in sorted(left):
        yield from draw_stack(stacks[number])
