"""Writes stock_cases.json: published values and values of scipy by direct sums, for `tests/rust/stock_rules.rs`.

The published values are copied below as printed, or recomputed to 15 digits where the source prints fewer; each has its
source and says what is from memory. Made with Python 3.11, numpy 2 and scipy 1.17, in double precision.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from scipy import integrate, stats

P = stats.poisson


def short(law, y: int, last: int = 4000) -> float:
    """E(X - y)+ by a sum from the far end."""
    k = np.arange(last, y, -1)
    return float(np.sum((k - y) * law.pmf(k)))


def published() -> list[dict]:
    means = (0.5, 1, 2, 4, 10)
    palm = "Sherbrooke 2004, chapter 2 tables (printed 1, .368, .104, .023, .004 for mean 1; from memory); Palm 1938"
    theta = 14 * 45 / 365
    lots = [short(P(theta), y) for y in range(3, 7)]
    shelf = "Hopp and Spearman, Factory Physics (printed 1.726, 3.5, .904, .049, 2.823; from memory)"
    return [
        {
            "id": "waiting_by_stock",
            "source": palm,
            "means": means,
            "waiting": [[short(P(m), s) for s in range(13)] for m in means],
        },
        {
            "id": "base_stock_measures",
            "source": "scipy, direct sums",
            "mean": 4,
            "base_stock": 6,
            "fill_rate": P.cdf(5, 4),
            "no_screen_waiting": P.cdf(6, 4),
            "waiting": short(P(4), 6),
            "on_hand": 2 + short(P(4), 6),
            "waiting_variance": float(sum((k - 6) ** 2 * P.pmf(k, 4) for k in range(7, 200)) - short(P(4), 6) ** 2),
            "wait_over_lead_time": short(P(4), 6) / 4,
        },
        {
            "id": "base_stock_table",
            "source": "Hopp and Spearman, Factory Physics (printed fill .917 and backorders .103 at 15; from memory)",
            "mean": 10,
            "base_stock": [10, 12, 15],
            "chance_of": [P.pmf(r, 10) for r in (10, 12, 15)],
            "order_point_cdf": [P.cdf(r, 10) for r in (10, 12, 15)],
            "waiting": [short(P(10), r) for r in (10, 12, 15)],
            "fill_rate_at_15": P.cdf(14, 10),
        },
        {
            "id": "order_point_and_quantity",
            "source": shelf,
            "a_year": 14,
            "days_of_year": 365,
            "lead_days": 45,
            "quantity": 4,
            "order_point": 2,
            "mean": theta,
            "orders": 3.5,
            "fill_rate": 1 - (short(P(theta), 2) - short(P(theta), 6)) / 4,
            "waiting": sum(lots) / 4,
            "on_hand": 2.5 + 2 - theta + sum(lots) / 4,
        },
        {
            "id": "order_up_to_table",
            "source": "Zheng and Federgruen 1991, Operations Research 39, table I, after "
            "Veinott and Wagner 1965 (printed 35.02, 42.7, 49.17, 54.26; from memory); more digits from all pairs",
            "per_order": 64,
            "holding": 1,
            "short": 9,
            "means": [10, 15, 20, 25],
            "pairs": [
                [6, 40, 35.0215552723204],
                [10, 49, 42.6978189226454],
                [14, 62, 49.1730357449394],
                [19, 56, 54.2621667185891],
            ],
        },
        {
            "id": "order_up_to_weekly",
            "source": "a public exercise on stock reviewed once a week, from all pairs",
            "per_order": 150,
            "holding": 40,
            "short": 125,
            "means": [4],
            "pairs": [[2, 7, 223.574829566969]],
        },
        {
            "id": "one_purchase",
            "source": "Nahmias, Production and Operations Analysis, 52 weekly sales (data and the "
            "printed 15 seen in public copies)",
            "short": 0.5,
            "left_over": 0.15,
            "quantity": 15,
            "weekly_mean": 11.7307692307692,
            "weekly_sd": 4.74079245719236,
            "normal": {
                "mean": 1000,
                "sd": 200,
                "short": 40,
                "left_over": 10,
                "quantity": 1168.32424671458,
                "lost_sales": 22.3275347386451,
            },
            "weekly": [
                15,
                19,
                9,
                12,
                9,
                22,
                14,
                11,
                6,
                11,
                9,
                18,
                10,
                5,
                4,
                17,
                18,
                14,
                15,
                8,
                9,
                4,
                6,
                7,
                12,
                15,
                15,
                19,
                4,
                7,
                8,
                11,
                0,
                14,
                12,
                9,
                10,
                8,
                9,
                16,
                8,
                11,
                11,
                18,
                15,
                17,
                19,
                14,
                14,
                17,
                13,
                12,
            ],
        },
        {
            "id": "batches",
            "source": "scipy, direct sums",
            "mean": 4,
            "variance_to_mean": 2,
            "stock_for_95": 9,
            "pmf": [float(stats.nbinom.pmf(k, 4, 0.5)) for k in range(11)],
            "waiting": [short(stats.nbinom(4, 0.5), s) for s in range(11)],
        },
        {
            "id": "transfers",
            "source": "loss formula of Erlang 1917, closed form",
            "load": 2,
            "base_stock": [1, 2, 3, 4],
            "share": [2 / 3, 0.4, 4 / 19, 2 / 21],
        },
    ]


def reviewed() -> dict:
    """Measures under periodic review by quadrature over the review period."""
    a, lead, review, rows = 0.31, 12.0, 7.0, []
    for y in range(3, 11):
        mean = lambda f: integrate.quad(lambda u: f(a * (lead + u)), 0, review, epsabs=0, epsrel=1e-12)[0] / review  # noqa: E731
        rows.append({"base_stock": y, "waiting": mean(lambda m, y=y: short(P(m), y, 120)),
                     "ready": mean(lambda m, y=y: P.cdf(y - 1, m)), "none_waiting": mean(lambda m, y=y: P.cdf(y, m)),
                     "cycle": P.cdf(y, a * (lead + review))})  # fmt: skip
    return {"id": "reviewed", "source": "scipy, quadrature over the review period", "a_day": a, "lead_days": lead,
            "review_days": review, "rows": rows}  # fmt: skip


def lead_times() -> dict:
    """Two lead times, by direct sums."""
    law = lambda k: 0.7 * P.pmf(k, 3.0) + 0.3 * P.pmf(k, 9.0)  # noqa: E731
    k = np.arange(120)
    rows = [[y, float(np.sum(law(k[k < y]))), float(np.sum(np.maximum(k - y, 0) * law(k)))] for y in range(0, 16)]
    return {"id": "lead_times", "source": "scipy, direct sums", "a_day": 0.3, "options": [[10, 0.7], [30, 0.3]],
            "rows": rows}  # fmt: skip


def best_pairs() -> dict:
    """The best reorder rule by trying every pair."""
    rng, rows = np.random.default_rng(20261126), []
    k = np.arange(400)
    for _ in range(12):
        a_year, lead = float(rng.uniform(3, 60)), float(rng.uniform(5, 120))
        h, b, per_order = float(rng.uniform(20, 200)), float(rng.uniform(300, 20000)), float(rng.uniform(0, 300))
        box, least = int(rng.integers(1, 5)), int(rng.integers(1, 9))
        pmf = P.pmf(k, a_year / 365.25 * lead)
        cost = np.array(
            [h * np.sum(np.maximum(y - k, 0) * pmf) + b * np.sum(np.maximum(k - y, 0) * pmf) for y in range(200)]
        )
        sizes = [q for q in range(1, 120) if q % box == 0 and q >= least]
        pairs = [(per_order * a_year / q + np.mean(cost[s : s + q]), s, q) for q in sizes for s in range(60)]
        total, s, q = min(pairs)
        rows.append(
            {
                "a_year": a_year,
                "lead_days": lead,
                "holding": h,
                "waiting_a_year": b,
                "per_order": per_order,
                "box_of": box,
                "least_order": least,
                "base_stock": s,
                "quantity": q,
                "total": float(total),
            }
        )
    return {"id": "best_pairs", "source": "scipy, every pair tried; invented costs", "rows": rows}


def main() -> None:
    cases = [*published(), reviewed(), lead_times(), best_pairs()]
    place = Path(__file__).with_name("stock_cases.json")
    plain = lambda v: v.item() if isinstance(v, np.generic) else str(v)  # noqa: E731
    place.write_text(json.dumps({"origin": "make_stock.py", "cases": cases}, indent=1, default=plain) + "\n")


if __name__ == "__main__":
    main()
