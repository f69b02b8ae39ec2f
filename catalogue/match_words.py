"""What is said of a candidate and of what was passed over: each a sentence that is true of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from catalogue.drying_chances import Chance
from catalogue.layout.laid import Layout
from catalogue.layout.offcuts import Rectangle, Round
from catalogue.layout.rules import ALLOWANCES
from catalogue.models import Commission, HowMade
from catalogue.options import Option
from catalogue.top_figures import TopFigures
from inventory.models import ShapeBasis, Slab
from inventory.readiness import Outcome, Verdict
from inventory.templatetags.wood import money
from inventory.wood import measure
from inventory.words import day_words, join_words

LITRES_PER_US_GALLON = 3.785411784
MM3_PER_LITRE = 1e6
JUST_MM = 2.0
TURNED_DEG = 1.0
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


@dataclass(frozen=True)
class Left:
    """The largest rectangle and round still in what is left; None where there is none."""

    rectangle: Rectangle | None
    round: Round | None


def fit(option: Option, voice: Voice, asked_mm: float = 0.0) -> Said:
    """How it fits; what is spare is beyond the `asked_mm` kept all round."""
    laid = option.layout
    if laid.gap_mm is not None:
        return _resin_fit(laid, voice)
    spare = voice.length(max(laid.margin_mm, 0.0))
    beyond = beyond_asked(asked_mm, voice)
    if laid.margin_mm < JUST_MM:
        return _for("fit", f"It just fits, with nothing to spare{beyond}.")
    if laid.how == HowMade.BOOKMATCHED:
        return _for("fit", f"Each half fits, with {spare} of width to spare{beyond}.")
    if laid.top.is_live_edge:
        return _for("fit", f"At its narrowest it has {spare} to spare on either side{beyond}.")
    turned = abs(laid.placed[0].turn_deg)
    lies = f", turned {turned:.0f}° on the slab" if turned >= TURNED_DEG else ""
    return _for("fit", f"It fits, with {spare} to spare on every side{beyond}{lies}.")


def beyond_asked(asked_mm: float, voice: Voice) -> str:
    """What says that spare wood was asked for, and is not counted as spare."""
    return f" beyond the {voice.length(asked_mm)} asked" if asked_mm else ""


def _resin_fit(laid: Layout, voice: Voice) -> Said:
    assert laid.gap_mm is not None
    least, mean, greatest = (voice.length(gap) for gap in laid.gap_mm)
    allowed = voice.length(ALLOWANCES.resin_gap_share * laid.top.width_mm)
    return _for(
        "fit", f"The resin is {least} to {greatest} wide, {mean} on average; {allowed} is allowed."
    )


def thickness(option: Option, commission: Commission, voice: Voice) -> Said:
    thinnest = min(slab.thickness_mm for slab in option.slabs)
    left = voice.length(thinnest - 2 * ALLOWANCES.face_mm)
    wanted = voice.length(commission.finished_thickness_mm)
    rough = voice.length(thinnest)
    return _for("thickness", f"{rough} thick: {left} after flattening, {wanted} wanted.")


def left_over(option: Option, left: Left, voice: Voice) -> Said:
    """What stays of the slabs, and what the largest piece of it is still good for."""
    share = option.left_over_mm3 / option.volume_mm3 if option.volume_mm3 else 0.0
    volume = measure.format_volume(option.left_over_mm3, voice.system)
    holds = []
    if left.rectangle is not None:
        sides = (left.rectangle.length_mm, left.rectangle.width_mm)
        holds.append(f"a board of {' × '.join(voice.length(side) for side in sides)}")
    if left.round is not None:
        holds.append(f"a round of {voice.length(left.round.diameter_mm)}")
    good_for = f", with room for {' or '.join(holds)}" if holds else ""
    return Said("left_over", Speaks.OPEN, f"Leaves {volume}, {share:.0%} of the wood{good_for}.")


def resin(option: Option, figures: TopFigures, voice: Voice) -> Said | None:
    if not option.layout.has_resin:
        return None
    area = measure.format_area(figures.resin_mm2, voice.system)
    sentence = f"About {voice.resin(figures.resin_mm3)} of resin: {area} at the finished thickness."
    return Said("resin", Speaks.OPEN, sentence)


def mass(figures: TopFigures, voice: Voice) -> Said | None:
    """What the finished top weighs, with the lifting caution where it is heavy."""
    if figures.mass_kg is None:
        return None
    about = f"About {measure.format_mass(figures.mass_kg, voice.system)}."
    said = figures.caution or about
    return Said("mass", Speaks.OPEN, f"The finished top weighs {said[0].lower()}{said[1:]}")


def outline(option: Option) -> Said | None:
    """Said of wood whose outline was not traced: the layout is no better than its widths."""
    rough = [slab for slab in option.slabs if slab.shape_basis != ShapeBasis.TRACED]
    if not rough:
        return None
    names = join_words([slab.display_code for slab in rough]) if len(option.slabs) > 1 else "it"
    said = f"Approximate outline: trace {names} from a photograph before cutting."
    return Said("outline", Speaks.OPEN, said)


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
