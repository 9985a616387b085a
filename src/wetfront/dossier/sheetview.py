"""The plan as the words and tables of plan.pdf: every string ready to print, so the template only lays out.

Long lists are capped for paper; a cap always says how many more stand in plan.json.
"""

from typing import Any

from wetfront.dossier.changeview import changes_view, tradeoff_view
from wetfront.dossier.charts import chart_svg
from wetfront.dossier.dayview import days_view
from wetfront.dossier.orderview import calloff_view, order_view
from wetfront.dossier.paper import Caps, capped, fitting, more
from wetfront.dossier.readyview import pressure_row, readiness_view
from wetfront.dossier.sourceview import sources_view
from wetfront.dossier.summaryview import (
    LONGEST_CHANGE,
    cost_words,
    figures_view,
    head_view,
    other_risks,
    quantity_view,
    risk_row,
    verdict_view,
)
from wetfront.dossier.words import opened_lines, worst_risks
from wetfront.nouns.plan import Plan, Reach

MOST_CHARTS = 6
MOST_METHODS = 6
MOST_PUMPS = 6
MOST_OPENED = 6


def plan_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    """All that the template prints."""
    return {
        "head": head_view(plan),
        "own_page": caps.own_page and plan.decision is not None,
        "verdict": verdict_view(plan, caps),
        "figures": figures_view(plan),
        "quantity": quantity_view(plan),
        "risks": [risk_row(plan, index) for index in range(len(worst_risks(plan)))],
        "other_risks": other_risks(plan),
        "binding": capped(plan.binding, caps.binding),
        "runner_up": fitting(plan.runner_up, 200),
        "days": days_view(plan, caps),
        "weather": fitting(plan.weather.sentence, 320) if plan.weather is not None else "",
        "opened": capped(opened_lines(plan), MOST_OPENED, LONGEST_CHANGE),
        "changes": changes_view(plan, caps),
        "tradeoff": tradeoff_view(plan, caps),
        "cost": cost_words(plan),
        "order": order_view(plan, caps),
        "calloff": calloff_view(plan, caps),
        "charts": [
            {
                "title": fitting(chart.title, 70),
                "svg": chart_svg(chart),
                "sentence": fitting(chart.sentence, 260),
            }
            for chart in plan.charts[:MOST_CHARTS]
        ],
        "picture_percent": caps.picture_percent,
        "charts_more": more(len(plan.charts), MOST_CHARTS),
        "pressure": [pressure_row(check) for check in plan.pressure[:MOST_METHODS]],
        "reach": [_reach_row(each) for each in plan.reach[:MOST_PUMPS]],
        "readiness": readiness_view(plan, caps),
        "end": sources_view(plan, caps.cautions, caps.steps),
    }


def _reach_row(reach: Reach) -> list[str]:
    """The pump's name, and what it reaches; the words may begin with the name themselves."""
    text = fitting(reach.text, 320)
    rest = text.removeprefix(reach.pump)
    return [fitting(reach.pump, 40), rest if rest != text else f": {text}"]
