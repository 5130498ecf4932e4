"""The Python lines of the guide run, and its table of columns is the schema."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import fivefig
from conftest import ROOT

GUIDE = ROOT / "src" / "guide"


def test_the_lines_of_the_guide_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "samples").symlink_to(ROOT / "samples")
    monkeypatch.chdir(tmp_path)
    blocks = (GUIDE / "python.md").read_text().split("```python\n")[1:]
    assert len(blocks) >= 4
    space: dict[str, object] = {}
    for block in blocks:
        exec(compile(block.split("```")[0], "python.md", "exec"), space)
    assert Path("winter_jet.svg").exists()


@pytest.mark.parametrize("name", ["levels", "findings"])
def test_every_column_is_described(name: str) -> None:
    page = (GUIDE / "tables.md").read_text()
    section = page.split(f"### {name}\n")[1].split("### ")[0]
    rows = [line for line in section.splitlines() if line.startswith("| `")]
    named = [word for row in rows for word in re.findall(r"`(\w+)`", row.split("|")[1])]
    assert sorted(named) == sorted(fivefig.schema(name).column_names)  # type: ignore[arg-type]
    assert f"version of the schemas, now {fivefig.TABLE_VERSION}" in " ".join(page.split())


def test_help_reads_well() -> None:
    for name in fivefig.__all__:
        value = getattr(fivefig, name)
        if callable(value):
            assert value.__doc__ and value.__doc__.strip(), name
    for cls in (fivefig.Report, fivefig.Table, fivefig.Finding, fivefig.Difference):
        for name in dir(cls):
            if not name.startswith("_"):
                assert getattr(cls, name).__doc__, f"{cls.__name__}.{name}"


def test_the_version_is_that_of_the_crate() -> None:
    cargo = (ROOT / "Cargo.toml").read_text()
    (version,) = re.findall(r'^version = "(.+)"$', cargo, re.MULTILINE)
    assert fivefig.__version__ == version


def test_import_needs_no_other_library() -> None:
    code = (
        "import sys, fivefig; heavy = {'numpy', 'pandas', 'polars', 'pyarrow', 'xarray'};"
        "sys.exit(bool(heavy & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
