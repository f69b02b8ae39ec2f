"""Sample boards: sections cut, weighings, and the moisture content they tell of.

A board informs: it says how far the pieces it stands for have come. It never makes one of them
ready by itself, since it is not that piece.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from inventory.models import Basis, BoardSections, Person, SampleBoard, Slab, Weighing
from inventory.wood import weighing
from inventory.wood.weighing import WeighingProblem

Section = tuple[float, float | None]
"""A moisture section: mass when cut and oven-dry mass (None while it is in the oven), kg."""


class BoardProblem(ValueError):
    """Why something cannot be recorded of a board: a sentence, and the `field` it is about."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


@dataclass(frozen=True)
class Cut:
    """Sections cut, and what follows from them; None while they are in the oven."""

    row: BoardSections
    section_pcts: tuple[float, ...]
    mc_pct: float | None
    oven_dry_kg: float | None

    @property
    def is_dry(self) -> bool:
        return self.oven_dry_kg is not None


@dataclass(frozen=True)
class BoardWeight:
    """One weighing of a board; `mc_pct` None while no sections are dry, or when it cannot be."""

    row: Weighing
    mc_pct: float | None
    cut: Cut | None

    @property
    def oven_dry_kg(self) -> float | None:
        return self.cut.oven_dry_kg if self.cut else None


@dataclass(frozen=True)
class BoardCourse:
    """A board's whole course, latest first."""

    board: SampleBoard
    cuts: tuple[Cut, ...]
    weights: tuple[BoardWeight, ...]

    @property
    def latest_pct(self) -> float | None:
        known = self._known()
        return known[1] if known else None

    @property
    def latest_on(self) -> date | None:
        known = self._known()
        return known[0] if known else None

    @property
    def waiting(self) -> Cut | None:
        """Sections still in the oven."""
        return next((cut for cut in self.cuts if not cut.is_dry), None)

    def _known(self) -> tuple[date, float] | None:
        """Day and moisture content of the last weighing or cut that tells one."""
        found = [(w.row.on, w.row.at, w.mc_pct) for w in self.weights if w.mc_pct is not None]
        found += [(c.row.on, c.row.at, c.mc_pct) for c in self.cuts if c.mc_pct is not None]
        latest = max(found, key=lambda one: one[:2], default=None)
        return (latest[0], latest[2]) if latest else None


def with_course(boards: "QuerySet[SampleBoard]") -> "QuerySet[SampleBoard]":
    """Boards with what `course_of` reads: three queries however many."""
    cuts = BoardSections.objects.current().select_related("by")
    weights = Weighing.objects.current().select_related("by")
    named = boards.select_related("slab__species", "log__species", "bay__place")
    with_cuts = named.prefetch_related(Prefetch("cuts", queryset=cuts, to_attr="current_cuts"))
    return with_cuts.prefetch_related(
        Prefetch("weighings", queryset=weights, to_attr="current_weights")
    )


def course_of(board: SampleBoard) -> BoardCourse:
    """The course of a board from `with_course`."""
    cuts = tuple(_cut(row) for row in board.current_cuts)  # type: ignore[attr-defined]
    rows: list[Weighing] = board.current_weights  # type: ignore[attr-defined]
    return BoardCourse(board, cuts, tuple(_weight(row, cuts) for row in rows))


def standing_for(slab: Slab) -> list[BoardCourse]:
    """The boards in use that stand for this slab, its log or what lies in its bay."""
    stands = Q(slab=slab)
    if slab.log_id is not None:
        stands |= Q(log=slab.log_id)
    if slab.bay_id is not None:
        stands |= Q(bay=slab.bay_id)
    return [course_of(board) for board in with_course(_in_use().filter(stands))]


@transaction.atomic
def record_sections(
    board: SampleBoard,
    *,
    by: Person,
    on: date,
    board_mass_kg: float,
    sections: Sequence[Section],
    note: str = "",
    entry_key: str | None = None,
    now: datetime | None = None,
    supersedes: BoardSections | None = None,
) -> BoardSections:
    """Store sections as cut; dry masses may come later, in a row that supersedes this one.

    Raises:
        BoardProblem: a day ahead, no section, a dry mass above the wet one, corrected already, or
            other numbers under a key already used.
    """
    now = now or timezone.now()
    _queue(board)
    if entry_key and (sent := BoardSections.objects.filter(entry_key=entry_key).first()):
        _refuse_other_numbers(sent.board_mass_kg, board_mass_kg)
        return sent
    _refuse(board, on, timezone.localdate(now))
    _refuse_sections(sections)
    if supersedes and BoardSections.objects.filter(supersedes=supersedes).exists():
        raise BoardProblem("Somebody has corrected these sections already: look at theirs first.")
    return BoardSections.objects.create(
        board=board,
        by=by,
        on=on,
        at=now,
        board_mass_kg=board_mass_kg,
        sections=[list(section) for section in sections],
        note=note,
        entry_key=entry_key or None,
        supersedes=supersedes,
    )


@transaction.atomic
def weigh_board(
    board: SampleBoard,
    *,
    by: Person,
    on: date,
    mass_kg: float,
    note: str = "",
    entry_key: str | None = None,
    now: datetime | None = None,
    supersedes: Weighing | None = None,
) -> Weighing:
    """Store what a board weighs.

    Raises:
        BoardProblem: a day ahead, no sections before it, a mass below the oven-dry one, corrected
            already, or another mass under a key already used.
    """
    now = now or timezone.now()
    _queue(board)
    if entry_key and (sent := Weighing.objects.filter(entry_key=entry_key).first()):
        _refuse_other_numbers(sent.mass_kg, mass_kg)
        return sent
    _refuse(board, on, timezone.localdate(now))
    if supersedes and Weighing.objects.filter(supersedes=supersedes).exists():
        raise BoardProblem("Somebody has corrected this weighing already: look at theirs first.")
    row = Weighing(
        board=board,
        by=by,
        on=on,
        at=now,
        mass_kg=mass_kg,
        basis=Basis.BOARD,
        note=note,
        entry_key=entry_key or None,
        supersedes=supersedes,
    )
    _refuse_mass(row, [_cut(cut) for cut in board.cuts.current()])
    row.save()
    return row


def _in_use() -> "QuerySet[SampleBoard]":
    return SampleBoard.objects.filter(is_retired=False)


def _queue(board: SampleBoard) -> None:
    """Two people with one board wait for each other."""
    board.refresh_from_db(from_queryset=SampleBoard.objects.select_for_update())


def _cut(row: BoardSections) -> Cut:
    sections = [(wet, dry) for wet, dry in row.sections]
    dried = [(wet, dry) for wet, dry in sections if dry is not None]
    if not dried or len(dried) < len(sections):
        return Cut(row, (), None, None)
    pcts = tuple(weighing.sections_mc_pct([pair]) for pair in dried)
    dry_kg = weighing.dry_mass_from_sections(row.board_mass_kg, dried)
    return Cut(row, pcts, weighing.sections_mc_pct(dried), dry_kg)


def _weight(row: Weighing, cuts: Iterable[Cut]) -> BoardWeight:
    """By the last dry sections cut on or before that day; new sections mend the estimate."""
    cut = next((cut for cut in cuts if cut.is_dry and cut.row.on <= row.on), None)
    if cut is None or cut.oven_dry_kg is None or row.mass_kg < cut.oven_dry_kg:
        return BoardWeight(row, None, cut)
    return BoardWeight(row, weighing.mc_by_mass_pct(row.mass_kg, cut.oven_dry_kg), cut)


def _refuse(board: SampleBoard, on: date, today: date) -> None:
    if on > today:
        raise BoardProblem("It cannot be dated ahead of today.", "on")
    if board.is_retired:
        raise BoardProblem("This board is no longer weighed: put it back in use first.")


def _refuse_other_numbers(stored_kg: float, typed_kg: float) -> None:
    if stored_kg != typed_kg:
        raise BoardProblem("This is on the record already, with another mass: correct it there.")


def _refuse_sections(sections: Sequence[Section]) -> None:
    if not sections:
        raise BoardProblem("Give at least one section.", "sections")
    for wet, dry in sections:
        if dry is not None and not 0 < dry <= wet:
            raise BoardProblem("A section weighs less oven-dry than when it was cut.", "sections")


def _refuse_mass(row: Weighing, cuts: Sequence[Cut]) -> None:
    if not any(cut.row.on <= row.on for cut in cuts):
        raise BoardProblem("No sections had been cut from it by that day: enter them first.", "on")
    cut = _weight(row, cuts).cut
    if cut is not None and cut.oven_dry_kg is not None:
        try:
            weighing.mc_by_mass_pct(row.mass_kg, cut.oven_dry_kg)
        except WeighingProblem as problem:
            raise BoardProblem(str(problem), "mass") from problem
