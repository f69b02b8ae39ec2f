"""Two people reach for the same slab at the same moment: one gets it, the other a sentence."""

import threading
from collections.abc import Callable
from datetime import date

import pytest
from django.db import connection

from inventory import holds
from inventory.models import Hold, LedgerEntry, LedgerKind, Person, Slab
from tests.factories import at, make_person, make_slab

NOW = at(2026, 4, 10)
UNTIL = date(2026, 5, 3)
pytestmark = pytest.mark.django_db(transaction=True)

Deed = Callable[[Slab, Person], object]


def hold_it(slab: Slab, by: Person) -> Hold:
    return holds.place_hold(slab, label=by.username, until=UNTIL, by=by, now=NOW)


def allot_it(slab: Slab, by: Person) -> Hold:
    return holds.allot(slab, label=by.username, by=by, now=NOW)


def at_once(deeds: list[tuple[Deed, Slab, Person]]) -> tuple[list[object], list[str]]:
    """Run the deeds in threads started together: what came of them, and the refusals."""
    start = threading.Barrier(len(deeds))
    done: list[object] = []
    refused: list[str] = []

    def run(deed: Deed, slab: Slab, by: Person) -> None:
        try:
            start.wait()
            done.append(deed(slab, by))
        except holds.PromiseProblem as problem:
            refused.append(str(problem))
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=deed) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    return done, refused


@pytest.mark.parametrize("second", [hold_it, allot_it])
def test_of_two_people_at_once_exactly_one_gets_the_slab(second: Deed) -> None:
    slab, one, other = make_slab(), make_person("Owner"), make_person("Owner")
    copy = Slab.objects.get(pk=slab.pk)
    done, refused = at_once([(hold_it, slab, one), (second, copy, other)])
    assert len(done) == len(refused) == 1
    assert refused[0] in (f"{slab} is held until 3 May.", f"{slab} is allotted to a piece already.")
    assert Hold.objects.active().count() == 1
    assert LedgerEntry.objects.filter(slab=slab).count() == 1


def test_when_the_rule_is_asleep_the_database_still_lets_only_one_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(holds, "_demand_free", lambda slab, now: None)
    slab, one, other = make_slab(), make_person("Owner"), make_person("Owner")
    done, refused = at_once([(hold_it, slab, one), (hold_it, slab, other)])
    assert len(done) == 1
    assert refused == [f"{slab} was promised a moment ago."]
    assert LedgerEntry.objects.filter(slab=slab).count() == 1


def test_the_clock_ends_a_hold_once_though_two_processes_look_at_once() -> None:
    slab = make_slab()
    hold_it(slab, make_person("Owner"))
    late = date(2026, 5, 4)

    def sweep(slab: Slab, by: Person) -> int:
        return holds.lapse_due(late)

    done, refused = at_once([(sweep, slab, make_person()), (sweep, slab, make_person())])
    assert (sorted(map(str, done)), refused) == (["0", "1"], [])
    assert LedgerEntry.objects.filter(slab=slab, kind=LedgerKind.RELEASED).count() == 1
