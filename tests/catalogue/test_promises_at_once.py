"""Two owners reach for pairs that share a slab: one gets both of theirs, the other none."""

import threading
from datetime import date

import pytest
from django.db import connection

from catalogue import promises
from catalogue.models import Commission, CommissionHold
from inventory.holds import PromiseProblem
from inventory.models import Hold, LedgerEntry, Person, Slab
from tests.factories import at, make_commission, make_person, make_slab

NOW = at(2026, 4, 10)
UNTIL = date(2026, 5, 3)


@pytest.mark.django_db(transaction=True)
def test_of_two_pairs_that_share_a_slab_exactly_one_is_held_whole() -> None:
    """Named in opposite orders, so that locks taken as named would wait for each other."""
    first, shared, last = make_slab(), make_slab(), make_slab()
    wanted = [
        (make_commission(), [shared, first], make_person("Owner")),
        (make_commission(), [last, shared], make_person("Owner")),
    ]
    start = threading.Barrier(2)
    refused: list[str] = []

    def reach(commission: Commission, slabs: list[Slab], by: Person) -> None:
        try:
            start.wait()
            promises.hold(commission, slabs, until=UNTIL, by=by, now=NOW)
        except PromiseProblem as problem:
            refused.append(str(problem))
        finally:
            connection.close()

    threads = [threading.Thread(target=reach, args=each) for each in wanted]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert refused == [f"{shared} is held until 3 May."]
    assert Hold.objects.active().count() == CommissionHold.objects.count() == 2
    assert CommissionHold.objects.values("commission").distinct().count() == 1
    assert LedgerEntry.objects.count() == 2
