"""The pages of claims and of last buys: what the report and the terminal say beyond the classes."""

from __future__ import annotations

import datetime
import functools
import json
from collections.abc import Mapping
from typing import Any

from relamp._words import counted, fitting

__all__ = ["PROGRAMMES", "REASONS", "drawings", "lines", "points", "standings"]

PROGRAMMES = {
    "declared": "as declared",
    "no_stop": "no screen stops",
    "late": "every stop late",
    "earlier": "the earlier days compared",
}
"""What a last buy assumes of the screens that stop, in words."""

REASONS = {
    "planned": "changed on plan",
    "not_covered": "with an ending that the warranty does not cover",
    "hours": "past the hours of the warranty",
    "calendar": "past its last day",
    "strikes": "struck too often",
    "no_terms": "of a class without warranty terms",
}
"""Why nothing is due for a lamp, in words."""


def standings(claims: Mapping[str, Any]) -> dict[str, list[tuple[int, Mapping[str, Any]]]]:
    """The claims by standing, each with its place in the list."""
    sorted_out: dict[str, list[tuple[int, Mapping[str, Any]]]] = {}
    for i, claim in enumerate(claims["list"]["claims"]):
        sorted_out.setdefault(claim["standing"], []).append((i, claim))
    return sorted_out


def points(body: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """What a manager has to know of last buys and claims, a point each; none where a study has neither."""
    said = []
    if buys := (body.get("last_buys") or {}).get("buys", []):
        said.append(("Last buy", [f"{buy['lamp_class']}: {_bought(buy)}" for buy in buys]))
    if body.get("claims"):
        said.append(("Warranty", [_claimed(body)]))
    return said


def _bought(buy: Mapping[str, Any]) -> str:
    return buy["sentence"] or f"no last buy can be told, as {buy['refusal']['sentence']}"


def _claimed(body: Mapping[str, Any]) -> str:
    claims = body["claims"]
    days = [c["days_left"] for _, c in standings(claims).get("file", []) if c["days_left"] is not None]
    first = f"; the first deadline is {counted(min(days), 'day')} away" if days else ""
    aside = len(claims["set_aside"])
    left = f"; {counted(aside, 'row')} of the file of claims {fitting(aside, 'is', 'are')} set aside" if aside else ""
    return f"{claims['sentence']} ({body['study']['currency']}){first}{left}"


def plan_ends(body: Mapping[str, Any]) -> list[str]:
    """How the last buys stand to the purchase plan, which places no order after the last day of the maker."""
    from relamp.report import FORMATS

    said = []
    for buy in (body.get("last_buys") or {}).get("buys", []):
        told = f"{buy['lamp_class']}: the plan places no order after {buy['last_order_on']}; "
        if not buy["scenarios"]:
            why = buy["refusal"]["sentence"]
            said.append(f"{told}no last buy can be told: {why}")
            continue
        now = buy["scenarios"][0]
        ways = [("costs", now["by_costs"]), ("risk", now["by_risk"])]
        each = [
            f"{counted(way['buy_lamps'], 'lamp')} for {FORMATS['money'](way['buy_price'])} "
            f"{body['study']['currency']} by the {name}"
            for name, way in ways
            if way
        ]
        said.append(
            f"{told}the last buy counts all lamps needed until its end, so that what this plan orders counts towards "
            f"it; its lamps and their money are not in this plan: {', or '.join(each)}"
        )
    return said


def until(buy: Mapping[str, Any], scenario: Mapping[str, Any]) -> str:
    """The day until which lamps are needed: where the last stop is the end, later for stops that come late."""
    days = [s["found"]["terms"]["end_days"] for s in (buy["scenarios"][0], scenario)]
    more = round(max(days[1] - days[0], 0.0))
    return str(datetime.date.fromisoformat(buy["needed_until"]) + datetime.timedelta(days=more))


def lines(body: Mapping[str, Any], folder: Any) -> list[str]:
    """The same for the terminal, with where the whole list stands."""
    # Stops alone make no last buy.
    bought = (body.get("last_buys") or {}).get("buys", [])
    said = [f"{buy['lamp_class']}, last buy: {_bought(buy)}" for buy in bought]
    if body.get("claims"):
        said.append(f"Warranty: {_claimed(body)}")
    files = [name for name, there in (("last_buys", bought), ("claims", body.get("claims"))) if there]
    return said + ([f"Lists: {', '.join(str(folder / f'{name}.csv') for name in files)}"] if files else [])


def _drawn(made: Any, until: str, ax: Any) -> Any:
    """The plot of a last buy under a title of the report: what is ordered, in boxes perhaps, stands in its words."""
    from relamp import plots_buy

    plots_buy.last_buy(made, ax)
    ax.set_title(f"Lamps needed until {until}")
    return ax


def drawings(body: Mapping[str, Any], made_by: str) -> list[dict[str, Any] | None]:
    """The drawing of each last buy; none where there is no advice."""
    from markupsafe import Markup

    import relamp
    from relamp._sheet import svg

    drawn: list[dict[str, Any] | None] = []
    for i, buy in enumerate((body.get("last_buys") or {}).get("buys", [])):
        if not buy["scenarios"]:
            drawn.append(None)
            continue
        found = buy["scenarios"][0]["found"]
        saved = {"format": "last_buy", "version": 1, "made_by": made_by, "body": found}
        made = relamp.LastBuy.from_json(json.dumps(saved))
        by = "costs" if buy["costs"] else "risk"
        boxed = " before boxes" if buy.get("box_lamps", 1) > 1 or buy.get("minimum_order_lamps", 1) > 1 else ""
        caption = (
            f"As declared: mean lamps short and left over by the number held, those on hand and on order included; the "
            f"line is the quantity by the {by}{boxed}."
        )
        picture = Markup(svg(functools.partial(_drawn, made, until(buy, buy["scenarios"][0])), 6.3, 2.9, f"lastbuy{i}"))
        drawn.append({"svg": picture, "caption": caption})
    return drawn
