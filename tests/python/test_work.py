"""Long work can be interrupted and watched, and gives the same answer on any number of threads."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import relamp

LONG = (
    "import relamp, sys\n"
    "low = [float(100 + 7 * i) for i in range(600)]\n"
    "tally = relamp.lives(low, [x if i % 3 else None for i, x in enumerate(low)], entry=[50.0] * 600)\n"
    "print('ready', flush=True)\n"
    "try:\n"
    "    relamp.bootstrap(tally, family='lognormal', replicates=2_000_000, seed=1)\n"
    "except KeyboardInterrupt:\n"
    "    print('interrupted', flush=True)\n"
    "    relamp.product_limit(tally)\n"
    "    print('usable', flush=True)\n"
)


@pytest.fixture(scope="module")
def tally() -> relamp.Tally:
    low = [float(100 + 7 * i) for i in range(100)]
    return relamp.lives(low, [x if i % 3 else None for i, x in enumerate(low)])


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent the POSIX way")
def test_an_interrupt_stops_a_long_bootstrap() -> None:
    with subprocess.Popen([sys.executable, "-c", LONG], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as p:
        assert p.stdout is not None
        assert p.stdout.readline() == "ready\n"
        time.sleep(1.0)
        began = time.monotonic()
        p.send_signal(signal.SIGINT)
        out, err = p.communicate(timeout=60)
    assert out.split() == ["interrupted", "usable"], err
    # Polling is every 50 ms; the rest is slack for a busy machine.
    assert time.monotonic() - began < 20.0


@pytest.mark.skipif(sys.platform == "win32", reason="alarms are the POSIX way")
def test_an_interrupt_stops_the_reading_of_a_cluster_for_each_row() -> None:
    rows = 300_000
    low = np.random.default_rng(1).uniform(1.0, 3000.0, rows)
    sites = [f"site {i}" for i in range(rows)]
    # On a busy machine one of three tries is enough: without the mend none ends early.
    assert any(_ends_early(low, sites) for _ in range(3))


def _ends_early(low: Any, sites: list[str]) -> bool:
    """Whether an interrupt ends the reading well before it would be done."""
    began = time.monotonic()
    assert relamp.lives(low, cluster=sites).lamps == len(sites)
    whole = time.monotonic() - began

    def stop(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGALRM, stop)
    try:
        signal.setitimer(signal.ITIMER_REAL, 0.3 * whole)
        began = time.monotonic()
        with pytest.raises(KeyboardInterrupt):
            relamp.lives(low, cluster=sites)
        took = time.monotonic() - began
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    # A signal that waits for the end of the work comes when all of it is done.
    return took < 0.8 * whole


def test_progress_is_told_and_the_last_tick_always_comes(tally: relamp.Tally) -> None:
    seen: list[tuple[int, int]] = []
    relamp.bootstrap(tally, replicates=300, seed=1, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (300, 300)
    assert seen == sorted(seen)


def test_work_that_tells_no_steps_tells_its_end() -> None:
    seen: list[tuple[int, int]] = []
    study = relamp.Study.open(Path(__file__).parents[2] / "data" / "demo" / "study.toml")
    study.read(progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (1, 1)
    assert all(total > 0 for _, total in seen)


def test_progress_changes_no_answer(tally: relamp.Tally) -> None:
    plain = relamp.bootstrap(tally, replicates=50, seed=1)
    assert relamp.bootstrap(tally, replicates=50, seed=1, progress=lambda done, total: None) == plain
    assert relamp.bootstrap(tally, replicates=50, seed=2) != plain


def test_an_exception_in_progress_stops_the_work(tally: relamp.Tally) -> None:
    def fail(done: int, total: int) -> None:
        raise LookupError("no longer wanted")

    with pytest.raises(LookupError, match="no longer wanted"):
        relamp.bootstrap(tally, replicates=300, seed=1, progress=fail)
    with pytest.raises(relamp.InputError, match=r"python\.progress"):
        relamp.bootstrap(tally, replicates=300, seed=1, progress=3)


def test_the_number_of_threads_changes_no_bit() -> None:
    script = (
        "import relamp\n"
        "low = [float(100 + 7 * i) for i in range(100)]\n"
        "tally = relamp.lives(low, [x if i % 3 else None for i, x in enumerate(low)])\n"
        "made = relamp.bootstrap(tally, replicates=40, seed=5)\n"
        "print(made.to_json(), made.interval(b_life=10.0).to_json(), relamp.product_limit(tally).to_json())\n"
    )
    answers = set()
    for threads in ("1", "2", "3"):
        environment = {**os.environ, "RAYON_NUM_THREADS": threads}
        done = subprocess.run(
            [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=environment
        )
        answers.add(done.stdout)
    assert len(answers) == 1


def test_other_threads_run_meanwhile(tally: relamp.Tally) -> None:
    import threading

    ticks = 0
    stop = threading.Event()

    def count() -> None:
        nonlocal ticks
        while not stop.is_set():
            ticks += 1
            time.sleep(0.001)

    other = threading.Thread(target=count)
    other.start()
    began = time.monotonic()
    while time.monotonic() - began < 0.5:
        relamp.bootstrap(tally, replicates=500, seed=1)
    stop.set()
    other.join()
    assert ticks > 20
