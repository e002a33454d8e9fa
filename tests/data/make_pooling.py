"""Builds pooling_references.json: groups pooled by brute force, with numpy only.

The posterior of (baseline, spread) is summed on a dense grid, each effect integrated on a grid of its own, and what
needs all groups at once (ratio to the rest, ranks) comes from 400,000 draws of that grid. Shares no code and no method
with the library. Run: python tests/data/make_pooling.py
"""

import json
import pathlib

import numpy as np

HERE = pathlib.Path(__file__).parent
DRAWS = 400_000

# D. P. Gaver and I. G. O'Muircheartaigh (1987), Technometrics 29, 1-15: failures and thousands of hours of ten pumps.
# From memory.
PUMPS = {
    "failures": [5, 1, 5, 14, 3, 19, 1, 1, 4, 22],
    "hours": [94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48],
}


def ln_likelihood(u, group, scale, shape):
    """Log-likelihood of effects u (any shape) of one group of rows (low, high, entry, count)."""
    lift = np.exp(u)
    total = np.zeros_like(u)
    expected = 0.0

    def h(t):
        return (t / scale) ** shape

    for low, high, entry, count in group:
        total -= count * lift * (h(low) - h(entry))
        expected += count * (h(low) - h(entry))
        if low == high:
            total += count * (u + np.log(shape / scale) + (shape - 1) * np.log(low / scale))
        elif np.isfinite(high):
            total += count * np.log(-np.expm1(-lift * (h(high) - h(low))))
            expected += count * 0.5 * (h(high) - h(low))
    return total, expected


def pool(groups, baselines, rim, spreads, scales, level, threshold, rng):
    """Posterior on the grid baselines x spreads.

    baselines: list of (scale, shape), even in their logarithms; rim: places of those at the ends of their range.
    """
    z = np.linspace(-8.0, 8.0, 321)
    ln = np.zeros((len(baselines), len(spreads)))
    expected = np.zeros((len(baselines), len(groups)))
    for b, (scale, shape) in enumerate(baselines):
        for g, group in enumerate(groups):
            u = spreads[:, None] * z[None, :]
            value, expected[b, g] = ln_likelihood(u, group, scale, shape)
            value = value - 0.5 * z**2
            top = value.max(axis=1, keepdims=True)
            ln[b] += top[:, 0] + np.log(np.exp(value - top).sum(axis=1))
    out = []
    for prior in scales:
        weight = ln - 0.5 * (spreads / prior) ** 2
        weight = np.exp(weight - weight.max())
        weight /= weight.sum()
        by_spread = weight.sum(axis=0)
        # Spreads stand in the middle of cells that start at 0.
        edges = np.concatenate([[0.0], np.cumsum(by_spread)])
        tails = [0.5, 0.5 * (1 - level), 0.5 * (1 + level)]
        spread = [float(np.interp(p, edges, 2 * spreads[0] * np.arange(len(edges)))) for p in tails]
        by_baseline = weight.sum(axis=1)
        assert max(by_baseline[b] for b in rim) < 1e-4 * by_baseline.max(), "baselines end too soon"
        cells = rng.choice(weight.size, size=DRAWS, p=weight.ravel())
        at, order = np.unique(cells, return_inverse=True)
        effects = np.zeros((DRAWS, len(groups)))
        counts = np.bincount(order)
        first = np.concatenate([[0], np.cumsum(counts)])
        rows = np.argsort(order, kind="stable")
        for k, cell in enumerate(at):
            b, s = divmod(cell, len(spreads))
            here = rows[first[k] : first[k + 1]]
            for g, group in enumerate(groups):
                u = spreads[s] * z
                value = ln_likelihood(u, group, *baselines[b])[0] - 0.5 * z**2
                chance = np.cumsum(np.exp(value - value.max()))
                mid = chance / chance[-1]
                mid = mid - 0.5 * np.diff(np.concatenate([[0.0], mid]))
                effects[here, g] = np.interp(rng.random(len(here)), mid, u)
        passed = expected[cells // len(spreads)]
        lifts = np.exp(effects)
        lifted = lifts * passed
        rest = (lifted.sum(axis=1, keepdims=True) - lifted) / (passed.sum(axis=1, keepdims=True) - passed)
        ratio = lifts / rest
        ranks = (-effects).argsort(axis=1).argsort(axis=1) + 1
        out.append(
            {
                "prior_scale": prior,
                "spread": spread,
                "ratio": [[float(q) for q in np.quantile(ratio[:, g], tails)] for g in range(len(groups))],
                "chance_above": [float((ratio[:, g] > threshold).mean()) for g in range(len(groups))],
                "rank": [float(np.median(ranks[:, g])) for g in range(len(groups))],
            }
        )
    return out


def pumps():
    groups = [[(t / n, t / n, 0.0, n)] for n, t in zip(PUMPS["failures"], PUMPS["hours"], strict=True)]
    mean = sum(PUMPS["hours"]) / sum(PUMPS["failures"])
    baselines = [(mean * np.exp(x), 1.0) for x in np.linspace(-4.5, 3.5, 107)]
    spreads = 0.04 * (np.arange(120) + 0.5)
    scales = [1.0, 0.5, 2.0]
    answers = pool(groups, baselines, [0, 106], spreads, scales, 0.95, 1.5, np.random.default_rng(20))
    return {"family": "exponential", "threshold": 1.5, "level": 0.95, "groups": groups, "answers": answers}


def mixed():
    """Eight invented sites, Weibull 2.5 / 2,000 h: late entry, right censoring and failures known to intervals."""
    rng = np.random.default_rng(7)
    groups = []
    for lamps in [40, 30, 20, 12, 8, 5, 3, 2]:
        lift = np.exp(rng.normal(0.0, 0.5))
        rows = []
        for _ in range(lamps):
            entry = float(rng.choice([0.0, 0.0, 400.0, 900.0]))
            stop = float(rng.choice([1200.0, 1500.0, 1800.0]))
            age = 2000.0 * ((entry / 2000.0) ** 2.5 + rng.exponential() / lift) ** 0.4
            age = float(np.ceil(age))
            if age > stop:
                rows.append((stop, np.inf, entry, 1))
            elif rng.random() < 0.3:
                low = max(entry, 250.0 * np.floor(age / 250.0 - 1e-9))
                rows.append((low, 250.0 * np.ceil(age / 250.0), entry, 1))
            else:
                rows.append((age, age, entry, 1))
        groups.append(rows)
    ln_scale, ln_shape = np.linspace(6.9, 9.0, 43), np.linspace(0.1, 1.6, 31)
    places = [(i, j) for i in range(43) for j in range(31)]
    baselines = [(np.exp(ln_scale[i]), np.exp(ln_shape[j])) for i, j in places]
    rim = [k for k, (i, j) in enumerate(places) if i in (0, 42) or j in (0, 30)]
    spreads = 0.04 * (np.arange(75) + 0.5)
    answers = pool(groups, baselines, rim, spreads, [0.5, 0.25, 1.0], 0.9, 1.5, rng)
    return {"family": "weibull", "threshold": 1.5, "level": 0.9, "groups": groups, "answers": answers}


def main():
    cases = {"pumps": pumps(), "mixed": mixed()}
    for case in cases.values():
        case["groups"] = [
            [[low, None if np.isinf(high) else high, e, n] for low, high, e, n in g] for g in case["groups"]
        ]
    meta = {
        "made_by": f"make_pooling.py, numpy {np.__version__}",
        "precision": "chances about 0.002, quantiles about 0.01 relative",
    }
    (HERE / "pooling_references.json").write_text(
        json.dumps({"meta": meta, **cases}, indent=1) + "\n", encoding="utf-8"
    )


if __name__ == "__main__":
    main()
