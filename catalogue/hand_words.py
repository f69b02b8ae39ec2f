"""What is said of a top laid by hand: one sentence, what is spare there or what is wrong."""

from catalogue.layout.laid import TOUCHING_MM2, Layout
from catalogue.layout.rules import ALLOWANCES
from catalogue.match_words import JUST_MM, Voice, beyond_asked
from catalogue.models import HowMade
from inventory.wood import measure

SHORT_MM = 0.05
"""So little is rounding, not a shortfall."""


def verdict(laid: Layout, voice: Voice, *, asked_mm: float = 0.0) -> str:
    """`asked_mm` is the spare wood to be kept all round: a top may lie on wood and yet too near
    its edge. The wane taken off is read from the slabs as they were placed.
    """
    if laid.gap_mm is not None:
        return _resin(laid, laid.gap_mm, voice, asked_mm)
    if not laid.fits:
        return _off_wood(laid, voice, asked_mm)
    spare, beyond = voice.length(laid.margin_mm), beyond_asked(asked_mm, voice)
    if laid.margin_mm < JUST_MM:
        return f"It just fits here, with nothing to spare{beyond}."
    if laid.how == HowMade.BOOKMATCHED:
        return f"Both halves fit here, with {spare} of width to spare{beyond}."
    if laid.top.is_live_edge:
        spared = f"{spare} to spare on either side at its narrowest{beyond}"
        return f"It is wide enough here: {spared}."
    return f"It fits here, with {spare} to spare on every side{beyond}."


def _off_wood(laid: Layout, voice: Voice, asked_mm: float) -> str:
    missing = -laid.margin_mm
    if laid.how == HowMade.BOOKMATCHED and laid.missing_mm2 > TOUCHING_MM2:
        area = measure.format_area(laid.missing_mm2, voice.system)
        return f"It does not lie wholly on wood: {area} of it is bare."
    if laid.top.is_live_edge:
        return _strip_short(laid, voice, missing)
    over = missing - asked_mm
    if over < SHORT_MM:
        left = voice.length(max(0.0, -over))
        edge = "the wane" if _wane_mm(laid) else "the wood’s edge"
        return f"It lies {left} from {edge}: {voice.length(asked_mm)} is asked all round."
    if over <= _wane_mm(laid):
        return f"It reaches {voice.length(over)} into the wane that is taken off."
    return f"It reaches over the wood by {voice.length(over - _wane_mm(laid))}."


def _wane_mm(laid: Layout) -> float:
    return max(placed.wane_mm for placed in laid.placed)


def _strip_short(laid: Layout, voice: Voice, missing_mm: float) -> str:
    left, _, right, _ = laid.finished.bounds
    short = laid.top.length_mm - (right - left)
    if short > SHORT_MM:
        return f"The wood ends here: {voice.length(short)} of the top’s length is missing."
    return f"It is too narrow here, by {voice.length(missing_mm)} on either side."


def _resin(laid: Layout, gap_mm: tuple[float, float, float], voice: Voice, asked_mm: float) -> str:
    least, mean, greatest = (voice.length(gap) for gap in gap_mm)
    gap = f"The resin is {least} to {greatest} wide, {mean} on average"
    allowed_mm = ALLOWANCES.resin_gap_share * laid.top.width_mm
    if laid.fits:
        return f"{gap}; {voice.length(allowed_mm)} is allowed."
    if gap_mm[2] > allowed_mm:
        return f"{gap}: at its widest it is more than the {voice.length(allowed_mm)} allowed."
    if laid.how == HowMade.RESIN_PAIR and gap_mm[0] < ALLOWANCES.least_gap_mm:
        close = voice.length(ALLOWANCES.least_gap_mm)
        return f"{gap}: less than {close} is hard to pour full. Draw the slabs apart."
    beyond = f" and the {voice.length(asked_mm)} asked beyond it" if asked_mm else ""
    return (
        f"{gap}. A slab falls short of the top’s edge{beyond} by {voice.length(-laid.margin_mm)}."
    )
