"""What one change would do, the price of each limit, and cost against risk: in words, bars and one chart."""

from typing import Any

from wetfront.dossier.paper import Caps, capped, fitting, more
from wetfront.dossier.tradeoff import TITLE, bar_svg, frontier_svg
from wetfront.dossier.words import number, plain, risk_title, signed
from wetfront.nouns.plan import Change, Plan

LARGEST_SHARE = 2.0
"""Of a limit: what the longest bar of a risk stands for; a larger change ends in a tip."""
LEAST_FOR_A_CHART = 2
"""Plans from which on cost against risk is worth a picture."""


def changes_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    """The rows that fit, largest effect first, each with a bar for cost and one for the worst risk."""
    shown = plan.changes[: caps.changes]
    costs = max((abs(change.cost_change_cu) for change in plan.changes), default=0.0)
    shares = min(LARGEST_SHARE, max((abs(change.worst_share_change) for change in plan.changes), default=0.0))
    return {
        "rows": [_row(plan, change, costs, shares) for change in shown],
        "more": more(len(plan.changes), caps.changes),
        "key": "Largest effect first; black: dearer, riskier; white: cheaper, less risk. Worst risk: the largest one, "
        "as percent of its limit. ±: one standard error.",
    }


def _row(plan: Plan, change: Change, largest_cost: float, largest_share: float) -> dict[str, str]:
    cost, share = signed(change.cost_change_cu), signed(100 * change.worst_share_change)
    moved = ", ".join(
        f"{plain(risk_title(plan, key)).lower()} {signed(100 * by, 1)}" for key, by in change.risk_changes[:2]
    )
    title = fitting(change.title, 60)
    return {
        "title": title,
        "cost": cost,
        "error": f"± {number(change.cost_error_cu, 0)}" if change.cost_error_cu >= 0.5 else "",
        "cost_bar": bar_svg(change.cost_change_cu, largest_cost, title, f"cost {cost} {plain(plan.currency)}"),
        "share": share,
        "share_bar": bar_svg(change.worst_share_change, largest_share, title, f"worst risk {share} % of its limit"),
        "end": signed(change.end_change_min),
        "limits": "keeps" if change.keeps_limits else "BREAKS",
        "moved": fitting(moved, 90) or "none",
        "comment": fitting(change.comment, 75),
    }


def tradeoff_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    """The chart of cost against risk, where more than one plan is on it, and the prices of the limits."""
    frontier, prices = plan.frontier, capped([price.text for price in plan.limit_prices], caps.prices, 300)
    if frontier is None:
        return {"chart": [], "sentence": "", "prices": prices}
    sentence = fitting(frontier.sentence, 420)
    chart = {"title": TITLE, "svg": frontier_svg(frontier, plan.currency), "sentence": sentence}
    drawn = len(frontier.points) >= LEAST_FOR_A_CHART
    return {
        "chart": [chart] if drawn else [],
        "sentence": "" if drawn else f"{TITLE}: {sentence}.",
        "prices": prices,
    }
