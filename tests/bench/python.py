"""Rates of the Python package beside the command, in one run on the same threads.

Called with the command and a number of flights; prints a line for each rate, and exits 1
where the package is slower than it may be.
"""

import json
import pathlib
import re
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
COMMAND, COUNT = sys.argv[1], int(sys.argv[2])
THREADS = 2

once = "import time; t = time.perf_counter(); import fivefig; print(time.perf_counter() - t)"
imports = [float(subprocess.check_output([sys.executable, "-c", once])) for _ in range(7)]

import numpy as np  # noqa: E402
import pyarrow as pa  # noqa: E402

import fivefig  # noqa: E402

failed = 0


def state(what, own, command, least):
    """A rate beside that of the command."""
    global failed
    ratio = command / own
    failed += ratio < least
    verdict = "ok" if ratio >= least else "FAILED"
    print(f"{verdict}: {what}: {own:.2f} s, the command {command:.2f} s: {ratio:.2f} x its rate (at least {least})")


def timed(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


# A time depends on the machine, so it is stated and fails nothing.
reached = "reached" if min(imports) <= 0.030 else "not reached"
print(f"import: {min(imports) * 1e3:.1f} ms, least of 7 (the aim of 30 ms is {reached})")

work = pathlib.Path(tempfile.mkdtemp(dir=ROOT / "target"))

# Flights: the samples again and again, each a little warmer or colder.
base = []
for name in ("winter_jet", "tropical", "polar_night", "windless"):
    line = subprocess.check_output(
        [COMMAND, "profile", f"samples/{name}.csv", "--sheet", f"samples/{name}.toml", "--to", "jsonl"],
        cwd=ROOT, stderr=subprocess.DEVNULL)
    base.append(json.loads(line))
names = sorted({name for flight in base for name in flight["columns"]})
SOME = min(COUNT, 200)
flights = []
for number in range(SOME):
    flight = base[number % len(base)]
    columns = dict(flight["columns"])
    shift = number / 100
    columns["temperature_c"] = [None if t is None else round(t + shift, 2) for t in columns["temperature_c"]]
    columns.pop("dewpoint_c", None)
    sheet = {key: value for key, value in flight["sheet"].items() if key != "surface"}
    # A station of its own for each, so that traffic of them is read as of many stations.
    sheet["station"] = {k: v for k, v in sheet["station"].items() if k != "wigos_id"}
    sheet["station"]["wmo_number"] = number
    flights.append({"id": f"flight-{number}", "sheet": sheet, "columns": columns})
lines = "".join(json.dumps(flight) + "\n" for flight in flights)
times = 2 * -(-COUNT // (2 * SOME))
# Files of JSON Lines stand for all their flights where there are several.
jsonl = [work / "a.jsonl", work / "b.jsonl"]
for path in jsonl:
    with path.open("w") as out:
        for _ in range(times // 2):
            out.write(lines)


def lists(name):
    # Null, not NaN, where a flight has no such column.
    return pa.array(
        [None if name not in f["columns"] else np.array(f["columns"][name], dtype="f8") for f in flights],
        type=pa.list_(pa.float64()))


one = pa.table({
    "id": [flight["id"] for flight in flights],
    "sheet": [json.dumps(flight["sheet"]) for flight in flights],
    **{name: lists(name) for name in names if any(name in f["columns"] for f in flights)},
})
table = pa.concat_tables([one] * times)
assert len(table) == SOME * times
text = work / "flights.txt"
command_s = own_s = 1e9
for _ in range(2):
    own_s = min(own_s, timed(lambda: globals().update(result=fivefig.encode_table(table, threads=THREADS))))
    command = [COMMAND, "encode", *map(str, jsonl), "--to", "text", "-q", "--threads", str(THREADS), "-o", str(text)]
    command_s = min(command_s, timed(lambda: subprocess.run(command, cwd=ROOT, check=False, stderr=subprocess.DEVNULL)))
texts = [t for t in result["text"][:SOME]]  # noqa: F821
assert all(texts), [e for e in result["error"] if e][:1]  # noqa: F821
first = "\n".join(texts)
assert text.read_text().startswith(first[:100_000]), "the messages differ"
state(f"{len(table)} flights from Arrow to text on {THREADS} threads", own_s, command_s, 0.9)

# Traffic of 50 MB from the same messages, of another block of stations or day in each copy:
# a report that comes again counts once.
block = "\n".join(texts)
traffic = work / "traffic.txt"
copies = max(1, round(50e6 / len(block.encode()) * min(1.0, COUNT / 2000)))
with traffic.open("w") as out:
    for copy in range(copies):
        head = rf"\g<1>{copy // 98 + 1:02}\g<2>{copy % 98 + 1:02}"
        out.write(re.sub(r"(TT[A-D]{2} )\d\d(\S{3} )99", head, block))
        out.write("\n")
size = traffic.stat().st_size / 1e6
own_s = command_s = 1e9
for _ in range(2):
    own_s = min(own_s, timed(lambda: globals().update(levels=fivefig.decode_table(traffic))))
    command = [COMMAND, "decode", str(traffic), "--to", "jsonl", "-q", "-o", str(work / "reports.jsonl")]
    command_s = min(command_s, timed(lambda: subprocess.run(command, check=False, stderr=subprocess.DEVNULL)))
found = max(levels["report"])  # noqa: F821
# A report at the edge of the window of the reader may come in two.
assert copies * SOME <= found <= copies * SOME * 1.001, (found, copies * SOME)
print(f"{size:.1f} MB of traffic: {found} reports, {len(levels)} levels")  # noqa: F821
state(f"decode of {size:.0f} MB to one Arrow table", own_s, command_s, 0.8)
for path in work.iterdir():
    path.unlink()
work.rmdir()
sys.exit(failed > 0)
