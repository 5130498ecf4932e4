"""Messages a second of ecCodes and of this library: see `bufr_eccodes`."""

import json
import pathlib
import subprocess
import sys
import time

import eccodes as ec
import numpy as np

LEVELS = 5000
RUNS = 40
# Elements of a level, with a range that fits.
ELEMENTS = {
    "timePeriod": (0, 7000),
    "extendedVerticalSoundingSignificance": (0, 1),
    "pressure": (100, 100000),
    "nonCoordinateGeopotentialHeight": (0, 35000),
    "latitudeDisplacement": (-1, 1),
    "longitudeDisplacement": (-1, 1),
    "airTemperature": (200, 300),
    "dewpointTemperature": (200, 300),
    "windDirection": (0, 360),
    "windSpeed": (0, 60),
}


def a_second(work):
    work()
    start = time.perf_counter()
    for _ in range(RUNS):
        work()
    return RUNS / (time.perf_counter() - start)


handle = ec.codes_bufr_new_from_samples("BUFR4")
ec.codes_set(handle, "masterTablesVersionNumber", 40)
ec.codes_set_array(handle, "inputExtendedDelayedDescriptorReplicationFactor", [LEVELS])
ec.codes_set_array(handle, "inputDelayedDescriptorReplicationFactor", [0])
ec.codes_set(handle, "unexpandedDescriptors", 309052)
columns = {
    name: np.round(np.linspace(low, high, LEVELS)).astype(float)
    for name, (low, high) in ELEMENTS.items()
}


def write():
    # All levels of an element at once, the quickest way it has.
    for name, values in columns.items():
        ec.codes_set_double_array(handle, name, values)
    ec.codes_set(handle, "pack", 1)
    return ec.codes_get_message(handle)


octets = write()
assert len(octets) == 105_091, len(octets)


def read():
    kept = ec.codes_new_from_message(octets)
    ec.codes_set(kept, "unpack", 1)
    # Every value of the message at once, the quickest way it has.
    got = ec.codes_get_double_array(kept, "numericValues")
    ec.codes_release(kept)
    return got


# The levels stand before the count of shears, a value an element.
got = read()[-1 - LEVELS * len(columns) : -1].reshape(LEVELS, len(columns))
for number, (name, values) in enumerate(columns.items()):
    # Pressure goes by 10 Pa.
    assert np.allclose(got[:, number], values, atol=5.001), name

path = pathlib.Path("target/bufr_eccodes.bufr")
path.write_bytes(octets)
done = subprocess.run(
    [sys.argv[1], "time", str(path), "2000"], capture_output=True, text=True, check=True
)
ours = {what: 2000 / seconds for what, seconds in json.loads(done.stdout).items()}
theirs = {"write": a_second(write), "read": a_second(read)}
print(f"{LEVELS} levels of 3 09 052, {len(octets)} octets; ecCodes {ec.codes_get_api_version()}")
for what in ("write", "read"):
    ratio = ours[what] / theirs[what]
    print(f"{what}: {ours[what]:.0f} messages/s here, {theirs[what]:.1f} by ecCodes: {ratio:.0f} times")
