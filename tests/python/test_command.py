"""Parquet files of the command: the same tables as in Python. FIVEFIG_COMMAND is the
command, built with the feature `parquet`."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import duckdb
import pyarrow.parquet as pq
import pytest

import fivefig
from conftest import SAMPLES, SHEET, Columns

COMMAND = os.environ.get("FIVEFIG_COMMAND", "")


def command(*arguments: object) -> None:
    assert COMMAND, "FIVEFIG_COMMAND names no command"
    subprocess.run([COMMAND, *map(str, arguments)], check=True, stderr=subprocess.DEVNULL)


def test_decode_writes_the_table_of_levels(columns: Columns, tmp_path: Path) -> None:
    sheet = {**SHEET, "bulletin": {"area": "XX", "ii": 1, "centre": "XXXX"}}
    traffic, file = tmp_path / "traffic.txt", tmp_path / "levels.parquet"
    traffic.write_bytes(fivefig.encode(columns, sheet).bulletins().encode())
    command("decode", traffic, "--date", "2031-01", "--to", "parquet", "-o", file)
    own = fivefig.decode_table(traffic, date="2031-01").to_arrow()
    found = pq.read_table(file)
    assert found.equals(own)
    assert found.schema.metadata[b"fivefig.table"] == b"levels"
    assert found.schema.field("pressure_hpa").metadata[b"unit"] == b"hPa"
    rows = duckdb.execute(f"select parts, count(*) from '{file}' group by parts").fetchall()
    assert {parts for parts, _ in rows} >= {"A", "B", "C", "D"}
    command("summary", traffic, "--date", "2031-01", "--to", "parquet", "-o", file)
    assert pq.read_table(file).equals(fivefig.decode_table(traffic, "summary", date="2031-01").to_arrow())


def test_encode_writes_levels_or_every_row(sheet: Path, tmp_path: Path) -> None:
    csv = SAMPLES / "winter_jet.csv"
    file = tmp_path / "levels.parquet"
    report = fivefig.encode(csv, sheet)
    names = [name for name in report.levels.column_names if name != "file"]
    command("encode", csv, "--sheet", sheet, "--to", "parquet", "-o", file)
    assert pq.read_table(file).select(names).equals(report.levels.to_arrow().select(names))
    command("encode", csv, "--sheet", sheet, "--levels", "all", "--to", "parquet", "-o", file)
    assert pq.read_table(file).select(names).equals(report.rows.to_arrow().select(names))


def test_many_profiles_are_one_table(tmp_path: Path) -> None:
    month, file = tmp_path / "month", tmp_path / "levels.parquet"
    month.mkdir()
    for name in ("tropical", "winter_jet"):
        for ending in (".csv", ".toml"):
            shutil.copy(SAMPLES / f"{name}{ending}", month)
    command("encode", month, "--to", "parquet", "-o", file)
    table = pq.read_table(file)
    assert table["report"].unique().to_pylist() == [1, 2]
    assert [Path(name).name for name in table["file"].unique().to_pylist()] == ["tropical.csv", "winter_jet.csv"]


def test_a_terminal_is_refused(tmp_path: Path) -> None:
    pty = pytest.importorskip("pty")
    parent, child = pty.openpty()
    done = subprocess.run(
        [COMMAND, "encode", SAMPLES / "winter_jet.csv", "--sheet", SAMPLES / "winter_jet.toml", "--to", "parquet"],
        stdout=child, stderr=subprocess.PIPE, text=True, check=False,
    )
    os.close(child)
    os.close(parent)
    assert done.returncode == 2 and "not written to a terminal" in done.stderr
