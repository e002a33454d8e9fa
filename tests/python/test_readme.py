"""The Python examples of the README run as they stand."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_python_examples_run() -> None:
    blocks = re.findall(r"^```python\n(.*?)^```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL | re.M)
    assert blocks
    for block in blocks:
        done = subprocess.run([sys.executable, "-c", block], cwd=ROOT, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        assert "1.6 kW" in done.stdout


def test_links_lead_to_files() -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(links) > 5
    assert [link for link in links if not (ROOT / link).exists()] == []
