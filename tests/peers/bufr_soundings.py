"""What the command says of BUFR soundings against ecCodes: every level of every
report in JSON against the values of the message, found here by descriptor alone.

Called with the command and folders; exits 1 when a value differs, when a message of
other data is read as an ascent, or when one of an ascent is refused that ecCodes reads.
"""

import collections
import json
import math
import pathlib
import subprocess
import sys

import eccodes as ec

command, folders = sys.argv[1], sys.argv[2:]
passed = failed = levels_compared = 0
MISSING = -1e99


def hold(what, fits, said=""):
    global passed, failed
    passed += bool(fits)
    failed += not fits
    if not fits:
        print(f"FAILED: {what}: {said}")


FACTORS = (31000, 31001, 31002)


def flat(handle):
    """(descriptor, value) of every element of a message of one subset."""
    out = []
    iterator = ec.codes_bufr_keys_iterator_new(handle)
    while ec.codes_bufr_keys_iterator_next(iterator):
        key = ec.codes_bufr_keys_iterator_get_name(iterator)
        if not key.startswith("#") or "->" in key:
            continue
        try:
            code = ec.codes_get(handle, f"{key}->code")
        except ec.CodesInternalError:
            continue
        code = int(code)
        try:
            value = ec.codes_get(handle, key)
        except ec.CodesInternalError:
            value = None
        if isinstance(value, (int, float)) and (value <= MISSING or value == 2147483647):
            value = None
        out.append((code, value))
    ec.codes_bufr_keys_iterator_delete(iterator)
    return out


def subsets(path):
    """The subsets of every message of a file, as lists of (descriptor, value)."""
    with open(path, "rb") as file:
        while (handle := ec.codes_bufr_new_from_file(file)) is not None:
            count = ec.codes_get(handle, "numberOfSubsets")
            ec.codes_set(handle, "unpack", 1)
            if count == 1:
                yield flat(handle)
            else:
                for n in range(1, count + 1):
                    ec.codes_set(handle, "extractSubset", n)
                    ec.codes_set(handle, "doExtractSubsets", 1)
                    one = ec.codes_clone(handle)
                    ec.codes_set(one, "unpack", 1)
                    yield flat(one)
                    ec.codes_release(one)
            ec.codes_release(handle)


# What a level is made of, newer and older elements.
PRESSURE, TEMPERATURE, DEWPOINT = (7004, 10004), (12101, 12001), (12103, 12003)
HUMIDITY, HEIGHT, GEOPOTENTIAL = (13009, 13003), (10009, 7009), (10008, 10003, 7008, 7003)
METRES = (7007, 7002)
COORDINATES = PRESSURE + HEIGHT + GEOPOTENTIAL + METRES + (7006,)
MEASURED = TEMPERATURE + DEWPOINT + HUMIDITY + (11001, 11002, 11003, 11004)
OTHER = {25020, 25032, 25001, 21030, 12007, 15003, 8050, 8086, 2121, 1007, 1008}


def first(level, of):
    for code in of:
        for own, value in level:
            if own == code and value is not None:
                return value
    return None


def levels_of(flat):
    """The levels in a subset: what a count repeats, with a coordinate and something
    measured; without one, the part after 0 08 041 = 4, 6 or 7."""
    found, at = [], 0
    while at < len(flat):
        code, count = flat[at]
        at += 1
        if code not in FACTORS or not count or at >= len(flat):
            continue
        start = flat[at][0]
        starts = [n for n in range(at, len(flat)) if flat[n][0] == start][: int(count)]
        if len(starts) < count:
            continue
        if len(starts) > 1:
            length = starts[1] - starts[0]
        else:
            more = (n for n in range(at, len(flat)) if flat[n][0] in FACTORS)
            length = next(more, len(flat)) - at
        bodies = [flat[at + length * n : at + length * (n + 1)] for n in range(int(count))]
        codes = [c for c, _ in bodies[0]]
        if all([c for c, _ in b] == codes for b in bodies):
            if set(codes) & set(COORDINATES) and set(codes) & set(MEASURED):
                found += bodies
            at += length * int(count)
    if not found and any(c == 8041 for c, _ in flat):
        part, parts = None, collections.defaultdict(list)
        for code, value in flat:
            if code == 8041:
                part = value
            else:
                parts[part].append((code, value))
        found = [parts[p] for p in (4, 6, 7) if parts[p]]
    return found


def near(a, b, allowed):
    return (a is None) == (b is None) and (a is None or abs(a - b) <= allowed)


def celsius(kelvin):
    return None if kelvin is None else kelvin - 273.15


def wanted(level):
    """The values of a level that a report gives, from ecCodes."""
    height = first(level, HEIGHT)
    if height is None and (geopotential := first(level, GEOPOTENTIAL)) is not None:
        height = geopotential / 9.80665
    pressure = first(level, PRESSURE)
    metres = first(level, METRES) if height is None else None
    direction, speed = first(level, (11001,)), first(level, (11002,))
    east, north = first(level, (11003,)), first(level, (11004,))
    if direction is None or speed is None:
        if speed == 0:
            direction = 0
        elif east is not None and north is not None:
            speed = math.hypot(east, north)
            direction = math.degrees(math.atan2(-east, -north)) % 360 if speed else 0
        else:
            direction = speed = None
    return {
        "pressure_hpa": (None if pressure is None else pressure / 100, 1e-6),
        "height_gpm": (metres if height is None else height, 1e-3 if metres is None else 0.004 * abs(metres) + 1),
        "temperature_c": (celsius(first(level, TEMPERATURE)), 1e-6),
        "dewpoint_c": (celsius(first(level, DEWPOINT)), 1e-6),
        "humidity_pct": (first(level, HUMIDITY), 1e-6),
        "wind_dir_deg": (direction, 1e-6),
        "wind_speed_ms": (speed, 1e-6),
    }


def says_nothing(values):
    """A level of a NIL report."""
    of = ("pressure_hpa", "height_gpm", "temperature_c", "wind_speed_ms")
    return all(values[key][0] is None for key in of)


# A station's own pressure of a surface, in a message by pressure.
OFF_SURFACE_HPA = 0.5


def compare(what, peer, report):
    """Levels of one report; ours may stand in another order and may have the pressure
    of a standard surface that they are named by."""
    global levels_compared
    peers = [wanted(level) for level in peer]
    peers = [values for values in peers if not says_nothing(values)]
    ours = report["levels"]
    hold(f"{what}: number of levels", len(peers) == len(ours), (len(peers), len(ours)))
    if report["axis"] == "height":
        peers.sort(key=lambda v: -math.inf if v["height_gpm"][0] is None else v["height_gpm"][0])
    if report["axis"] == "pressure":
        # Ours stand in order of falling pressure; sorting keeps those of one pressure.
        peers.sort(key=lambda v: -(math.inf if v["pressure_hpa"][0] is None else v["pressure_hpa"][0]))
    for n, (values, own) in enumerate(zip(peers, ours)):
        levels_compared += 1
        for key, (value, allowed) in values.items():
            said = own[key]
            standard = "standard" in own["roles"]
            # Computed from the heights.
            if key == "pressure_hpa" and value is None and report["axis"] == "height":
                continue
            if key == "pressure_hpa" and standard:
                allowed = OFF_SURFACE_HPA
            hold(f"{what}, level {n + 1}, {key}", near(value, said, allowed), (value, said))


for folder in folders:
    read = refused = other = 0
    for path in sorted(p for p in pathlib.Path(folder).iterdir() if p.is_file()):
        ran = subprocess.run([command, "decode", str(path), "--to", "jsonl"], capture_output=True, text=True)
        reports = [json.loads(line) for line in ran.stdout.splitlines()]
        reports = [r for report in reports for r in (report.get("reports") or [report])]
        try:
            peer = list(subsets(path))
        except ec.CodesInternalError as error:
            hold(f"{path.name}: ecCodes refuses it, too", not reports, error)
            refused += 1
            continue
        if any(OTHER & {c for c, _ in subset} for subset in peer):
            hold(f"{path.name}: is no ascent", not reports and ran.returncode != 0, len(reports))
            other += 1
            continue
        levels = [levels_of(subset) for subset in peer]
        if all(any(c == 8041 for c, _ in subset) for subset in peer):
            levels = [[level for of in levels for level in of]]
        if not any(levels):
            # NIL, or an error that says where.
            nil = reports and not any(report["levels"] for report in reports)
            said = ran.returncode != 0 and "section" in ran.stderr
            hold(f"{path.name}: no levels, and an error says so", nil or said, ran.stderr)
            other += 1
            continue
        hold(f"{path.name}: reports", len(reports) == len(levels), (len(reports), len(levels), ran.stderr[:200]))
        for n, (of, report) in enumerate(zip(levels, reports)):
            compare(f"{path.name}, report {n + 1}", of, report)
            read += 1
    print(f"{folder}: {read} reports compared, {other} files of other data, {refused} that ecCodes refuses")

print(f"{levels_compared} levels; {passed} passed, {failed} failed")
sys.exit(failed > 0)
