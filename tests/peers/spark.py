"""Runs what the guide shows of Apache Spark over generated flights, and holds the result
line by line against a run of the command alone."""

import json
import os
import pathlib
import random
import shutil
import subprocess
import sys
import time

from pyspark.sql import SparkSession

ROOT = pathlib.Path(__file__).resolve().parents[2]
WORK = ROOT / "target/peers-spark"
COUNT = int(sys.argv[1])
FIVEFIG = str(ROOT / "target/release/fivefig")


def flights():
    """Invented flights: every nth row of the samples, each a little warmer or
    colder, on days of their own; every hundredth is at fault."""
    dice = random.Random(20310115)
    lines = {}
    for name in ("winter_jet", "tropical", "polar_night", "windless"):
        made = subprocess.run(
            [FIVEFIG, "profile", f"samples/{name}.csv", "--sheet", f"samples/{name}.toml", "--to", "jsonl"],
            cwd=ROOT, check=True, capture_output=True)
        lines[name] = json.loads(made.stdout)
    names = sorted(lines)
    for number in range(COUNT):
        flight = json.loads(json.dumps(lines[names[number % len(names)]]))
        step = dice.randrange(3, 12)
        columns = {name: values[::step] for name, values in flight["columns"].items()}
        shift = round(dice.uniform(-2, 2), 2)
        for name in ("temperature_c", "dewpoint_c"):
            if name in columns:
                columns[name] = [None if t is None else round(t + shift, 2) for t in columns[name]]
        flight["columns"] = columns
        flight["id"] = f"flight-{number}"
        flight["sheet"].pop("surface", None)
        if number % 100 == 99:
            flight["columns"]["pressure_hpa"][5] = "high"
        yield json.dumps(flight)


PAGE = "src/guide/performance.md"


def example():
    """The lines of the page between its Python fences that use Spark."""
    blocks = (ROOT / PAGE).read_text().split("```python\n")[1:]
    blocks = [block.split("```")[0] for block in blocks]
    found = [block for block in blocks if "SparkSession" in block]
    assert len(found) == 1, f"{PAGE} has one example for Spark"
    return found[0]


source, result = WORK / "flights.jsonl", WORK / "reports"
source.write_text("".join(line + "\n" for line in flights()))
shutil.rmtree(result, ignore_errors=True)

# One machine, one run.
start = time.perf_counter()
with source.open("rb") as flights_in:
    alone = subprocess.run([FIVEFIG, "encode", "-", "--to", "jsonl", "-q"], stdin=flights_in,
                           capture_output=True)
seconds = time.perf_counter() - start
assert alone.returncode == 1, alone.stderr
expected = alone.stdout.decode().splitlines()
assert len(expected) == COUNT

# The lines as they stand, with their paths; the command is found by its name.
os.environ["PATH"] = f"{pathlib.Path(FIVEFIG).parent}:{os.environ['PATH']}"
os.environ["SPARK_LOCAL_IP"] = "127.0.0.1"
os.environ["PYSPARK_PYTHON"] = sys.executable
os.chdir(WORK)
SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false").getOrCreate()
start = time.perf_counter()
exec(compile(example(), PAGE, "exec"), {})
spark_seconds = time.perf_counter() - start

parts = sorted(result.glob("part-*"))
found = [line for part in parts for line in part.read_text().splitlines()]
# Errors name the line, which is another in each part.
place = lambda line: json.loads(line) if "\"error\"" not in line else json.loads(line)["id"]
bad = [number for number, (a, b) in enumerate(zip(found, expected)) if place(a) != place(b)]
assert len(found) == COUNT and not bad, f"{len(found)} lines, differ at {bad[:5]}"
coded = [(a, b) for a, b in zip(found, expected) if "\"error\"" not in a]
same, refused = sum(a == b for a, b in coded), COUNT - len(coded)
assert same == len(coded) and refused == COUNT // 100, (same, refused)
print(f"Spark: {COUNT} flights in {len(parts)} parts, {source.stat().st_size / 1e6:.0f} MB: {same} lines the same "
      f"octet for octet, {refused} refused in both; {spark_seconds:.1f} s with two workers, "
      f"{seconds:.1f} s by the command alone on {os.cpu_count()} processors")
SparkSession.getActiveSession().stop()
