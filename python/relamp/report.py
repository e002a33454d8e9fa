"""The report of a study: one self-contained page that a person reads and prints.

The page shows what ``results.json`` holds and computes nothing. Every figure on it is a ``<data>``
element whose ``value`` is the number in full precision and whose title is its place in ``results.json``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from relamp import _ends
from relamp import plots as _plots
from relamp._words import SAVING_WORDS as _SAVING_WORDS
from relamp._words import counted as _counted
from relamp._words import fitting as _fitting
from relamp._words import noun as _noun
from relamp._words import saving_marks as _saving_marks

__all__ = ["FORMATS", "html", "sentence"]

_STATUS = {
    "supported": "supported by the records",
    "weak": "weak: few failures",
    "rate_only": "a rate, no age of its own",
    "mixed": "one model does not fit",
    "not_supported": "not supported by these records",
}
_ORIGIN = {
    "maker_maximum": "the maker's limit of use",
    "warranty": "warranty hours, as no limit of use is printed",
    "override": "the owner's own, with a recorded reason",
}
_OUTCOME = {
    "used": "used, though doubtful",
    "answered": "used, as the study file answers",
    "merged": "merged with its equal",
    "set_aside": "set aside",
}
# Failures from which the core calls no fit weak.
_ENOUGH = 10
_UNIT = {"hours": "hours", "per_hour": "per hour", "ln_hours": "log of hours"}


def html(results: Any, *, inputs: Sequence[Mapping[str, Any]] = ()) -> str:
    """The report as one HTML page: no outside sources, no scripts, the same bytes for the same results.

    Parameters
    ----------
    results : StudyResults, dict or str
        Results of a study, or their saved form.
    inputs : sequence of dict, optional
        Files that went in (``file``, ``size_bytes``, ``sha256``), to be listed at the end.

    Returns
    -------
    str
        The page.

    Raises
    ------
    ValueError
        If a dict or text is not the saved form of study results.

    Examples
    --------
    >>> import relamp
    >>> from relamp import report
    >>> page = report.html(relamp.Study.open("data/demo/study.toml", draws=20).run().results)
    >>> page.startswith("<!doctype html>"), "<script" in page
    (True, False)
    """
    import jinja2
    from markupsafe import Markup

    body, made_by = _body(results)
    classes = body["classes"]

    def value(path: Sequence[Any]) -> Any:
        found: Any = body
        for step in path:
            found = found[step]
        return found

    def num(*steps: Any, kind: str = "hours") -> Markup:
        # The first step may be a path itself.
        path = [*steps[0], *steps[1:]] if isinstance(steps[0], list) else list(steps)
        number = value(path)
        if number is None:
            return Markup('<span class="muted">not known</span>')
        return Markup('<data value="{}" title="{}">{}</data>').format(
            json.dumps(number), _place(path), FORMATS[kind](number)
        )

    def count(*steps: Any, noun: str) -> Markup:
        # Figure and noun; where the figure is not known the noun stands for itself.
        path = [*steps[0], *steps[1:]] if isinstance(steps[0], list) else list(steps)
        return Markup("{} {}").format(num(path, kind="count"), _noun(value(path), noun))

    def chances(*steps: Any) -> list[Markup]:
        """Chances of no shortage without and with an order, told apart."""
        path = list(steps[0])
        places = [[*path, "service_today_probability"], [*path, "service_at_level_probability"]]
        texts = _chances(*(value(place) for place in places))
        return [
            Markup('<data value="{}" title="{}">{}</data>').format(json.dumps(value(place)), _place(place), text)
            for place, text in zip(places, texts, strict=True)
        ]

    def in_show(path: Sequence[Any]) -> Markup:
        """The chance to fail in the next show; results of before have none."""
        known = "next_show_failure_probability" in value(path)
        text = Markup('<span class="muted">not known</span>')
        return num([*path, "next_show_failure_probability"], kind="small_share") if known else text

    def collapsed(path: Sequence[Any], kind: str) -> bool:
        """Whether both ends of an interval read the same."""
        ends = value(path)["low"], value(path)["high"]
        return None not in ends and FORMATS[kind](ends[0]) == FORMATS[kind](ends[1])

    marks = {mark for c in classes if c["policy"] for mark in _saving_marks(c["policy"])}
    # `select_autoescape` goes by file name and would leave these templates unescaped.
    environment = jinja2.Environment(
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
        loader=jinja2.PackageLoader("relamp", "templates"),
    )
    environment.filters["sentence"] = sentence
    environment.filters["capitalise"] = lambda text: text[:1].upper() + text[1:]
    environment.globals.update(
        num=num,
        collapsed=collapsed,
        in_show=in_show,
        parameter_kind=lambda unit: "hours" if unit == "hours" else "real",
        count=count,
        chances=chances,
        saving_marks=_saving_marks,
        saving_words={mark: said for mark, said in _SAVING_WORDS.items() if mark in marks},
        fitting=_fitting,
        noun=_noun,
        value=value,
        study=body["study"],
        ledger=body["ledger"],
        overdue=body["overdue"],
        doubts=[d for d in body.get("doubts", []) if d["outcome"] != "answered"],
        answered=[d for d in body.get("doubts", []) if d["outcome"] == "answered"],
        classes=classes,
        # Results of before count none.
        pays_back=[c["name"] for c in classes if (c["policy"] or {}).get("money_back")],
        claims_by=_ends.standings(body["claims"]) if body.get("claims") else {},
        programme_words=_Words(_ends.PROGRAMMES),
        until_of=_ends.until,
        reason_words=_Words(_ends.REASONS),
        cautions=body["cautions"],
        assumptions=body["assumptions"],
        status_words=_Words(_STATUS),
        origin_words=_Words(_ORIGIN),
        outcome_words=_Words(_OUTCOME),
        unit_words=_Words(_UNIT),
        ending_words=_Words(_plots.CAUSE_WORDS),
        family_words=_plots._family,
        cause_age=_cause_age,
        strip=_strip,
        purchase_plan=body.get("purchase_plan"),
        stock_list=body.get("stock_list"),
        boxed=any(_in_boxes(c) for c in (body.get("purchase_plan") or {}).get("classes", [])),
        apart=_apart(body),
        pooled_of=_pooled,
        made_by=made_by,
        inputs=inputs,
    )
    page: str = environment.get_template("report.html.j2").render(
        css=Markup(environment.loader.get_source(environment, "report.css")[0]),  # type: ignore[union-attr]
        points=_points(body),
        orders=body["orders"],
        plots=[_drawings(c, i, body["study"]["currency"]) for i, c in enumerate(classes)],
        moved=[_moves_drawing(c, i) for i, c in enumerate(classes)],
        claims=body.get("claims"),
        last_buys=body.get("last_buys"),
        plan_ends=_ends.plan_ends(body),
        drawn_buys=_ends.drawings(body, made_by),
    )
    return page


def _body(results: Any) -> tuple[Mapping[str, Any], str]:
    """The plain results and the name of the program that made them."""
    if hasattr(results, "to_json"):
        results = results.to_json()
    if isinstance(results, str):
        results = json.loads(results)
    if not isinstance(results, Mapping) or results.get("format") != "relamp.study_results":
        raise ValueError("expected results of a study, or their saved form with format 'relamp.study_results'")
    body: Mapping[str, Any] = results["body"]
    return body, str(results["made_by"])


class _Words(dict[str, str]):
    """Words for codes; a code without a word stands for itself, so that a newer code never breaks the page."""

    def __missing__(self, key: str) -> str:
        return key.replace("_", " ")


def _in_boxes(purchase: Mapping[str, Any]) -> bool:
    return bool(purchase["box_lamps"] > 1 or purchase["minimum_order_lamps"] > 1)


def _pooled(stores: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Sites that hold no lamp and have none, which need no row of their own."""
    empty = ("on_hand_lamps", "on_order_lamps")
    return [p for p in stores["places"] if p["pooled_at_depot"] and not any(p[key] for key in empty)]


def _place(path: Sequence[Any]) -> str:
    return "body" + "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)


def sentence(text: str) -> str:
    """A message of the core as a sentence: a capital in front and a full stop behind.

    Parameters
    ----------
    text : str
        A message; the core writes them in lower case without a full stop.

    Returns
    -------
    str

    Examples
    --------
    >>> from relamp import report
    >>> report.sentence("few lamps failed"), report.sentence("logs/a.csv: few rows")
    ('Few lamps failed.', 'logs/a.csv: few rows.')
    """
    text = text.strip()
    if not text:
        return text
    # A file that a sentence begins with keeps its name.
    if not any(sign in text.split(maxsplit=1)[0] for sign in "./"):
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?" else text + "."


_MINUS = "\N{MINUS SIGN}"


def _signed(text: str) -> str:
    """A true minus; a rounded zero has no sign."""
    if text.startswith("-"):
        return text[1:] if not text.strip("-0.,") else _MINUS + text[1:]
    return text


def _hours(x: float) -> str:
    """Hours in full, as a meter counts them: one quantity reads the same everywhere, no age rounds up to a limit."""
    # A difference of meter readings must not lose an hour in its last bit.
    return _signed(f"{math.floor(x + 1e-9 * max(abs(x), 1.0)):,}")


def _money(x: float) -> str:
    return _signed(f"{x:,.0f}" if abs(x) >= 9.95 or x == 0 else f"{x:,.1f}")


def _about(x: float) -> str:
    """Three significant digits: an estimate shown to the last coin would look surer than it is."""
    if abs(x) < 100:
        return _money(x)
    digits = math.floor(math.log10(abs(x))) - 2
    return _money(round(x, -digits))


def _share(p: float) -> str:
    if 0 < p < 0.001:
        return "under 0.1 %"
    if 0.999 < p < 1:
        return "over 99.9 %"
    percent = 100 * p
    digits = 0 if abs(percent - round(percent)) < 1e-9 else 1 if percent < 10 or percent > 90 else 0
    return f"{percent:.{digits}f} %"


def _small_share(p: float) -> str:
    """A chance of one show: two significant digits, as most are far below a percent."""
    return _share(p) if p == 0 or p >= 0.01 else f"{_real(100 * p, 2)} %"


def _chances(first: float, second: float) -> tuple[str, str]:
    """Two chances that are compared, with digits enough to tell them apart where the draws do."""
    # No model makes a shortage certain: rounding took what is left.
    if first == 0 and second > 0.999:
        return "under 0.1 %", _share(second)
    if first == second or _share(first) != _share(second):
        return _share(first), _share(second)
    # More would lie below the noise of the draws that a chance is the mean of.
    for digits in (2, 3):
        texts = f"{100 * first:.{digits}f} %", f"{100 * second:.{digits}f} %"
        if texts[0] != texts[1]:
            return texts
    return _share(first), _share(second)


def _real(x: float, significant: int = 3) -> str:
    if x == 0:
        return "0"
    if abs(x) >= 1000:
        return _signed(f"{x:,.0f}")
    if abs(x) < 1e-4:
        return _signed(f"{x:.2e}")
    digits = max(0, significant - math.floor(math.log10(abs(x))) - 1)
    return _signed(f"{x:.{digits}f}")


FORMATS = {
    "hours": _hours,
    "money": _money,
    "about": _about,
    "share": _share,
    "small_share": _small_share,
    "count": lambda n: _signed(f"{n:,}"),
    "real": _real,
    "real2": lambda x: _real(x, 2),
    # Lamps of a place: nobody reads a thousandth of one.
    "few": lambda x: "under 0.01" if 0.0 < x < 0.01 else _real(x, 2),
    "real1": lambda x: _signed(f"{x:,.1f}"),
}


def _points(body: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What a manager has to know, in short points: what each is about, and its sentences."""
    about = [
        ("Today", _today_words(body)),
        ("Order", [_order_words(body)]),
        ("Age of change", _saving_words(body)),
        *_ends.points(body),
        ("How sure", _doubt_words(body)),
    ]
    return [(label, " ".join(sentence(s) for s in said)) for label, said in about if said]


def _today_words(body: Mapping[str, Any]) -> list[str]:
    """The lamps to change first."""
    lists = body["overdue"]
    due, soon, unknown = len(lists["at_limit"]), len(lists["soon"]), len(lists["age_unknown"])

    def lamps(n: int, one: str, many: str) -> str:
        return f"{_counted(n, 'lamp') if n else 'no lamps'} {_fitting(n, one, many)}"

    # Results of before say nothing of it.
    if why := lists.get("not_known"):
        sentences = [f"Which lamps are at or past their limit, or soon will be, is not known, as {why}."]
    else:
        first = lamps(due, "is at or past its limit", "are at or past their limit")
        second = lamps(soon, "is expected to reach it", "are expected to reach it")
        sentences = [f"{first[0].upper()}{first[1:]} and {second} before the next visit or within the lead time."]
    if unknown:
        sentences.append(f"{lamps(unknown, 'has', 'have')} no known age and {_fitting(unknown, 'is', 'are')} due.")
    return sentences


def _doubt_words(body: Mapping[str, Any]) -> list[str]:
    """The classes whose advice the maker forbids, whose figures rest on little, or on a model that does not fit."""
    sentences = []
    past = [c for c in body["classes"] if c["advised_age_hours"] > c["limit"]["maker_limit_hours"]]
    if past:
        limits = _and([f"{_hours(c['limit']['maker_limit_hours'])} h for {c['name']}" for c in past])
        sentences.append(
            f"The advised age passes the maker's limit of {limits}, as the study's own limit allows: "
            "the maker's prevails."
        )
    few = [c["name"] for c in body["classes"] if c["status"] == "rate_only"]
    stays = [
        c
        for c in body["classes"]
        if c["status"] != "rate_only" and c["policy"] and c["policy"]["verdict"] == "todays_rule_stays"
    ]
    weak = [c for c in body["classes"] if c["status"] == "weak" and c not in stays]
    # Few in all, or enough of them and few of a cause.
    scarce = [c["name"] for c in weak if c["seen"]["failures_count"] < _ENOUGH]
    by_cause = [c["name"] for c in weak if c["seen"]["failures_count"] >= _ENOUGH]
    misfit = [c for c in body["classes"] if c["status"] == "mixed"]
    aged = [c["name"] for c in misfit if _by_age_alone(c["model"]["fit_check"]["comparisons"])]
    mixed = [c["name"] for c in misfit if c["name"] not in aged]
    without = [c["name"] for c in body["classes"] if c["status"] == "not_supported"]
    if few:
        sentences.append(
            f"For {_and(few)} fewer than five lamps failed, which shows a rate and no age: the earlier of today's rule "
            "and the limit stands, and costs, lamps needed and spares rest on an even failure rate."
        )
    if stays:
        sentences.append(
            f"For {_and([c['name'] for c in stays])} the records end before today's rule, and an earlier change would "
            "cost more: the earlier of today's rule and the limit stays."
        )
    if scarce:
        sentences.append(f"For {_and(scarce)} fewer than ten lamps failed: read each figure with its interval.")
    if by_cause:
        sentences.append(
            f"For {_and(by_cause)} the age rests on a cause of fewer than ten failures: "
            "read each figure with its interval."
        )
    if mixed:
        which = "every class" if len(mixed) == len(body["classes"]) > 1 else _and(mixed)
        sentences.append(
            f"In {which} one model does not fit all lamps alike: the figures are those of the mix as recorded."
        )
    if aged:
        sentences.append(
            f"In {_and(aged)} the model does not follow the ages at which lamps failed: the curve without a family is "
            "the safer reading."
        )
    if without:
        sentences.append(
            f"For {_and(without)} the records support no age of their own: "
            "the earlier of today's rule and the limit stands."
        )
    return sentences


def _by_age_alone(comparisons: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the ages at failure speak against the model, and no batch, site or supplier does."""
    return all(k["by"] == "age" for k in comparisons if k["differs"])


def _order_words(body: Mapping[str, Any]) -> str:
    """What to order now."""
    orders, currency = body["orders"], body["study"]["currency"]
    least = "at least " if orders["least_only_classes_count"] else ""
    price = f", for {_money(orders['order_price'])} {currency}" if orders["order_lamps"] else ""
    if orders["order_lamps"] is None:
        return f"How many lamps to order is not known, as {orders['not_known']}"
    if orders["order_lamps"]:
        return f"Order {least}{_counted(orders['order_lamps'], 'lamp')} now{price}{_boxed(body)}{_by_place(body)}"
    if least:
        return "No lamp is known to be missing over the lead time; classes without a model may need some"
    return "No lamp has to be ordered now"


def _saving_words(body: Mapping[str, Any]) -> list[str]:
    """Where another age of change saves money."""
    currency, words = body["study"]["currency"], []
    other = [c for c in body["classes"] if c["policy"] and c["policy"]["planned"] != c["policy"]["todays_rule"]]
    for c in other:
        policy = c["policy"]
        a_year = policy["saving_against_today_per_year"]
        if policy["saving_settled"] and a_year is not None and a_year > 0:
            new, old = _hours(c["advised_age_hours"]), _hours(policy["todays_rule"]["age_hours"])
            opinion = ", by the model alone" if policy.get("saving_past_records") else ""
            saves = f"saves about {_about(a_year)} {currency} a year{opinion}"
            words.append(f"{c['name']}: changing at {new} h in place of {old} h {saves}")
    open_ones = [c["name"] for c in other if c["policy"]["saving_settled"] is False]
    if open_ones:
        words.append(f"For {_and(open_ones)} these records do not settle whether the advised age is the cheaper one")
    return words


def _boxed(body: Mapping[str, Any]) -> str:
    """What whole boxes and smallest orders make of the lamps to order now; nothing where they add none."""
    first = [c["now"] for c in (body.get("purchase_plan") or {}).get("classes", []) if c["now"]]
    lamps, price = sum(o["order_lamps"] for o in first), sum(o["price"] for o in first)
    if lamps <= body["orders"]["order_lamps"]:
        return ""
    return f"; in whole boxes {_counted(lamps, 'lamp')}, for {_money(price)} {body['study']['currency']}"


def _apart(body: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The stock lists of classes whose lamps lie in depots and sites apart."""
    stores = (body.get("stock_list") or {}).get("classes", [])
    return [c for c in stores if any(p["kind"] != "chain" for p in c["places"])]


def _by_place(body: Mapping[str, Any]) -> str:
    """What fills every depot and site to its own level; nothing where the chain is one store."""
    bought = [c["to_buy_lamps"] for c in _apart(body) if c["to_buy_lamps"] is not None]
    least = "at least " if any(c["basis"] == "lower_bound" for c in _apart(body)) else ""
    return f"; to fill each depot and site to its own level {least}{_counted(sum(bought), 'lamp')}" if bought else ""


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _cause_age(c: Mapping[str, Any]) -> str:
    ages = {k["incidence_age_hours"] for k in c["causes"]} - {None}
    return f"{_hours(max(ages))} h" if ages else "the limit"


def _strip(c: Mapping[str, Any]) -> Any:
    """One line of ages from 0 to the limit: where the advice, its interval and today's rule lie."""
    from markupsafe import Markup

    limit = max(c["limit"]["limit_hours"], c["limit"]["maker_limit_hours"])
    width, left = 226.0, 4.0

    def x(hours: float) -> str:
        return f"{left + width * min(max(hours, 0.0), limit) / limit:.1f}"

    words = (
        f"today {_hours(c['todays_rule_hours'])} h, advice {_hours(c['advised_age_hours'])} h, "
        f"limit {_hours(c['limit']['limit_hours'])} h"
    )
    parts = [
        f'<svg class="strip" viewBox="0 0 240 30" role="img" aria-label="{words}">',
        f'<line x1="{left}" x2="{left + width}" y1="13" y2="13" stroke="{_plots.RULE}" stroke-width="2"/>',
    ]
    if c["policy"]:
        for band in c["policy"]["near_best"]:
            span = float(x(band["to_hours"])) - float(x(band["from_hours"]))
            parts.append(
                f'<rect x="{x(band["from_hours"])}" y="7" width="{max(span, 1.0):.1f}" height="12" '
                f'fill="{_plots.PETROL}" fill-opacity=".2"/>'
            )
        interval = c["policy"]["planned_age_interval_hours"]
        low, high = interval["low"], interval["high"]
        if low != high:
            ends = x(low if low is not None else 0.0), x(high if high is not None else limit)
            parts.append(
                f'<line x1="{ends[0]}" x2="{ends[1]}" y1="13" y2="13" stroke="{_plots.PETROL}" stroke-width="1.8"/>'
            )
    limit_x, today, advice = x(c["limit"]["limit_hours"]), x(c["todays_rule_hours"]), x(c["advised_age_hours"])
    # Where both ages meet, the ring goes around the dot instead of under it.
    ring = 'r="6.8" fill="none"' if abs(float(today) - float(advice)) < 6 else 'r="4" fill="#fff"'
    parts += [
        f'<line x1="{limit_x}" x2="{limit_x}" y1="3" y2="23" stroke="{_plots.BRICK}" stroke-width="2.4"/>',
        f'<circle cx="{today}" cy="13" {ring} stroke="{_plots.OCHRE}" stroke-width="1.9"/>',
        f'<circle cx="{advice}" cy="13" r="4.4" fill="{_plots.PETROL}"/>',
        "</svg>",
    ]
    return Markup("").join(Markup(p) for p in parts)


def _drawings(c: Mapping[str, Any], i: int, currency: str) -> list[dict[str, Any]]:
    from markupsafe import Markup

    from relamp._sheet import svg

    drawings: list[dict[str, Any]] = []

    def add(name: str, draw: Any, height: float, caption: str) -> None:
        drawings.append({"svg": Markup(svg(draw, 4.4, height, f"{name}{i}")), "caption": caption})

    if c["curve"] or c["model"]:
        add("reliability", lambda ax: _plots.reliability(c, ax), 2.6, _curve_caption(c))
    # Under an even rate every later age costs less, whatever was seen: such a curve would be read as a finding.
    costed = c["policy"] and c["status"] != "rate_only"
    if costed:
        add(
            "cost",
            lambda ax: _plots.cost(c, ax, currency=currency),
            2.6,
            "Long-run cost by planned age, planned and failure changes together. "
            "Nothing past the limit is drawn: no such age is on offer.",
        )
    if c["demand"] and c["demand"]["months"]:
        add(
            "demand",
            lambda ax: _plots.demand(c, ax),
            2.15,
            "Lamps needed if lamps are changed at the advised age: with a chance of 50, 80 or 95 % "
            "not more than the top of each shade.",
        )
    if costed and any(p["by_cause"] for p in c["policy"]["cost_curve"]):
        add(
            "parts",
            lambda ax: _plots.cost_parts(c, ax, currency=currency),
            2.15,
            "The same cost, split: early changes pay for lamps, late ones for failures.",
        )
    return drawings


def _moves_drawing(c: Mapping[str, Any], i: int) -> Any:
    """What moves the age of a class; none where no age of least cost is there to be moved."""
    from markupsafe import Markup

    from relamp import plots_policy
    from relamp._sheet import svg

    told = (c["policy"] or {}).get("sensitivity")
    if not told:
        return None
    height = 1.0 + 0.125 * (len(told["costs"]) + len(told["lives"]))
    return Markup(svg(lambda ax: plots_policy.moves(c, ax), 7.2, height, f"moves{i}"))


def _curve_caption(c: Mapping[str, Any]) -> str:
    words = "Share of lamps that still work if none were changed on plan."
    curve = c["curve"]
    if curve:
        if curve["given_survival_to_hours"] > 0:
            words += (
                f" Most lamps came under observation late: the curve of the records starts at "
                f"{_hours(curve['given_survival_to_hours'])} h and is given survival to that age."
            )
        if curve["interval_rows_count"]:
            n = curve["interval_rows_count"]
            words += (
                f" {_counted(n, 'failure')} known only to an interval {_fitting(n, 'is', 'are')} read at "
                f"{_fitting(n, 'its', 'their')} {curve['interval_reading']} for this curve; the model uses the "
                f"{_fitting(n, 'interval itself', 'intervals themselves')}."
            )
    if curve and curve["end_hours"] > c["limit"]["limit_hours"]:
        words += " Behind the limit: what happened, not what is advised."
    return words
