"""The report: escaped, self-contained, the same bytes again, and true to results.json figure by figure."""

from __future__ import annotations

import copy
import json
import math
import re
import subprocess
import sys
from html.parser import HTMLParser
from typing import Any

import demo
import pytest
import relamp
from relamp import _words, command, plots, report

HOSTILE = ("<script>alert(1)</script>", '=HYPERLINK("x")', r"$\foo$", '"><img src=x onerror=alert(1)>', "{{ 7 * 7 }}")


class Page(HTMLParser):
    """What a browser would see: tags, ids, links, and every figure with its place and text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.figures: list[tuple[str, str, str]] = []
        self.text = ""
        self._open: tuple[str, str] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        self.tags.append(tag)
        self.ids += [values["id"]] if "id" in values else []
        self.links += [values[k] for k in ("href", "src", "xlink:href", "action") if k in values]
        assert not any(name.startswith("on") for name in values), values
        if tag == "data":
            self._open = (values["title"], values["value"])

    def handle_endtag(self, tag: str) -> None:
        if tag == "data":
            self._open = None

    def handle_data(self, data: str) -> None:
        self.text += data
        if self._open:
            self.figures.append((*self._open, data))


@pytest.fixture(scope="module")
def page() -> str:
    return report.html(demo.output().results)


def at(body: Any, place: str) -> Any:
    for step in re.findall(r"[a-z_0-9]+", place):
        body = body[int(step)] if isinstance(body, list) else body[step]
    return body


def shown(text: str) -> float:
    """The number a reader takes from a figure."""
    number = float(re.sub("[^0-9.e-]", "", text.replace("\N{MINUS SIGN}", "-")))
    return number / 100 if "%" in text else number


def test_every_figure_is_the_one_of_the_results(page: str) -> None:
    whole = demo.saved()
    figures = Page(page).figures
    assert len(figures) > 300
    for place, value, text in figures:
        # Each place leads from the top of `results.json`.
        number = at(whole, place)
        assert json.loads(value) == number, place
        if text == "under 0.01":
            assert 0.0 < number < 0.01, place
            continue
        if text.startswith(("under", "over")):
            assert number < 0.001 or number > 0.999, place
            continue
        # Half of the last digit shown; ages that advise or limit are rounded down, so a whole one.
        digits = len(text.split(".")[1].rstrip(" %")) if "." in text and "e" not in text else 0
        last = 10.0**-digits * (0.01 if "%" in text else 1.0)
        assert math.isclose(shown(text), number, rel_tol=0.006, abs_tol=1.001 * last), (place, text, number)


def test_the_summary_shows_each_class_with_its_advice(page: str) -> None:
    summary = page[page.index('id="summary"') : page.index('<section class="class"')]
    figures = {place: text for place, _, text in Page(summary).figures}
    for i, c in enumerate(demo.saved()["body"]["classes"]):
        assert figures[f"body.classes[{i}].advised_age_hours"] == f"{math.floor(c['advised_age_hours']):,}"
        assert c["advised_age_hours"] <= c["limit"]["limit_hours"]
        if c["stock"]:
            assert figures[f"body.classes[{i}].stock.order_lamps"] == f"{c['stock']['order_lamps']:,}"
            assert figures[f"body.classes[{i}].stock.level_lamps"] == f"{c['stock']['level_lamps']:,}"


def test_lamps_over_the_limit_come_before_everything_else(page: str) -> None:
    order = [page.index(f'id="{name}"') for name in ("first", "summary", "class-0", "findings", "cautions", "trace")]
    assert order == sorted(order)
    first = page[order[0] : order[1]]
    for lamp in demo.saved()["body"]["overdue"]["at_limit"]:
        assert f"<td>{lamp['serial']}</td>" in first


def test_hostile_names_stay_text() -> None:
    saved = demo.saved()
    for name in HOSTILE:
        body = saved["body"]
        body["study"]["name"] = body["study"]["note"] = body["study"]["currency"] = name
        for lamp in body["overdue"]["at_limit"] + body["overdue"]["soon"] + body["overdue"]["age_unknown"]:
            lamp["site"] = lamp["screen"] = lamp["serial"] = lamp["lamp_class"] = lamp["file"] = name
        for c in body["classes"]:
            c["name"] = c["headline"] = c["limit"]["source"] = name
            c["warnings"] = [name]
            if c["model"]:
                c["model"]["family"] = name
        for rule in body["ledger"]["by_rule"]:
            for finding in rule["first"]:
                finding["sentence"] = finding["file"] = name
        body["cautions"][0] = body["assumptions"][0] = name
        seen = Page(report.html(saved, inputs=[{"file": name, "size_bytes": 1, "sha256": name}]))
        assert not {"script", "img", "iframe", "object", "link", "form"} & set(seen.tags)
        assert name in seen.text


def test_the_page_needs_nothing_from_outside(page: str) -> None:
    seen = Page(page)
    assert all(link.startswith("#") for link in seen.links), seen.links
    assert "default-src 'none'" in page
    assert "@import" not in page
    assert not re.search(r"url\((?!#)", page)


def test_in_print_a_table_stays_whole_and_with_its_heading(page: str) -> None:
    css = page[page.index("@media print") : page.index("</style>")]
    printed = re.sub(r"/\*.*?\*/", "", css[css.index("{") + 1 :])

    def rule(selector: str) -> str:
        rules = re.findall(r"([^{}]+)\{([^{}]*)\}", printed)
        return ";".join(body for names, body in rules if selector in [n.strip() for n in names.split(",")])

    for selector in ("tr", "figure", "table", ".warn", ".keep", ".lead", ".points dd", ".headline"):
        assert "break-inside: avoid" in rule(selector), selector
    for selector in ("h2", "h3", "h4", "#stores h3 + p", "#buying .lead", "#buying .warn"):
        assert "break-after: avoid" in rule(selector), selector
    # Lists as long as the chain is big may not: they would leave pages blank.
    for selector in (".due", ".soon", ".claims", "#stores table"):
        assert "break-inside: auto" in rule(selector), selector
    assert "table-header-group" in rule("thead")


def test_the_summary_is_told_in_points_each_with_what_it_is_about(page: str) -> None:
    summary = page[page.index('id="summary"') : page.index('<table class="summary"')]
    points = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", summary)
    labels = [label for label, _ in points]
    asked = ["Today", "Order", "Age of change", "Last buy", "Warranty", "How sure"]
    assert labels[:2] == ["Today", "Order"]
    assert labels == [label for label in asked if label in labels], "each at most once, in the order of what presses"
    assert all(said.endswith(".") for _, said in points)


def test_ids_are_unique_and_links_lead_somewhere(page: str) -> None:
    seen = Page(page)
    assert len(seen.ids) == len(set(seen.ids))
    assert {link[1:] for link in seen.links} <= set(seen.ids)


def test_the_same_results_give_the_same_bytes(page: str, tmp_path: Any) -> None:
    demo.output().results.save(tmp_path / "results.json")
    # Another process has another hash seed, which the bytes must not show.
    code = (
        "import sys, relamp.report as r\n"
        "sys.stdout.buffer.write(r.html(open(sys.argv[1], encoding='utf-8').read()).encode())"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path / "results.json")], capture_output=True, check=True)
    assert done.stdout == page.encode()


def test_a_class_without_a_model_keeps_its_place() -> None:
    saved = demo.saved()
    without_a_model(saved)
    text = Page(report.html(saved)).text
    assert "not supported by these records" in text
    assert "No lamp failed" in text or "no lamp failed" in text
    assert "fewer than 1 per 1,000 h" in text


BOUNDS = "lower bound: planned changes only, not supported by these records"


def without_a_model(saved: dict[str, Any]) -> dict[str, Any]:
    """The first class with what a refused fit leaves."""
    c: dict[str, Any] = saved["body"]["classes"][0]
    c.update(model=None, policy=None, demand=None, stock=None, curve=None, causes=[], status="not_supported")
    c["refusal"] = {"slug": "fit.no_failures", "sentence": "no lamp failed", "bound": "fewer than 1 per 1,000 h"}
    month = {"from": "2025-12-29", "to": "2026-01-28", "planned_lamps": 4, "least_by_end_lamps": 4}
    c["bounds"] = {
        "label": BOUNDS,
        "sentence": "at least 4 lamps in the coming month and 3 lamps over the lead time",
        "planned_age_hours": 800.0,
        "running_lamps_count": 12,
        "unknown_age_lamps_count": 1,
        "programme_hours_per_week": 864.0,
        "months": [month | {"high_rate_by_end_lamps": None}],
        "spares": {
            "lead_time_days": 21,
            "least_lamps": 3,
            "on_hand_lamps": 1,
            "on_order_lamps": 0,
            "order_least_lamps": 2,
            "price_each": 1980.0,
            "order_least_price": 3960.0,
            "service_target_probability": 0.95,
            "high_rate_level_lamps": None,
        },
        "high_rate_per_1000_hours": None,
        "level_probability": 0.95,
    }
    saved["body"]["orders"]["least_only_classes_count"] = 1
    return c


def test_a_class_without_a_model_shows_its_lower_bound_by_that_name() -> None:
    saved = demo.saved()
    without_a_model(saved)
    seen = Page(report.html(saved))
    assert BOUNDS[1:] in seen.text
    assert "Order at least" in seen.text
    figures = {place: text for place, _, text in seen.figures}
    assert figures["body.classes[0].bounds.months[0].least_by_end_lamps"] == "4"
    assert figures["body.classes[0].bounds.spares.order_least_lamps"] == "2"


def test_a_lower_bound_of_no_lamp_says_not_known() -> None:
    saved = demo.saved()
    without_a_model(saved)
    bounds = saved["body"]["classes"][0]["bounds"]
    bounds["months"][0]["least_by_end_lamps"] = 0
    for key in ("least_lamps", "order_least_lamps"):
        bounds["spares"][key] = 0
    saved["body"]["orders"]["order_lamps"] = 0
    text = Page(report.html(saved)).text
    assert "at least 0" not in text.lower()
    assert "enough for planned changes alone; failures may ask for more" in text
    assert "classes without a model may need some" in text


def test_the_chance_of_the_next_show_and_the_end_of_the_records_are_told() -> None:
    saved = demo.saved()
    figures = {place: (value, text) for place, value, text in Page(report.html(saved)).figures}
    value, text = figures["body.classes[0].policy.planned.next_show_failure_probability"]
    assert 0 < float(value) < 0.01
    assert text.endswith(" %")
    lamps = saved["body"]["classes"][0]["seen"]["oldest_at_risk_lamps_count"]
    assert lamps > 0
    assert figures["body.classes[0].seen.oldest_at_risk_lamps_count"] == (str(lamps), str(lamps))
    for c in saved["body"]["classes"]:
        del c["seen"]["oldest_at_risk_lamps_count"]
        for rule in ("planned", "todays_rule"):
            del c["policy"][rule]["next_show_failure_probability"]
    assert "Fails in next show" in Page(report.html(saved)).text


def test_many_doubts_are_cut_and_counted() -> None:
    saved = demo.saved()
    doubt = {"column": "reasons.x", "value": "dim", "file": "study.toml", "line": 9, "sentence": "no row has it"}
    doubt["outcome"] = "used"
    saved["body"]["doubts"] = [doubt] * 12
    text = Page(report.html(saved)).text
    assert text.count("No row has it.") == 10
    assert "And 2 more, in ledger.csv." in text
    saved["body"]["doubts"] = [doubt] * 10
    assert "more, in ledger.csv" not in Page(report.html(saved)).text


def test_a_long_serial_is_broken_so_that_print_does_not_shrink_the_page() -> None:
    saved = demo.saved()
    long = "S" * 60
    cell = f'<td class="long">{long}</td>'
    assert 'class="long"' not in report.html(saved)
    for name in ("at_limit", "age_unknown", "soon"):
        changed = copy.deepcopy(saved)
        changed["body"]["overdue"][name][0]["serial"] = long
        page = report.html(changed)
        assert page.count(cell) == 1
        assert ".first td.long { min-width: 9em; white-space: normal; overflow-wrap: anywhere; }" in page


def test_names_of_families_are_written_as_people_write_them(page: str) -> None:
    text = Page(page).text
    assert "Weibull" in text
    assert not re.search(r"\b(weibull|log_logistic|no_strike)\b", text)


def test_what_the_core_decides_is_shown_and_not_decided_again() -> None:
    saved = demo.saved()
    body = saved["body"]
    body["ledger"]["warning"] = "9 of 41 rows were set aside: look"
    for c in body["classes"]:
        c["headline"] = ""
        c["policy"]["saving_settled"] = True
        c["policy"]["saving_against_today_interval_per_1000_hours"].update(low=-1.0, high=1.0)
    text = Page(report.html(saved)).text
    assert text.index("9 of 41 rows were set aside: look.") < text.index("Change these lamps first")
    assert "not settled" not in text, "words that no class needs are not explained either"
    for c in body["classes"]:
        c["policy"]["saving_settled"] = False
    assert Page(report.html(saved)).text.count("not settled") == 1 + len(body["classes"])


def test_advice_past_the_makers_limit_is_told_in_the_summary_and_a_class_without_stops_has_a_page() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    assert "passes the maker's limit of" not in Page(report.html(saved)).text
    # As results of a study without stops have it.
    assert c["demand"].pop("stopping_lamps_count", None) is not None
    c["policy"]["todays_rule"]["age_hours"] -= 1
    c["limit"]["maker_limit_hours"] = c["advised_age_hours"] - 100
    text = Page(report.html(saved)).text
    said = f"The advised age passes the maker's limit of {c['limit']['maker_limit_hours']:,.0f} h for {c['name']}, as"
    assert said in text


def test_an_interval_whose_ends_agree_is_put_into_words() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    age = math.floor(c["policy"]["planned_age_hours"])
    c["policy"]["planned_age_interval_hours"].update(low=age + 0.2, high=age + 0.6)
    c["policy"]["planned_age_interval_sentence"] = "nearly every draw gives one age"
    text = Page(report.html(saved)).text
    assert f"{age:,} to {age:,}" not in text
    assert "one age in all ornearly all draws" in text
    assert "Nearly every draw gives one age (weighted bootstrap" in text
    assert f"change at; {age:,} h in all or nearly all draws" in text


def test_a_class_kept_at_todays_rule_is_not_told_to_read_its_interval() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    c["status"] = "weak"
    assert (
        f"For {c['name']} the age rests on a cause of fewer than ten failures: read each figure with its interval"
        in Page(report.html(saved)).text
    )
    c["seen"]["failures_count"] = 9
    assert (
        f"For {c['name']} fewer than ten lamps failed: read each figure with its interval"
        in Page(report.html(saved)).text
    )
    c["status"] = "rate_only"
    c["advised_age_hours"] = c["todays_rule_hours"]
    c["policy"]["planned"] = c["policy"]["todays_rule"]
    text = Page(report.html(saved)).text
    assert "with its interval" not in text
    assert f"For {c['name']} fewer than five lamps failed, which shows a rate and no age" in text
    assert "kept from today, as so few failures show no age of least cost" in text
    others = len(saved["body"]["classes"]) - 1
    for words in ("What each rule costs", "Long-run cost by planned age", "The same cost, split"):
        assert text.count(words) == others, words


def test_savings_carry_the_same_marks_in_report_and_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    saved = demo.saved()
    body = saved["body"]
    body["classes"] = body["classes"][:1]
    c = body["classes"][0]
    policy = c["policy"]
    policy.update(saving_settled=False, saving_past_records=True, saving_against_today_per_year=1234.5)
    page = report.html(saved)
    summary = Page(page[page.index('id="summary"') : page.index('<section class="class"')]).text
    command._print_classes(body)
    terminal = capsys.readouterr().out
    assert "1,230 (not settled, model's opinion)" in terminal
    assert "1,230not settledmodel's opinion" in summary
    for words in _words.SAVING_WORDS.values():
        assert words in terminal
        assert words in summary
    assert "the saving is the model's opinion" in Page(page).text
    policy.update(saving_settled=True, saving_past_records=False)
    command._print_classes(body)
    assert "model's opinion" not in Page(report.html(saved)).text + capsys.readouterr().out


def test_the_end_of_the_search_is_told_beside_the_interval_it_cuts() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    policy = c["policy"]
    policy.update(limit_binds_probability=0.0)
    assert "of the draws end" not in _of_class(saved)
    policy["planned_age_interval_hours"].update(low=1000.0, high=2000.0)
    policy.update(limit_binds_probability=0.88)
    assert _of_class(saved).count("88 % of the draws end at the limit") == 2
    policy.update(ceiling_hours=2000.0)
    assert _of_class(saved).count("88 % of the draws end where the records do") == 2


def _of_class(saved: dict) -> str:
    """The summary and the section of the first class."""
    saved["body"]["classes"] = saved["body"]["classes"][:1]
    page = report.html(saved)
    return Page(page[page.index('id="summary"') : page.index('id="findings"')]).text


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "in none of the draws"), (1.0, "in every draw"), (0.4, "in 40 % of the draws")]
)
def test_all_and_none_of_the_draws_are_said_in_words(share: float, said: str) -> None:
    saved = demo.saved()
    policy = saved["body"]["classes"][0]["policy"]
    assert policy["planned"] != policy["todays_rule"]
    policy.update(beats_todays_rule_probability=share)
    text = _of_class(saved)
    assert f"The planned age costs less than today's rule {said}." in text
    assert "The limit binds" not in text
    assert " 0 % of the draws" not in text
    policy.update(limit_binds_probability=1.0)
    policy["planned_age_interval_hours"].update(low=1000.0, high=2000.0)
    assert _of_class(saved).count("all draws end at the limit") == 2


def test_running_to_failure_is_marked_where_no_record_bears_it(capsys: pytest.CaptureFixture[str]) -> None:
    saved = demo.saved()
    policy = saved["body"]["classes"][0]["policy"]
    assert not policy["run_to_failure_past_records"]
    text = _of_class(saved)
    assert "of its lamp hours lie past that" in text
    assert "model's opinion" not in text
    policy.update(run_to_failure_past_records=True, run_to_failure_past_records_probability=0.83)
    text = _of_class(saved)
    assert "by the model 83 % of its lamp hours lie past that" in text
    assert "model's opinion" in text
    command._print_classes(saved["body"])
    terminal = capsys.readouterr().out
    for words in (policy["run_to_failure_sentence"], policy["planned_age_interval_sentence"]):
        assert words in terminal
    assert "no lamp was seen past" in policy["run_to_failure_sentence"]


def test_the_page_of_a_class_has_the_curve_the_endings_and_how_often_the_age_wins(
    capsys: pytest.CaptureFixture[str],
) -> None:
    saved = demo.saved()
    policy = saved["body"]["classes"][0]["policy"]
    ends, curve = policy["endings_at_planned_age"], policy["curve_age"]
    assert sum(e["per_1000_lamps"] for e in ends["by_ending"]) + ends["planned_per_1000"] == pytest.approx(1000.0)
    wins = report.FORMATS["share"](policy["beats_todays_rule_probability"])
    page = report.html(saved)
    text = Page(page).text
    assert f"The planned age costs less than today's rule in {wins} of the draws." in text
    assert curve["sentence"][1:] in text
    assert f"How 1,000 lamps end when changed at {report.FORMATS['hours'](ends['age_hours'])} h" in text
    figures = {place: figure for place, _, figure in Page(page).figures}
    at = "body.classes[0].policy.endings_at_planned_age"
    for i, part in enumerate(ends["by_ending"]):
        assert figures[f"{at}.by_ending[{i}].per_1000_lamps"] == f"{part['per_1000_lamps']:,.1f}"
    assert figures[f"{at}.planned_per_1000"] == f"{ends['planned_per_1000']:,.1f}"
    command._print_classes(saved["body"])
    assert curve["sentence"] in capsys.readouterr().out
    # Results of before have neither.
    del policy["endings_at_planned_age"], policy["curve_age"]
    before = _of_class(saved)
    assert "How 1,000 lamps end" not in before
    assert "without a family, the least cost" not in before


def test_money_back_is_told_where_costs_count_it() -> None:
    saved = demo.saved()
    counting = [c["name"] for c in saved["body"]["classes"] if c["policy"] and c["policy"].get("money_back")]
    assert counting == ["2.0 kW", "4.0 kW"]
    page = Page(report.html(saved)).text
    assert "Ages, costs and savings of 2.0 kW, 4.0 kW count what the warranty pays back." in page
    for c in saved["body"]["classes"]:
        told = "after what the warranty pays back" in c["headline"]
        assert told == (c["name"] in counting), c["headline"]
        if told:
            assert c["policy"]["money_back"]["sentence"][1:] in page
        else:
            assert "money_back" not in c["policy"]
    for c in saved["body"]["classes"]:
        c["policy"].pop("money_back", None)
    # What is taken for granted stays as it was saved.
    told = [t for t in saved["body"]["assumptions"] if "what a warranty pays back" in t]
    assert len(told) == 1
    text = Page(report.html(saved)).text.replace(told[0], "")
    assert "pays back" not in text.replace("after what the warranty pays back", "")
    assert "count no money back from a warranty" in text


def test_scales_of_the_model_round_down_as_every_hour() -> None:
    saved = demo.saved()
    model = saved["body"]["classes"][0]["model"]
    at = next(i for i, p in enumerate(model["parameters"]) if p["name"] == "scale")
    model["parameters"][at]["estimate"] = 2345.9
    figures = {place: text for place, _, text in Page(report.html(saved)).figures}
    assert figures[f"body.classes[0].model.parameters[{at}].estimate"] == "2,345"


def test_hours_round_down_everywhere_as_a_meter_counts() -> None:
    hours = report.FORMATS["hours"]
    assert (hours(558.8), hours(2499.999), hours(2961.8 - 2900.8), hours(0.3 - 0.3)) == ("558", "2,499", "61", "0")
    kinds = {"hours", "money", "about", "share", "small_share", "count", "few", "real", "real2", "real1"}
    assert set(report.FORMATS) == kinds
    chances = (0.0, 0.000123, 0.00789, 0.0234)
    assert [report.FORMATS["small_share"](p) for p in chances] == ["0 %", "0.012 %", "0.79 %", "2.3 %"]
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    c["seen"]["oldest_at_risk_hours"] = c["policy"]["ceiling_hours"] = 558.8
    page = Page(report.html(saved))
    texts = {text for place, _, text in page.figures if place.endswith(("oldest_at_risk_hours", "ceiling_hours"))}
    assert "558" in texts
    assert "559" not in texts


def test_a_chance_is_told_apart_from_the_one_beside_it() -> None:
    assert report._chances(0.9961, 0.9964) == ("99.61 %", "99.64 %")
    assert report._chances(0.9, 0.96) == ("90 %", "96 %")
    assert report._chances(0.99912, 0.99955) == ("99.91 %", "99.95 %")
    # Nothing is told apart by digits below the noise of the draws, and no chance of a model is none.
    assert report._chances(0.960000001, 0.960000002) == ("96.0 %", "96.0 %")
    assert report._chances(0.0, 0.9996) == ("under 0.1 %", "over 99.9 %")
    saved = demo.saved()
    stock = saved["body"]["classes"][0]["stock"]
    stock.update(order_lamps=0, level_lamps=5, service_today_probability=0.9964, service_at_level_probability=0.9961)
    assert "; with 5 it is" not in Page(report.html(saved)).text
    stock.update(order_lamps=1, service_today_probability=0.9961, service_at_level_probability=0.9964)
    assert "is 99.61 %; with 5 it is 99.64 %" in Page(report.html(saved)).text


def test_a_drawn_model_is_named_for_what_it_is() -> None:
    # A class whose causes are all of one family.
    classes = demo.saved()["body"]["classes"]
    c = next(c for c in classes if {cause["family"] for cause in c["model"]["by_cause"]} == {"weibull"})

    def labels() -> list[str]:
        return [text.get_text() for text in plots.reliability(c).get_legend().get_texts()]

    # Lives side by side make no life of their family.
    assert len(c["model"]["by_cause"]) > 1
    assert labels()[0] == "model, causes side by side"
    assert labels()[-2:] == ["95 % band of the model", "95 % band of the records"]
    alone = {**c, "model": {**c["model"], "by_cause": c["model"]["by_cause"][:1]}}
    assert plots.reliability(alone).get_legend().get_texts()[0].get_text() == "Weibull model"
    c["model"]["by_cause"][0]["family"] = "exponential"
    assert labels()[0] == "model, causes side by side"
    for cause in c["model"]["by_cause"]:
        cause["family"] = "exponential"
    assert labels()[0] == "even failure rate"


def test_the_report_says_which_models_the_figures_rest_on() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    head = "What age, costs, lamps and spares rest on"
    text = Page(report.html(saved)).text
    assert c["model"]["rests_on"][1:] in text
    several = [c for c in saved["body"]["classes"] if c["model"] and len(c["model"]["by_cause"]) > 1]
    assert text.count(head) == len(several) > 0
    # One cause of the family of all failures together has no figures of its own.
    for other in several:
        del other["model"]["by_cause"][1:]
    assert head not in Page(report.html(saved)).text
    c["model"]["by_cause"][0]["family"] = "exponential"
    assert Page(report.html(saved)).text.count(head) == 1


def test_a_class_whose_records_end_before_todays_rule_says_so() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    policy = c["policy"]
    assert "where the records end short of the limit" not in Page(report.html(saved)).text
    policy.update(verdict="todays_rule_stays", ceiling_hours=1000.0, planned=policy["todays_rule"])
    policy.update(limit_binds_probability=0.5)
    c["advised_age_hours"] = policy["planned_age_hours"] = policy["todays_rule"]["age_hours"]
    text = Page(report.html(saved)).text
    assert f"For {c['name']} the records end before today's rule, and an earlier change would cost more" in text
    assert "kept from today, as the records support no age so late; least cost within them at" in text
    said = "In 50 % of the draws the cost still falls at 1,000 h, where the records end short of the limit."
    assert text.count(said) == 1
    # The headlines of the others say how many draws end at the limit.
    assert text.count("of the draws the cost still falls") == 1
    # A class whose interval has no width says so in words instead.
    one_age = [k for k in saved["body"]["classes"] if "no interval" in k["policy"]["planned_age_interval_sentence"]]
    assert text.count("Intervals are by weighted bootstrap") == len(saved["body"]["classes"]) - len(one_age)
    assert text.count("Within 2 % of the least cost") == len(saved["body"]["classes"]) - 1


def test_causes_that_were_never_met_share_a_line() -> None:
    saved = demo.saved()
    c = saved["body"]["classes"][0]
    before = Page(report.html(saved))
    never = ("seal", "flicker")
    c["seen"]["endings"] = [e for e in c["seen"]["endings"] if e["ending"] not in never]
    for cause in c["causes"]:
        if cause["ending"] in never:
            cause.update(failures_count=0, share_probability=0.0, per_1000_hours=0.0, incidence_probability=0.0)
    page = Page(report.html(saved))
    assert "seal failed, flickereach" in page.text
    # A cause stands in one table of the two.
    assert page.text.count("How the other lamps ended") == len(saved["body"]["classes"])
    assert before.tags.count("tr") == page.tags.count("tr") + 1


def test_nouns_agree_with_their_counts() -> None:
    saved = demo.saved()
    body = saved["body"]
    for c in body["classes"]:
        c["seen"].update(lamps_count=1, failures_count=1, running_count=1, late_entry_count=1)
        c["demand"].update(running_lamps_count=1, unknown_age_lamps_count=1)
        c["stock"].update(lead_time_days=1, order_lamps=1)
        c["policy"]["failed_draws_count"] = 1
        c["curve"]["interval_rows_count"] = 1
    body["orders"]["order_lamps"] = 1
    body["study"].update(visit_interval_days=1, draws_count=1)
    body["ledger"].update(rows_count=1, lives_count=1)
    for part in ("at_limit", "soon", "age_unknown"):
        body["overdue"][part] = body["overdue"][part][:1]
    text = Page(report.html(saved)).text
    nouns = "lamps|burning lamps|rows|failures|draws|days|months"
    assert not re.findall(rf"\b1\s+(?:{nouns})\b", text)
    for right in ("1 lamp, of which", "1 still burns", "when it was not new", "From 1 burning lamp at", "1 draw gave"):
        assert right in text, right


def test_a_parameter_that_the_records_leave_open_shows_no_value() -> None:
    saved = demo.saved()
    parameters = saved["body"]["classes"][0]["model"]["parameters"]
    assert [p["identified"] for p in parameters] == ["yes"] * len(parameters)
    estimate = parameters[0]["estimate"]
    parameters[0].update(identified="no", estimate=None)
    parameters[1].update(identified="weakly")
    text = Page(report.html(saved)).text
    assert text.count("not settled by the records") == 1
    assert text.count("weakly settled") == 1
    # Results of before have no marks.
    for p in parameters:
        del p["identified"]
    parameters[0].update(estimate=estimate)
    relamp.StudyResults.from_json(json.dumps(saved))


def test_no_lamp_over_the_limit_is_said_and_not_left_blank() -> None:
    saved = demo.saved()
    saved["body"]["overdue"] = {"at_limit": [], "soon": [], "age_unknown": []}
    text = Page(report.html(saved)).text
    assert "No lamp was at or past its limit" in text


def test_a_reading_without_a_day_is_shown_as_such() -> None:
    saved = demo.saved()
    lists = saved["body"]["overdue"]
    lists["at_limit"][0]["read_on"] = lists["age_unknown"][0]["read_on"] = None
    text = Page(report.html(saved)).text
    assert text[: text.index("Summary\n")].count("not known") > 2


def test_other_files_are_refused() -> None:
    with pytest.raises(ValueError, match=r"relamp\.study_results"):
        report.html({"format": "something else"})


def test_plots_draw_on_given_axes_and_on_their_own() -> None:
    from matplotlib.figure import Figure

    for c in demo.saved()["body"]["classes"]:
        ax = Figure().add_subplot()
        assert plots.reliability(c, ax) is ax
        if c["policy"]:
            plots.cost(c, currency="EUR")
            plots.cost_parts(c)
        else:
            with pytest.raises(ValueError, match="has no policy"):
                plots.cost(c)
        if c["demand"]:
            plots.demand(c)


def test_a_notebook_shows_a_plot_as_a_picture() -> None:
    from IPython.core.formatters import DisplayFormatter

    shown, _ = DisplayFormatter().format(plots.reliability(demo.saved()["body"]["classes"][0]).figure)
    assert shown["image/png"].startswith(b"\x89PNG")


def test_plots_take_result_objects_too() -> None:
    plots.reliability(demo.output().results.classes[0])
    with pytest.raises(TypeError, match="one class of a study"):
        plots.reliability(3)


def test_curves_and_incidence_are_drawn_as_computed() -> None:
    import relamp

    ages = [400.0, 700.0, 700.0, 900.0, 1000.0, 1100.0, 1500.0]
    ending = ["burst", "dim", "dim", "dim", "burst", "dim", "planned"]
    tally = relamp.lives(ages, [*ages[:6], None], ending=ending)
    curve = relamp.product_limit(tally, min_at_risk=1)
    ax = plots.curve(curve, life=relamp.life("weibull", shape=2.0, scale=1200.0))
    (steps,) = [line for line in ax.lines if line.get_drawstyle() == "steps-post"]
    assert list(steps.get_ydata())[1:-1] == list(curve.reliability)
    assert (steps.get_xdata()[-1], steps.get_ydata()[-1]) == (1500.0, curve.reliability[-1])
    ax = plots.incidence(relamp.incidence(tally, min_at_risk=1))
    assert {t.get_text() for t in ax.get_legend().get_texts()} == {"burst", "dim"}


def test_no_cost_is_drawn_past_the_limit() -> None:
    for c in copy.deepcopy(demo.saved()["body"]["classes"]):
        if c["policy"]:
            ax = plots.cost(c)
            drawn = max(x for line in ax.lines[:1] for x in line.get_xdata())
            assert drawn <= c["limit"]["limit_hours"]


def test_axes_made_elsewhere_take_names_with_dollar_signs() -> None:
    from matplotlib.figure import Figure

    figure = Figure()
    plots.cost(demo.saved()["body"]["classes"][0], figure.add_subplot(), currency=r"$\foo$")
    figure.canvas.draw()


def test_draws_outside_their_range_are_refused() -> None:
    import relamp

    for draws in (0, 1, 19, 10**12):
        with pytest.raises(relamp.StudyError, match="20 to 100000"):
            relamp.Study.open(demo.STUDY, draws=draws)
