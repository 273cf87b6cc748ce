"""A plan's headline figures, prices and estimates in words, for card and terminal."""

from counting.pacing.card.document import Alternative, BeliefPart, Outlook, PlanDocument, PricePart
from counting.pacing.card.words import figures, price_words
from vision.times import clock


def decisive_head(document: PlanDocument) -> str:
    """Name what the sentence about the decisive station is about."""
    if document.lifts:
        return "Loads"
    return "Decisive" if document.strength_decides else "Longest stretch"


def source_words(document: PlanDocument) -> str:
    """Cap and sources of a plan in one line."""
    words = []
    if document.cap_s is not None:
        words.append(f"time cap {clock(document.cap_s, 0)}")
    words.append(
        "made from " + ", ".join(document.made_from)
        if document.made_from
        else "made without a film"
    )
    if document.typed:
        words.append("typed in: " + ", ".join(document.typed))
    return "; ".join(words)


def score_words(document: PlanDocument) -> list[tuple[str, str]]:
    """Headline figures: what is expected, what it is."""
    rows = {row.percentile: row for row in document.outlook[0].percentiles}
    low, middle, high = rows[10], rows[50], rows[90]
    headline = []
    if document.lifts:
        likely = [lift.load_kg for lift in document.lifts if lift.goes >= 0.5]
        value = f"{max(likely):.4g} kg" if likely else "–"
        headline.append((value, "the heaviest load that goes in at least 5 of 10 attempts"))
    elif document.outlook[0].finishes > 0.5 and middle.finish_s is not None:
        early, late = clock(high.finish_s, 0), clock(low.finish_s, 0)
        told = f"{early} to {late}" if low.finish_s else f"{early} or later"
        headline.append((clock(middle.finish_s, 0), f"finish; 8 of 10 attempts: {told}"))
    else:
        told = f"8 of 10 attempts: {low.reps} to {high.reps}"
        if low.reps == high.reps:
            told = "as 8 of 10 attempts"
        headline.append((f"{middle.reps} reps", told))
    if document.tie_break_rep is not None and middle.tie_break_s is not None:
        late = f"to {clock(low.tie_break_s, 0)}" if low.tie_break_s is not None else "or later"
        told = f"tie-break; 8 of 10 attempts: {clock(high.tie_break_s, 0)} {late}"
        headline.append((clock(middle.tie_break_s, 0), told))
    if document.target is not None and document.target_probability is not None:
        share = document.target_probability
        chance = "under 1 in 100" if share < 0.01 else f"{100 * share:.0f} in 100"
        headline.append((chance, f"chance of {document.target}"))
    return headline


def earns_words(item: Alternative) -> str:
    """Tell what an equal plan earns on average."""
    words = f"{item.mean_reps:.0f} reps on average"
    if item.finish_s is not None:
        words = f"finish {clock(item.finish_s, 0)}"
    if item.tie_break_s is not None:
        words += f", tie-break {clock(item.tie_break_s, 0)}"
    if item.failing >= 1.0:
        words += f", {item.failing:.0f} failed rep{'' if item.failing < 1.5 else 's'}"
    return words


def price_line(price: PricePart) -> str:
    """Tell a departure with its price."""
    told = price_words(
        price.reps, price.time_s, price.worse, price.failing, price.reached, equal=price.equal
    )
    return f"{price.words}: {told}"


def outlook_words(outlook: Outlook) -> str:
    """Name of a column of the percentile table."""
    if outlook.form == "all":
        return "all forms together"
    return f"{outlook.form} recovery ({100 * outlook.weight:.0f} % likely)"


def percentile_words(document: PlanDocument, outlook: Outlook, place: int) -> str:
    """One cell of the percentile table."""
    row = outlook.percentiles[place]
    words = clock(row.finish_s, 0) if row.finish_s is not None else f"{row.reps} reps"
    if document.tie_break_rep is not None and row.tie_break_s is not None:
        words += f", tie-break {clock(row.tie_break_s, 0)}"
    return words


def belief_cells(belief: BeliefPart) -> tuple[str, str, str, str]:
    """Name, value, interval and origin of a parameter, with no more digits than are known."""
    if belief.low == belief.high:
        return belief.name, f"{belief.typical:g} {belief.unit}", "", belief.origin
    low, typical, high = figures(belief.low, belief.typical, belief.high)
    return belief.name, f"{typical} {belief.unit}", f"{low} to {high}", belief.origin
