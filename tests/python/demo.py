"""The demo chain for tests: its results once, with few draws, and copies of its folder to change."""

from __future__ import annotations

import functools
import json
import shutil
from pathlib import Path
from typing import Any

import relamp

ROOT = Path(__file__).resolve().parents[2]
STUDY = ROOT / "data" / "demo" / "study.toml"
DRAWS = 20


@functools.cache
def output() -> Any:
    return relamp.Study.open(STUDY, draws=DRAWS).run()


def saved() -> dict[str, Any]:
    """A fresh copy of the saved form, to be changed at will."""
    whole: dict[str, Any] = json.loads(output().results.to_json())
    return whole


def copy(folder: Path) -> Path:
    """A copy of the study with few draws; returns its file."""
    shutil.copytree(STUDY.parent, folder, ignore=shutil.ignore_patterns("truth_*", "answer_key*"))
    file = folder / "study.toml"
    text = file.read_text(encoding="utf-8")
    assert "\n[study]\n" in text
    file.write_text(text.replace("\n[study]\n", f"\n[study]\ndraws = {DRAWS}\n", 1), encoding="utf-8")
    return file
