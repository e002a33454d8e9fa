"""The same work in numpy, scipy and pyarrow, beside ours, in one run.

Runs `cargo bench` for the figures of `src/guide/speed.md` and the same work with general-purpose libraries on
samples of the same law, in turn, and prints one table. Both sides show their fastest repetition, as other
work on the machine only ever adds time.

    python benches/baseline.py            # in an environment with requirements-dev.txt and relamp
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
ROWS = 1_000_000


def fastest(work, repetitions):
    """Least seconds of some repetitions, after one that warms up."""
    work()
    best = float("inf")
    for _ in range(repetitions):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def lives(n, whole=False):
    """Weibull lives of shape 2.5 and scale 1,800 h, changed at ages between 1,500 and 2,500 h."""
    rng = np.random.default_rng(1)
    fails = 1800.0 * rng.weibull(2.5, n)
    limit = rng.uniform(1500.0, 2500.0, n)
    if whole:
        fails, limit = np.ceil(fails), np.ceil(limit)
    return np.minimum(fails, limit), fails <= limit


def weibull_shape(age, failed, weight, start=1.0, most=60):
    """Best shape under each row of weights, the scale profiled out, by Newton's method."""
    y = np.log(age) - np.log(age.max())
    powers = np.stack([np.ones_like(y), y, y * y], axis=1)
    failures, logs = (weight @ np.stack([failed, failed * y], axis=1)).T
    shape = np.full(weight.shape[0], start)
    for _ in range(most):
        e = np.exp(shape[:, None] * y)
        e *= weight
        s0, s1, s2 = (e @ powers).T
        slope = 1.0 / shape + logs / failures - s1 / s0
        step = slope / (1.0 / shape**2 + s2 / s0 - (s1 / s0) ** 2)
        shape = np.maximum(shape + step, 0.1 * shape)
        if np.all(np.abs(step) < 1e-8 * shape):
            break
    return shape


def numpy_fit():
    age, failed = lives(ROWS)
    weight = np.ones((1, ROWS))
    return fastest(lambda: weibull_shape(age, failed, weight), 5)


def scipy_fit():
    from scipy import stats

    age, failed = lives(ROWS // 10)
    sample = stats.CensoredData(uncensored=age[failed], right=age[~failed])
    return fastest(lambda: stats.weibull_min.fit(sample, floc=0), 2)


def numpy_whole_hours():
    age, failed = lives(10_000_000, whole=True)

    def work():
        hours = age.astype(np.int64)
        dead = np.bincount(hours[failed])
        alive = np.bincount(hours[~failed], minlength=dead.size)
        dead = np.pad(dead, (0, alive.size - dead.size))
        there = np.flatnonzero(dead + alive)
        count = np.concatenate([dead[there], alive[there]]).astype(float)
        kind = np.repeat([True, False], there.size)
        return weibull_shape(np.tile(there, 2).astype(float), kind, count[None, :])

    return fastest(work, 3)


def numpy_bootstrap():
    age, failed = lives(2_000)
    start = weibull_shape(age, failed, np.ones((1, age.size)))[0]

    def work():
        rng = np.random.default_rng(2)
        # A hundred replicates at a time: all at once would leave the processor's cache.
        for _ in range(20):
            weibull_shape(age, failed, rng.standard_exponential((100, age.size)), start)

    return fastest(work, 5)


def numpy_curve():
    age, failed = lives(ROWS)

    def work():
        order = np.argsort(age)
        ages, dead = age[order], failed[order]
        first = np.flatnonzero(np.diff(ages, prepend=-1.0))
        deaths = np.add.reduceat(dead.astype(np.int64), first)
        there = deaths > 0
        at_risk, deaths = (ages.size - first)[there], deaths[there]
        reliability = np.cumprod(1.0 - deaths / at_risk)
        hazard = np.cumsum(deaths / at_risk)
        with np.errstate(divide="ignore"):
            variance = np.cumsum(deaths / (at_risk * (at_risk - deaths)))
        return ages[first][there], reliability, hazard, variance

    return fastest(work, 5)


def scipy_curve():
    from scipy import stats

    age, failed = lives(ROWS)
    return fastest(lambda: stats.ecdf(stats.CensoredData(uncensored=age[failed], right=age[~failed])).sf, 3)


def looked_at(n):
    """Lives of shape 3 and scale 2,000 h, looked at twice at ages of their own: lows and highs."""
    rng = np.random.default_rng(2)
    fails = 2000.0 * rng.standard_exponential(n) ** (1.0 / 3.0)
    first = rng.uniform(0.0, 3000.0, n)
    second = first + rng.uniform(0.0, 800.0, n)
    low = np.where(fails <= first, 0.0, np.where(fails <= second, first, second))
    return low, np.where(fails <= first, first, np.where(fails <= second, second, np.inf))


def numpy_self_consistent():
    low, high = looked_at(ROWS // 10)

    def work():
        # A maximum puts weight only where a low is followed at once by a high.
        ends = np.concatenate([low, high])
        is_high = np.repeat([False, True], low.size)
        order = np.lexsort((~is_high, ends))
        ends, is_high = ends[order], is_high[order]
        at = np.flatnonzero(~is_high[:-1] & is_high[1:])
        first, last = np.searchsorted(ends[at], low), np.searchsorted(ends[at + 1], high, side="right")
        weight = np.full(at.size, 1.0 / at.size)
        for _ in range(1_000):
            below = np.concatenate([[0.0], np.cumsum(weight)])
            share = 1.0 / (below[last] - below[first])
            moves = np.bincount(first, share, at.size + 1) - np.bincount(last, share, at.size + 1)
            weight *= np.cumsum(moves[:-1]) / low.size
        return weight

    return fastest(work, 1)


def columnar_reading():
    from datetime import date, timedelta

    import pyarrow
    from pyarrow import csv

    lines = ["serial,class,site,screen,in,out,at,hours,strikes,why,read"]
    for screen in range(ROWS // 40):
        day = date(2010, 1, 1)
        for lamp in range(40):
            n = screen * 40 + lamp
            days = 60 + n * 37 % 61
            out = day + timedelta(days=days)
            why = ("planned", "dim", "flicker", "burst")[n % 4]
            site = f"Site {screen // 8},{screen % 8}"
            lines.append(f"AX-{n:07},2.0 kW,{site},{day},{out},0,{days * 10},{days * 3},{why},")
            day = out
    text = pyarrow.py_buffer("\n".join(lines).encode())
    return fastest(lambda: csv.read_csv(pyarrow.BufferReader(text)), 5)


def whole_process(code):
    """Least seconds of a fresh interpreter that runs some code."""
    command = [sys.executable, "-c", code]
    return fastest(lambda: subprocess.run(command, check=True, cwd=tempfile.gettempdir()), 20)


def ours(folder):
    """Least time of one iteration of every bench, seconds, by the name of its folder."""
    found = {}
    for file in folder.glob("*/*/new/sample.json"):
        sample = json.loads(file.read_text())
        times = (t / n for t, n in zip(sample["times"], sample["iters"], strict=True))
        found[f"{file.parts[-4]}/{file.parts[-3]}"] = min(times) / 1e9
    return found


FIGURES = [
    ("Weibull fit, 1,000,000 real-valued lives, tally at hand", "fit/weibull_1e6_real_valued_tally_at_hand"),
    ("the same from bare columns", "fit/weibull_1e6_real_valued_with_tally"),
    ("10,000,000 whole-hour lives, tally and Weibull fit", "fit/weibull_1e7_whole_hours_with_tally"),
    ("product-limit curve, 1,000,000 rows, tally at hand", "product limit/1,000,000 rows, tally at hand"),
    ("the same from bare columns", "product limit/1,000,000 rows, from bare columns"),
    ("self-consistent estimate, 100,000 distinct intervals", "without a family/self-consistent, 100,000 intervals"),
    ("weighted bootstrap, 2,000 replicates of 2,000 lives", "fit/bootstrap_2000_x_2000"),
    ("reading 1,000,000 rows of a log, with its ledger", "records/read_1e6_clean"),
]


def bench():
    """Runs the benches and gives our fastest times, seconds."""
    benches = [f"--bench={name}" for name in ("fit", "empirical", "records")]
    only = "weibull_1e|bootstrap|1,000,000 rows|self-consistent|read_1e6_clean"
    subprocess.run(["cargo", "bench", "--locked", *benches, "--", only], check=True, cwd=ROOT, stdout=sys.stderr)
    return ours(Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "criterion")


def baselines():
    """Seconds of the libraries for each of the figures, and what they are."""
    curve, fit = numpy_curve(), numpy_fit()
    return [
        (fit, "numpy, same search"),
        (fit, "numpy, same search"),
        (numpy_whole_hours(), "numpy, bincount and same search"),
        (curve, "numpy, one sort and running sums"),
        (curve, "numpy, one sort and running sums"),
        (numpy_self_consistent(), "numpy, 1,000 rounds of its equation"),
        (numpy_bootstrap(), "numpy, same search"),
        (columnar_reading(), "pyarrow `read_csv`, no ledger"),
    ]


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--rounds", type=int, default=3, help="rounds of ours and theirs in turn")
    rounds = options.parse_args().rounds
    mine, theirs, process = {}, {}, {}
    for _ in range(rounds):
        for name, seconds in bench().items():
            mine[name] = min(seconds, mine.get(name, seconds))
        for (_, name), (seconds, what) in zip(FIGURES, baselines(), strict=True):
            theirs[name] = (min(seconds, theirs.get(name, (seconds,))[0]), what)
        for code in ("pass", "import relamp"):
            seconds = whole_process(code)
            process[code] = min(seconds, process.get(code, seconds))
    load = os.getloadavg()[1]
    print(f"{os.cpu_count()} cores, load {load:.1f}, {rounds} rounds\n")
    print(f"| work | ours, ms | baseline, ms | baseline / ours | baseline is |\n|{'---|' * 5}")
    for work, name in FIGURES:
        seconds, what = theirs[name]
        line = f"| {work} | {1e3 * mine[name]:.1f} | {1e3 * seconds:.1f} | {seconds / mine[name]:.2f} | {what} |"
        print(line)
    bare, loaded = 1e3 * process["pass"], 1e3 * process["import relamp"]
    print(f"| `import relamp`, whole process | {loaded:.1f} | {bare:.1f} | {bare / loaded:.2f} | bare Python |")
    print(f"\nscipy's own Weibull fit of a tenth of the lives: {1e3 * scipy_fit():.0f} ms")
    print(f"scipy's own curve from the bare columns: {1e3 * scipy_curve():.0f} ms")


if __name__ == "__main__":
    main()
