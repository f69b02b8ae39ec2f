"""Sample boards: sections, the calculated oven-dry mass, and what each weighing tells."""

from datetime import timedelta
from typing import Any

import pytest

from inventory import boards, readiness
from inventory.boards import BoardCourse, BoardProblem, Section
from inventory.models import BoardSections, Person, SampleBoard, Weighing
from tests.factories import make_bay, make_log, make_slab
from tests.inventory.check_helpers import NOW, TODAY

SECTIONS: tuple[Section, ...] = ((0.171, 0.100), (0.087, 0.050))


def make_board(**kwargs: Any) -> SampleBoard:
    kwargs = kwargs or {"slab": make_slab()}
    return SampleBoard.objects.create(name=f"Board {SampleBoard.objects.count()}", **kwargs)


def cut(board: SampleBoard, by: Person, days_ago: int = 10, **kwargs: Any) -> BoardSections:
    defaults: dict[str, Any] = {
        "on": TODAY - timedelta(days=days_ago),
        "board_mass_kg": 2.85,
        "sections": SECTIONS,
        "now": NOW,
    }
    return boards.record_sections(board, by=by, **{**defaults, **kwargs})


def weigh(
    board: SampleBoard, by: Person, mass_kg: float, days_ago: int = 0, **kwargs: Any
) -> Weighing:
    on = TODAY - timedelta(days=days_ago)
    return boards.weigh_board(board, by=by, on=on, mass_kg=mass_kg, now=NOW, **kwargs)


def course(board: SampleBoard) -> BoardCourse:
    return boards.course_of(boards.with_course(SampleBoard.objects.filter(pk=board.pk)).get())


def test_the_worked_example_from_sections_to_a_later_weighing(worker: Person) -> None:
    """AH-188 (Dry Kiln Operator's Manual), ch. 6, its formulas: 72.5 %, 1652.2 g, 30.1 %."""
    board = make_board()
    cut(board, worker)
    weigh(board, worker, 2.15)
    found = course(board)
    assert found.cuts[0].section_pcts == pytest.approx((71.0, 74.0))
    assert found.cuts[0].mc_pct == pytest.approx(72.5)
    assert found.cuts[0].oven_dry_kg == pytest.approx(1.6522, abs=5e-5)
    assert found.weights[0].mc_pct == pytest.approx(30.1, abs=0.05)
    assert (found.latest_pct, found.latest_on) == (found.weights[0].mc_pct, TODAY)


def test_dry_masses_may_come_a_day_later(worker: Person) -> None:
    board = make_board()
    wet = cut(board, worker, sections=[(0.171, None), (0.087, None)])
    weigh(board, worker, 2.15)
    waiting = course(board)
    assert waiting.waiting is not None
    assert waiting.weights[0].mc_pct is None
    cut(board, worker, supersedes=wet)
    done = course(board)
    assert done.waiting is None
    assert done.weights[0].mc_pct == pytest.approx(30.1, abs=0.05)


def test_new_sections_mend_the_estimate_from_their_day_on(worker: Person) -> None:
    board = make_board()
    cut(board, worker, days_ago=40)
    weigh(board, worker, 2.15, days_ago=30)
    cut(board, worker, days_ago=10, board_mass_kg=1.9, sections=[(0.056, 0.050)])
    weigh(board, worker, 1.85)
    latest, earlier = course(board).weights
    assert earlier.mc_pct == pytest.approx(30.1, abs=0.05)
    assert latest.mc_pct == pytest.approx(100 * (1.85 * 1.12 / 1.9 - 1))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"on": TODAY + timedelta(days=1)}, "ahead of today"),
        ({"sections": []}, "at least one section"),
        ({"sections": [(0.1, 0.2)]}, "less oven-dry"),
        ({"sections": [(0.1, 0.0)]}, "less oven-dry"),
    ],
)
def test_sections_that_cannot_be_are_refused(
    worker: Person, changes: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(BoardProblem, match=sentence):
        cut(make_board(), worker, **changes)


def test_weighings_that_cannot_be_are_refused(worker: Person) -> None:
    board = make_board()
    with pytest.raises(BoardProblem, match="No sections"):
        weigh(board, worker, 2.15)
    cut(board, worker)
    with pytest.raises(BoardProblem, match="no water"):
        weigh(board, worker, 1.6)
    with pytest.raises(BoardProblem, match="No sections"):
        weigh(board, worker, 2.15, days_ago=11)
    SampleBoard.objects.filter(pk=board.pk).update(is_retired=True)
    with pytest.raises(BoardProblem, match="no longer weighed"):
        weigh(board, worker, 2.15)


def test_a_form_sent_twice_stores_one_row(worker: Person) -> None:
    board = make_board()
    assert cut(board, worker, entry_key="a") == cut(board, worker, entry_key="a")
    assert weigh(board, worker, 2.1, entry_key="b") == weigh(board, worker, 2.1, entry_key="b")
    assert (BoardSections.objects.count(), Weighing.objects.count()) == (1, 1)


def test_a_correction_is_made_once(worker: Person) -> None:
    board = make_board()
    first = cut(board, worker)
    weight = weigh(board, worker, 2.15)
    cut(board, worker, supersedes=first)
    right = weigh(board, worker, 2.05, supersedes=weight)
    assert [w.row for w in course(board).weights] == [right]
    with pytest.raises(BoardProblem, match="corrected these sections already"):
        cut(board, worker, supersedes=first)
    with pytest.raises(BoardProblem, match="corrected this weighing already"):
        weigh(board, worker, 2.05, supersedes=weight)


def test_boards_stand_for_a_slab_its_log_and_its_bay(worker: Person) -> None:
    log, bay = make_log(), make_bay()
    slab = make_slab(log=log, place=bay.place, bay=bay)
    mine = [make_board(slab=slab), make_board(log=log), make_board(bay=bay)]
    make_board(slab=make_slab())
    make_board(log=make_log())
    make_board(slab=slab, is_retired=True)
    assert [found.board for found in boards.standing_for(slab)] == mine


def test_a_board_does_not_make_its_slab_ready(worker: Person) -> None:
    slab = make_slab()
    board = make_board(slab=slab)
    cut(board, worker)
    weigh(board, worker, 1.6522 * 1.072)
    assert course(board).latest_pct == pytest.approx(7.2, abs=0.01)
    verdict = readiness.verdict_of(slab, TODAY)
    assert not verdict.is_ready
    assert verdict.condition == "unknown"
