"""The lines of the guide under Apache Spark in local mode: flights in a partitioned Parquet
archive, with one worker and with two, compared octet for octet with one machine."""

from __future__ import annotations

import os
import shutil
import sys
import time
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

import fivefig
from conftest import ROOT, read_columns
from test_many import archive

COUNT = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
WORK = Path(sys.argv[2] if len(sys.argv) > 2 else ROOT / "target" / "python").resolve()
PARTITIONS = 16


def example(word: str) -> str:
    """The block of the guide that has a word."""
    blocks = (ROOT / "src" / "guide" / "python.md").read_text().split("```python no_run\n")[1:]
    (found,) = [block for block in (b.split("```")[0] for b in blocks) if word in block]
    return found


def flights() -> pa.Table:
    """Flights of their own: the rows of a sample, thinned, at other temperatures; every
    hundredth has a pressure that cannot be."""
    one = archive(read_columns("winter_jet.csv"), 100)
    lists = [name for name in one.column_names if name not in ("id", "sheet")]
    tables = []
    for number in range((COUNT + 99) // 100):
        ids = [f"flight-{number * 100 + k}" for k in range(100)]
        warmer = pa.array([[t + number / 10 for t in row] for row in one["temperature_c"].to_pylist()])
        columns = {name: one[name] for name in lists} | {"temperature_c": warmer}
        tables.append(pa.table({"id": ids, "sheet": one["sheet"], **columns}))
    return pa.concat_tables(tables).slice(0, COUNT)


def run(workers: int, source: str, result: Path) -> float:
    """The lines of the guide with a number of workers; the seconds of the step."""
    from pyspark.sql import SparkSession

    shutil.rmtree(result, ignore_errors=True)
    builder: Any = SparkSession.builder
    session = (
        builder.master(f"local[{workers}]")
        .config("spark.ui.enabled", "false")
        .config("spark.sql.shuffle.partitions", "2")
        # A flight is a row of some 300 kB.
        .config("spark.sql.execution.arrow.maxRecordsPerBatch", "64")
        .getOrCreate()
    )
    session.sparkContext.setLogLevel("ERROR")
    # Python workers start, and read once, before the clock runs.
    session.read.parquet("flights").limit(1).collect()
    start = time.perf_counter()
    exec(compile(source, "python.md", "exec"), {})
    took = time.perf_counter() - start
    session.stop()
    return took


def by_id(table: pa.Table) -> pa.Table:
    return table.sort_by("file").select(["file", "text", "bufr", "error", "error_kind", "warnings"])


def main() -> None:
    os.environ["SPARK_LOCAL_IP"] = "127.0.0.1"
    os.environ["PYSPARK_PYTHON"] = os.environ["PYSPARK_DRIVER_PYTHON"] = sys.executable
    WORK.mkdir(parents=True, exist_ok=True)
    os.chdir(WORK)
    shutil.rmtree("flights", ignore_errors=True)
    table = flights()
    for number in range(PARTITIONS):
        part = Path(f"flights/year={2000 + number}")
        part.mkdir(parents=True)
        keep = pc.equal(pc.bit_wise_and(pa.array(range(COUNT)), PARTITIONS - 1), number)
        pq.write_table(table.filter(keep), part / "part.parquet", row_group_size=32)
    start = time.perf_counter()
    alone = by_id(fivefig.encode_table(table, threads=1, bufr=True).to_arrow())
    alone_s = time.perf_counter() - start
    refused = pc.sum(pc.is_valid(alone["error"])).as_py()
    assert refused == COUNT // 100, refused

    took = {}
    source = example("mapInArrow")
    for workers in (1, 2):
        took[workers] = run(workers, source, Path("reports"))
        found = by_id(pq.read_table("reports"))
        assert found.equals(alone.cast(found.schema)), f"{workers} workers: the results differ"
    size = sum(path.stat().st_size for path in Path("flights").rglob("*.parquet"))
    print(
        f"Spark: {COUNT} flights ({size / 1e6:.0f} MB of Parquet, {PARTITIONS} partitions): text and "
        f"BUFR the same octet for octet, {refused} refused in both; {took[1]:.1f} s with one worker, "
        f"{took[2]:.1f} s with two (ratio {took[1] / took[2]:.2f}), {alone_s:.1f} s by the package "
        f"alone on one thread"
    )

    # With pandas: a few flights.
    from pyspark.sql import SparkSession
    from pyspark.sql.pandas.types import from_arrow_schema

    session = SparkSession.builder.master("local[1]").config("spark.ui.enabled", "false").getOrCreate()
    space: dict[str, Any] = {"fivefig": fivefig}
    exec(compile(example("iterrows"), "python.md", "exec"), space)
    schema = from_arrow_schema(pa.schema(fivefig.schema("reports")))
    few = session.read.parquet("flights/year=2000").limit(8)
    rows = few.mapInPandas(space["encode"], schema).toPandas()
    ids = few.select("id").toPandas()["id"]
    texts = dict(zip(alone["file"].to_pylist(), alone["text"].to_pylist(), strict=True))
    assert sorted(t for t in rows["text"]) == sorted(texts[i] for i in ids), "mapInPandas differs"
    session.stop()


if __name__ == "__main__":
    main()
