"""Where each slab went and when, and whom it was promised to, by the record's own operations."""

from catalogue import promises
from catalogue.demo.kilns import Kilns
from catalogue.demo.notes import rounded
from catalogue.demo.stock import Piece, Yard, bay_of_each_stage
from catalogue.models import Client, Commission, HowMade, Use
from inventory import holds, moves, receiving
from inventory.demo import yard as source
from inventory.models import GoneHow, Slab, Species, StageKind

MARKED_DOWN = 8
_HOW_MADE = {
    "one_slab": HowMade.ONE_SLAB,
    "bookmatched_pair": HowMade.BOOKMATCHED,
    "resin_pair": HowMade.RESIN_PAIR,
}
_GONE = {"sold": GoneHow.SOLD, "used": GoneHow.USED, "written off": GoneHow.WRITTEN_OFF}


def gone_days_ago(yard: Yard) -> dict[tuple[str, int], int]:
    """When each slab that went did, by log and number."""
    rows = yard.source.gone
    return {(row.log, number): row.days_ago for row in rows for number in row.slabs}


def load_moves(yard: Yard) -> None:
    """Every log's slabs through its stages, a stack at a time; those gone by then stay behind."""
    gone = gone_days_ago(yard)
    workers = yard.of_role("worker")
    bays = bay_of_each_stage(yard)
    kilns = Kilns(yard)
    for order, log in enumerate(yard.source.logs):
        pieces = yard.of_log(log.code)
        for stage, bay in zip(log.stages, bays[log.code], strict=True):
            by = workers[order % len(workers)]
            kilns.follow(log, stage, bay, by, {number for code, number in gone if code == log.code})
            there = [piece for piece in pieces if _is_there(piece, gone, stage.from_days_ago)]
            moves.move_many(
                [piece.slab for piece in there],
                place=yard.places[stage.place],
                bay=bay,
                by=by,
                on=yard.clock.day(stage.from_days_ago),
                now=yard.clock.at(stage.from_days_ago, 16),
                stage=StageKind(stage.kind),
                settles=False,
            )


def _is_there(piece: Piece, gone: dict[tuple[str, int], int], days_ago: int) -> bool:
    return gone.get((piece.log.code, piece.number), -1) < days_ago


# --- clients, commissions and what was promised ---------------------------------------


def load_commissions(yard: Yard) -> dict[str, Commission]:
    """The clients and what they asked for, by title."""
    clients = {row.name: _client(row) for row in yard.source.clients}
    species = {row.common_name: row for row in Species.objects.filter(is_published=True)}
    made = {}
    for wish in yard.source.commissions:
        commission = _commission(yard, wish, clients[wish.client])
        commission.species.set([species[name] for name in wish.species])
        made[wish.title] = commission
    return made


def _client(row: source.Client) -> Client:
    return Client.objects.create(name=row.name, note=f"{row.place}. {row.note}")


def _commission(yard: Yard, wish: source.Commission, client: Client) -> Commission:
    how_made = _HOW_MADE[wish.method]
    commission = Commission.objects.create(
        title=wish.title,
        client=client,
        top_shape=wish.top,
        top_length_mm=wish.length_mm,
        top_width_mm=wish.width_mm,
        finished_thickness_mm=wish.thickness_mm,
        how_made=how_made,
        use=Use.RESIN if how_made == HowMade.RESIN_PAIR else Use.INTERIOR,
        budget=wish.budget,
        start_on=yard.clock.day(-wish.starts_in_days),
        home_temp_c=wish.home_temp_c,
        home_rh_pct=wish.home_rh_pct,
        note=wish.note,
    )
    made_at = yard.clock.at(wish.asked_days_ago, 10)
    Commission.objects.filter(pk=commission.pk).update(made_at=made_at)
    return commission


def load_promises(yard: Yard, commissions: dict[str, Commission]) -> None:
    """Holds and allotments in the order they were made; those whose day has passed lapse."""
    for row in sorted(yard.source.holds, key=lambda row: -row.made_days_ago):
        commission = commissions[row.commission]
        slabs = yard.slabs(row.log, row.slabs)
        now = yard.clock.at(row.made_days_ago, 11)
        if row.until_in_days is None:
            promises.allot(commission, slabs, by=yard.owner, now=now)
        else:
            until = yard.clock.day(-row.until_in_days)
            promises.hold(commission, slabs, until=until, by=yard.owner, now=now)
    _lapse(yard)


def _lapse(yard: Yard) -> None:
    """Each overdue hold ended on the morning after its last day."""
    ends = {row.until_in_days for row in yard.source.holds if row.until_in_days is not None}
    for days_ago in sorted((-end - 1 for end in ends if end < 0), reverse=True):
        holds.lapse_due(yard.clock.day(days_ago), yard.clock.at(days_ago, 7))


def load_gone(yard: Yard) -> None:
    """Sold, used, written off: by the buyer, except what the owner let go herself."""
    for row in sorted(yard.source.gone, key=lambda row: -row.days_ago):
        by = yard.buyer if row.how == "sold" else yard.owner
        for slab in yard.slabs(row.log, row.slabs):
            now = yard.clock.at(row.days_ago, 14)
            holds.mark_gone(slab, how=_GONE[row.how], by=by, now=now, note=row.note)


def load_markdowns(yard: Yard) -> None:
    """A few slabs that lay long were priced down, which the ledger tells."""
    gone = gone_days_ago(yard)
    held = {(row.log, number) for row in yard.source.holds for number in row.slabs}
    here = [p for p in yard.pieces if (p.log.code, p.number) not in gone.keys() | held]
    for step, piece in enumerate(here[3 : 10 * MARKED_DOWN : 10]):
        _mark_down(yard, piece.slab, 40 + 9 * step)


def _mark_down(yard: Yard, slab: Slab, days_ago: int) -> None:
    slab.refresh_from_db()
    if slab.asking_price is None:
        return
    receiving.price(
        slab,
        yard.buyer,
        yard.clock.at(days_ago, 17),
        asking_price=rounded(0.9 * float(slab.asking_price)),
        own_cost=slab.own_cost,
        note="Has lain here long enough.",
    )
