"""What is said of a candidate and of what was passed over: each a sentence that is true of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from catalogue.drying_chances import Chance
from catalogue.layout import ALLOWANCES
from catalogue.models import Commission
from catalogue.options import Option
from inventory.models import Slab
from inventory.readiness import Outcome, Verdict
from inventory.templatetags.wood import money
from inventory.wood import measure
from inventory.words import day_words, join_words

LITRES_PER_US_GALLON = 3.785411784
MM3_PER_LITRE = 1e6
JUST_MM = 2.0
# A chance this good speaks for wood, one this poor against it.
LIKELY, UNLIKELY = 0.8, 0.2


class Speaks(StrEnum):
    """Which way a reason speaks."""

    FOR = "for"
    AGAINST = "against"
    OPEN = "open"


@dataclass(frozen=True)
class Said:
    """One reason: what it is about, which way it speaks, and the sentence."""

    about: str
    speaks: Speaks
    sentence: str


@dataclass(frozen=True)
class Voice:
    """How to speak to this viewer: units, and whether costs may be named."""

    system: str = measure.IMPERIAL
    sees_cost: bool = False

    def length(self, mm: float) -> str:
        return measure.format_length(mm, self.system, kind="top_width")

    def resin(self, volume_mm3: float) -> str:
        litres = volume_mm3 / MM3_PER_LITRE
        if self.system == measure.METRIC:
            return f"{litres:.1f}{measure.NBSP}l"
        return f"{litres / LITRES_PER_US_GALLON:.1f}{measure.NBSP}gal"


def fit(option: Option, voice: Voice) -> Said:
    laid = option.layout
    if laid.gap_mm is not None:
        least, greatest = (voice.length(gap) for gap in laid.gap_mm)
        allowed = voice.length(ALLOWANCES.resin_gap_share * laid.top.width_mm)
        return _for("fit", f"The resin is {least} to {greatest} wide; {allowed} is allowed.")
    spare = voice.length(max(laid.margin_mm, 0.0))
    if laid.margin_mm < JUST_MM:
        return _for("fit", "It just fits, with nothing to spare.")
    if laid.joint == "glued":
        return _for("fit", f"Each half fits, with {spare} of width to spare.")
    return _for("fit", f"It fits, with {spare} to spare on every side.")


def thickness(option: Option, commission: Commission, voice: Voice) -> Said:
    thinnest = min(slab.thickness_mm for slab in option.slabs)
    left = voice.length(thinnest - 2 * ALLOWANCES.face_mm)
    wanted = voice.length(commission.finished_thickness_mm)
    rough = voice.length(thinnest)
    return _for("thickness", f"{rough} thick: {left} after flattening, {wanted} wanted.")


def left_over(option: Option, voice: Voice) -> Said:
    share = option.left_over_mm3 / option.volume_mm3
    volume = measure.format_volume(option.left_over_mm3, voice.system)
    return Said("left_over", Speaks.OPEN, f"Leaves {volume}, {share:.0%} of the wood.")


def resin(option: Option, commission: Commission, voice: Voice) -> Said:
    volume = option.layout.resin_mm2 * commission.finished_thickness_mm
    area = measure.format_area(option.layout.resin_mm2, voice.system)
    sentence = f"About {voice.resin(volume)} of resin: {area} at the finished thickness."
    return Said("resin", Speaks.OPEN, sentence)


def moistures(
    slabs: Sequence[Slab], verdicts: Sequence[Verdict], commission: Commission
) -> list[Said]:
    """What is known of dryness today; see `start` for what is expected."""
    if all(verdict.is_ready for verdict in verdicts):
        return [_ready(verdicts, commission)]
    several = len(slabs) > 1
    return [_moisture(s, v, several) for s, v in zip(slabs, verdicts, strict=True)]


def _ready(verdicts: Sequence[Verdict], commission: Commission) -> Said:
    both = len(verdicts) > 1
    words = f"Both are ready for {verdicts[0].target.use_words}." if both else verdicts[0].in_words
    start = commission.start_on
    if start is not None and any(v.until is not None and start > v.until for v in verdicts):
        it = "them" if both else "it"
        words += f" Check {it} again before work starts on {day_words(start, verdicts[0].on)}."
    return _for("moisture", words)


def _moisture(slab: Slab, verdict: Verdict, several: bool) -> Said:
    name = f"{slab.display_code}: " if several else ""
    if verdict.is_ready:
        return _for("moisture", f"{name}{verdict.in_words}")
    speaks = Speaks.OPEN if slab.mc_pct is None else Speaks.AGAINST
    return Said("moisture", speaks, f"{name}Not ready today. {_main_reason(verdict)}")


def start(
    option: Option, commission: Commission, is_ready: bool, on: date, chance: Chance | None
) -> Said | None:
    """How long is left when something is still wet, and the chance that it is dry by then."""
    if is_ready:
        return None
    if commission.start_on is None:
        return None if chance is None else Said("start", Speaks.OPEN, _expected(option, chance))
    when = day_words(commission.start_on, on)
    days = (commission.start_on - on).days
    if days <= 0:
        return Said("start", Speaks.AGAINST, f"Work was to start on {when}.")
    left = "tomorrow" if days == 1 else f"in {days} days"
    begins = f"Work starts {left}, on {when}"
    if chance is None or chance.p is None:
        why = "" if chance is None else f" {_expected(option, chance)}"
        return Said("start", Speaks.OPEN, f"{begins}; when it will be dry is not known.{why}")
    if chance.answer.is_too_dry:
        return Said("start", Speaks.OPEN, f"{begins}. {_expected(option, chance)}")
    it = "both are" if len(option.slabs) > 1 else "it is"
    said = f"{begins}: the chance that {it} dry by then is {chance.in_words}."
    return Said("start", _how_likely(chance.p), f"{said} {_expected(option, chance)}")


def expected(chance: Chance, start: date | None, on: date) -> str:
    """Of one slab promised and not ready: when it will be dry, and the chance by the start."""
    if start is None or chance.p is None or chance.answer.is_too_dry:
        return chance.answer.sentence
    by = day_words(start, on)
    return f"{chance.answer.sentence} Chance of being dry by {by}: {chance.in_words}."


def _expected(option: Option, chance: Chance) -> str:
    name = f"{chance.slab.display_code}: " if len(option.slabs) > 1 else ""
    return f"{name}{chance.answer.sentence}"


def _how_likely(p: float) -> Speaks:
    if p >= LIKELY:
        return Speaks.FOR
    return Speaks.AGAINST if p <= UNLIKELY else Speaks.OPEN


def price(option: Option, commission: Commission, voice: Voice) -> Said:
    cost = f" It cost {money(option.cost)}." if voice.sees_cost and option.cost else ""
    asking, budget = option.asking, commission.budget
    if asking is None:
        return Said("price", Speaks.OPEN, f"No asking price is set.{cost}")
    if budget is None:
        return Said("price", Speaks.OPEN, f"Asking {money(asking)}.{cost}")
    speaks, words = _against(asking, budget)
    return Said("price", speaks, f"Asking {money(asking)}, {words}.{cost}")


def log(option: Option, beside: list[Slab]) -> Said | None:
    """Where it comes from, and what of its log is free beside it."""
    first = option.slabs[0]
    if len(option.slabs) == 2:
        return _pair_log(option)
    if not beside:
        return None
    names = join_words([f"{slab.number_in_log} ({slab.display_code})" for slab in beside])
    is_are = "is" if len(beside) == 1 else "are"
    slabs = "Slab" if len(beside) == 1 else "Slabs"
    return _for("log", f"{slabs} {names} of log {first.log} {is_are} free beside it.")


def _pair_log(option: Option) -> Said:
    first, second = option.slabs
    if not option.is_one_log:
        return Said("log", Speaks.OPEN, "From different logs: colour and grain may differ.")
    numbers = sorted(slab.number_in_log or 0 for slab in (first, second))
    return _for("log", f"Slabs {join_words([str(n) for n in numbers])} of log {first.log}.")


def _main_reason(verdict: Verdict) -> str:
    """The reason a joiner would give first: how wet it is, when that is what is wrong."""
    wrong = [reason for reason in verdict.unmet if reason.outcome is Outcome.NOT_MET]
    wet = [reason for reason in wrong if reason.rule == "target"]
    first = next(iter(wet or wrong or verdict.unmet), None)
    return first.sentence if first is not None else verdict.in_words


def _against(asking: Decimal, budget: Decimal) -> tuple[Speaks, str]:
    if asking > budget:
        return Speaks.AGAINST, f"{money(asking - budget)} over the budget"
    if asking == budget:
        return Speaks.FOR, "just the budget"
    return Speaks.FOR, f"{money(budget - asking)} under the budget"


def _for(about: str, sentence: str) -> Said:
    return Said(about, Speaks.FOR, sentence)
