"""The guide page of problems names every slug of the source, once, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "src" / "guide" / "problems.md"
# First parts of a slug: the rooms, and the parts of `base` that report problems of their own.
FIRST = (
    "base|run|random|math|linalg|special|quadrature|root|sum|records|lives|terms|empirical|family|fit|policy|demand|"
    "stock|simulate|replay|study|watch|renewal|warranty|python|frame|saved"
)
SLUG = re.compile(rf'"((?:{FIRST})\.[a-z][a-z0-9_]*)"')
FILE_ENDINGS = (".csv", ".json", ".toml", ".html", ".md")


def slugs_of_the_source() -> set[str]:
    found: set[str] = set()
    for file in sorted((ROOT / "src").rglob("*.rs")):
        if file.name == "tests.rs" or "tests" in file.parent.parts:
            continue
        code = file.read_text(encoding="utf-8").split("#[cfg(test)]")[0]
        code = "\n".join(line for line in code.splitlines() if not line.lstrip().startswith("//"))
        found.update(s for s in SLUG.findall(code) if not s.endswith(FILE_ENDINGS))
    return found


def slugs_of_the_page() -> list[str]:
    return re.findall(r"^\| `([a-z_]+\.[a-z0-9_]+)` \|", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)


def test_every_slug_of_the_source_is_explained() -> None:
    source = slugs_of_the_source()
    assert len(source) > 20, "this check sees almost nothing: have the files moved?"
    missing = sorted(source - set(slugs_of_the_page()))
    assert not missing, f"add these to {PAGE.name}: {missing}"


def test_the_page_explains_nothing_that_is_gone() -> None:
    assert sorted(set(slugs_of_the_page()) - slugs_of_the_source()) == []


def test_each_slug_is_explained_once() -> None:
    page = slugs_of_the_page()
    assert sorted({s for s in page if page.count(s) > 1}) == []


@pytest.mark.parametrize("name", ["families.md", "groups.md"])
@pytest.mark.filterwarnings("ignore::relamp.WeakDataWarning")
def test_python_in_the_pages_runs(name: str) -> None:
    page = (ROOT / "src" / "guide" / name).read_text(encoding="utf-8")
    blocks = re.findall(r"^```python\n(.*?)^```$", page, flags=re.MULTILINE | re.DOTALL)
    assert len(blocks) == 1
    for block in blocks:
        exec(compile(block, name, "exec"), {})
