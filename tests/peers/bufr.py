"""BUFR lists of values against ecCodes, in both directions, and every value of
real messages where a folder of them is there.

Called with the program `bufr_values`; exits 1 when a value differs. Numbers are
compared with each other as whole numbers in units of their last place.
FIVEFIG_BUFR names folders of files with messages, as PATH names folders.
"""

import json
import multiprocessing
import os
import pathlib
import random
import re
import subprocess
import sys

import eccodes as ec

MISSING = -1e100
FACTORS = {
    "031000": "inputShortDelayedDescriptorReplicationFactor",
    "031001": "inputDelayedDescriptorReplicationFactor",
    "031002": "inputExtendedDelayedDescriptorReplicationFactor",
}
NUMBERS = random.Random(20260214)
passed = failed = values_held = 0


class Ours:
    """The program, a question at a time."""

    def __init__(self, program):
        self.run = subprocess.Popen(
            [program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def __call__(self, **question):
        self.run.stdin.write(json.dumps(question) + "\n")
        self.run.stdin.flush()
        return json.loads(self.run.stdout.readline())


ours = Ours(sys.argv[1])


def hold(what, fits, said=""):
    global passed, failed
    passed += bool(fits)
    failed += not fits
    if not fits:
        print(f"FAILED: {what}: {said}")


def whole(value, scale):
    """A number of ecCodes in units of the last place; None where it is missing."""
    if value <= MISSING / 2:
        return None
    scaled = value * 10.0**scale
    number = round(scaled)
    if abs(scaled - number) > 1e-3 * max(1.0, abs(number) * 1e-9):
        return scaled
    return number


def read_peer(octets, fields_of):
    """Subsets of values as ecCodes reads them; `fields_of(subset)` gives what
    stands in each place."""
    handle = ec.codes_new_from_message(octets)
    try:
        ec.codes_set(handle, "unpack", 1)
        flat = ec.codes_get_double_array(handle, "numericValues").tolist()
        called = names_in(handle)
        together = ec.codes_get(handle, "compressedData")
        subsets, texts, at, ranks = [], None, 0, {}
        for subset in range(ec.codes_get(handle, "numberOfSubsets")):
            values = []
            if together:
                ranks = {}
            of, groups = fields_of(subset), operators(handle)
            for place, (fxy, scale, reference, bits, is_text) in enumerate(of):
                # ecCodes has an entry for each operator in front of a bit-map.
                if begins_map(of, place):
                    at += next(groups, 0)
                if is_marked(of, place):
                    # It reads no associated field in front of a value under 2 23 255
                    # to 2 32 255 and all that follows from other bits.
                    return subsets + [values]
                value = flat[at]
                at += 1
                if is_text:
                    # In its place stands an index of texts, and its octets.
                    index, octets_here = divmod(int(value), 1000)
                    if octets_here != bits // 8:
                        raise ValueError(f"{fxy}: {value}, {bits} bits")
                    if together:
                        name = called[fxy]
                        ranks[name] = ranks.get(name, 0) + 1
                        said = ec.codes_get_string_array(handle, f"#{ranks[name]}#{name}")
                        said = said[subset if len(said) > 1 else 0]
                    else:
                        # Characters of 2 05 have no name.
                        texts = texts or ec.codes_get_string_array(handle, "stringValues")
                        said = texts[index - 1]
                    # Octets of all bits one are no letters.
                    values.append(said.rstrip(" \0").rstrip("\ufffd") or None)
                else:
                    number = whole(value, scale)
                    # Compressed, ecCodes keeps a missing value that is written as a sum;
                    # of the same subset on its own it says that it is missing.
                    if together and bits > 1 and number == 2**bits - 1 + reference:
                        number = None
                    values.append(number)
            subsets.append(values)
        if at != len(flat):
            raise ValueError(f"{len(flat)} values, {at} fields")
        return subsets
    finally:
        ec.codes_release(handle)


def can_unpack(octets):
    """Whether ecCodes reads a message."""
    handle = ec.codes_new_from_message(octets)
    try:
        ec.codes_set(handle, "unpack", 1)
        return len(ec.codes_get_double_array(handle, "numericValues")) > 0
    except ec.CodesInternalError:
        return False
    finally:
        ec.codes_release(handle)


def operators(handle):
    """How many operators from 2 22 000 to 2 37 000 stand together, group by group."""
    groups, before = [], False
    for descriptor in ec.codes_get_array(handle, "unexpandedDescriptors").tolist():
        here = 222000 <= descriptor <= 237000 and descriptor % 1000 == 0
        if here and before:
            groups[-1] += 1
        elif here and descriptor != 235000:
            groups.append(1)
        before = here
    return iter(groups)


def is_marked(fields, place):
    """Whether the associated field of a value under 2 23 255 to 2 32 255 is here."""
    markers = ("223255", "224255", "225255", "232255")
    here = fields[place][0]
    return here in markers and place + 1 < len(fields) and fields[place + 1][0] == here


def begins_map(fields, place):
    """Whether the count of a bit-map stands here, or its first bit without one."""

    def is_bit(n):
        return 0 <= n < len(fields) and fields[n][0] == "031031"

    if fields[place][0] in FACTORS:
        return is_bit(place + 1)
    before = fields[place - 1][0] if place else ""
    return is_bit(place) and before != "031031" and before not in FACTORS


def names_in(handle):
    found = ec.codes_get_array(handle, "expandedDescriptors").tolist()
    said = ec.codes_get_array(handle, "expandedAbbreviations")
    return {f"{fxy:06d}": name for fxy, name in zip(found, said)}


def names(template, counts):
    """ecCodes' name of every descriptor of a template."""
    handle = new(template, 1, False, 4, counts)
    try:
        return names_in(handle)
    finally:
        ec.codes_release(handle)


def new(template, subsets, together, edition, counts):
    handle = ec.codes_bufr_new_from_samples(f"BUFR{edition}")
    ec.codes_set(handle, "masterTablesVersionNumber", 45)
    ec.codes_set(handle, "compressedData", int(together))
    ec.codes_set(handle, "numberOfSubsets", subsets)
    for fxy, key in FACTORS.items():
        of = [n for factor, n in counts if factor == fxy]
        if of:
            ec.codes_set_array(handle, key, of)
    ec.codes_set_array(handle, "unexpandedDescriptors", [int(d) for d in template])
    return handle


def write_peer(template, subsets, fields, together, edition):
    """A message of ecCodes; `fields` of each subset."""
    counts = [
        (field[0], value)
        for subset, of in list(zip(subsets, fields))[: 1 if together else None]
        for value, field in zip(subset, of)
        if field[0] in FACTORS
    ]
    called = names(template, counts)
    handle = new(template, len(subsets), together, edition, counts)
    ranks = {}

    def key(name):
        ranks[name] = ranks.get(name, 0) + 1
        return f"#{ranks[name]}#{name}"

    def text(value, bits):
        # ecCodes fills up with zero octets; edition 3 tries these.
        return (value or "").ljust(bits // 8 if edition == 4 else 0)

    def number(value, scale):
        return MISSING if value is None else value / 10.0**scale

    try:
        if together:
            for column in zip(*(zip(s, f) for s, f in zip(subsets, fields))):
                fxy, scale, _, bits, is_text = column[0][1]
                place = key(called[fxy])
                if fxy in FACTORS:
                    continue
                if is_text:
                    if any(v is not None for v, _ in column):
                        ec.codes_set_array(handle, place, [text(v, bits) for v, _ in column])
                else:
                    ec.codes_set_double_array(handle, place, [number(v, scale) for v, _ in column])
        else:
            for subset, of in zip(subsets, fields):
                for value, (fxy, scale, _, bits, _) in zip(subset, of):
                    place = key(called[fxy])
                    if value is None or fxy in FACTORS:
                        continue
                    if isinstance(value, str):
                        ec.codes_set(handle, place, text(value, bits))
                    else:
                        ec.codes_set_double(handle, place, number(value, scale))
        ec.codes_set(handle, "pack", 1)
        return ec.codes_get_message(handle)
    finally:
        ec.codes_release(handle)


def some_value(field, missing):
    _, _, reference, bits, is_text = field
    if NUMBERS.random() < missing:
        return None
    if is_text:
        letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
        length = NUMBERS.randint(1, bits // 8)
        return "".join(NUMBERS.choice(letters) for _ in range(length))
    # The greatest stands for missing.
    most = 2**bits - 2 if bits > 1 else 1
    raw = NUMBERS.choice([0, most, NUMBERS.randint(0, most), NUMBERS.randint(0, most)])
    return raw + reference


def some_message(template, counts, subsets, missing):
    """Random subsets; `counts()` gives the counts of one."""
    fields, values = [], []
    for _ in range(subsets):
        these = counts()
        answer = ours(descriptors=template, counts=these)
        of = answer["fields"]
        turn = iter(these)
        fields.append(of)
        values.append([
            next(turn) if f[0] in FACTORS else some_value(f, missing) for f in of
        ])
    return fields, values


def one_way(name, template, counts, subsets, missing):
    """What ecCodes has no key to write."""
    fields, values = some_message(template, counts, subsets, missing)
    answer = ours(descriptors=template, subsets=values)
    if "octets" not in answer:
        hold(f"{name}: written here", False, answer)
        return
    octets = bytes.fromhex(answer["octets"])
    held(f"{name}: written here, read by ecCodes", read_peer(octets, lambda s: fields[s]), values)
    held(f"{name}: read here", ours(octets=octets.hex())["subsets"], values)


def section4(octets):
    """The data of a message of edition 4 without section 2."""
    at = 8 + int.from_bytes(octets[8:11], "big")
    at += int.from_bytes(octets[at : at + 3], "big")
    end = at + int.from_bytes(octets[at : at + 3], "big")
    return octets[at + 4 : end]


def differ(a, b):
    for s, (x, y) in enumerate(zip(a, b)):
        for n, (v, w) in enumerate(zip(x, y)):
            if v != w:
                return f"subset {s + 1}, value {n + 1}: {v!r}, {w!r}"
    return f"{[len(x) for x in a]} and {[len(x) for x in b]} values"


def held(what, a, b, texts=True):
    """Holds subsets against each other; without `texts` one that is missing is
    the same as one of blanks."""
    global values_held
    if not texts:
        a, b = ([[v or (None if v == "" else v) for v in s] for s in of] for of in (a, b))
    values_held += sum(map(len, a))
    hold(what, a == b, a != b and differ(a, b))


def both_ways(name, template, counts, subsets, missing):
    fields, values = some_message(template, counts, subsets, missing)
    answer = ours(descriptors=template, subsets=values)
    if "octets" not in answer:
        hold(f"{name}: written here", False, answer)
        return
    octets = bytes.fromhex(answer["octets"])
    held(f"{name}: written here, read by ecCodes", read_peer(octets, lambda s: fields[s]), values)
    equal = all(f == fields[0] for f in fields)
    for edition in (3, 4):
        for together in (False, True) if equal else (False,):
            how = f"{name}: written by ecCodes, edition {edition}" + ", compressed" * together
            peer = write_peer(template, values, fields, together, edition)
            if edition == 4 and not together:
                hold(f"{how}: section 4", section4(peer) == section4(octets), "bits differ")
            answer = ours(octets=peer.hex(), dump=True)
            if "subsets" not in answer:
                hold(how, False, answer)
                continue
            hold(how, answer["edition"] == edition and answer["compressed"] == together)
            # Compressed, a missing text beside others is written as an empty one.
            held(how, answer["subsets"], values, texts=not together)
            held(f"{how}, read by ecCodes", read_peer(peer, lambda s: fields[s]), values)
            if not together:
                places(how, peer, answer["dump"])


def places(how, octets, dump):
    """Raw bits of the dump, looked up in the octets at the place it gives."""
    bits = int.from_bytes(octets, "big")
    for line in NUMBERS.sample(dump[1:], min(40, len(dump) - 1)):
        # After the name: raw bits, two blanks, the value.
        raw = re.search(r" (\d+)  (?=\S)", line[32:])
        if not raw or line.startswith("5"):
            continue
        at, width, raw = int(line[8:16]), int(line[17:22]), raw[1]
        there = bits >> (8 * len(octets) - at - width) & (1 << width) - 1
        hold(f"{how}: dump", there == int(raw), f"{there} at bit {at}: {line}")


print(f"ecCodes {ec.codes_get_api_version()}")

SOUNDINGS = {
    "309050": 2, "309051": 2, "309052": 2, "309053": 2, "309055": 1, "309056": 2, "309057": 2,
}  # fmt: skip


def counts_of(most):
    """Counts of levels and of shears, other ones each time."""
    return lambda: [NUMBERS.randint(0, most) for _ in range(2)]


for sequence, replications in SOUNDINGS.items():
    for missing in (0.0, 0.2, 1.0):
        both_ways(sequence, [sequence], counts_of(5), 1, missing)
        both_ways(f"{sequence}, subsets", [sequence], counts_of(4), 4, missing)
        fixed = [NUMBERS.randint(0, 4) for _ in range(replications)]
        both_ways(f"{sequence}, equal subsets", [sequence], lambda: fixed, 5, missing)
both_ways("301150 309052", ["301150", "309052"], counts_of(60), 1, 0.1)
both_ways("301128 309052", ["301128", "309052"], counts_of(3), 3, 0.1)

# Operators, each closed.
OPERATORS = {
    "wider": ["201132", "012101", "201000", "012101"],
    "narrower": ["201126", "202127", "012101", "202000", "201000", "007004"],
    "finer": ["201136", "202130", "007004", "010009", "202000", "201000", "010009"],
    "increased by 1": ["207001", "007004", "010009", "012101", "001011", "008042", "207000", "007004"],
    "increased by 2": ["207002", "005001", "012101", "207000"],
    "increased by 3": ["207003", "010009", "207000"],
    "texts": ["208004", "001011", "001128", "012101", "208000", "001011"],
    "longer texts": ["208020", "001011", "208000"],
    "known width": ["206007", "001001", "012101"],
    "in replications": ["103002", "201132", "012101", "201000", "102003", "012101", "007004"],
    "delayed 0 31 000": ["101000", "031000", "012101", "103000", "031001", "201130", "012101", "201000"],
    "nested": ["104000", "031001", "012101", "101000", "031000", "007004", "010009"],
}  # fmt: skip
for name, template in OPERATORS.items():
    for missing in (0.0, 0.3):
        counts = [2, 1, 0] if name == "nested" else [1, 2]
        both_ways(name, template, lambda: counts, 1, missing)
        both_ways(f"{name}, subsets", template, lambda: counts, 4, missing)

for name, template in {
    "characters": ["012101", "205012", "012101", "205003"],
    "associated": ["204008", "031021", "012101", "007004", "020012", "001011", "204000", "012101"],
    "local, known width": ["206007", "001001", "012101"],
    "local, other width": ["206011", "001001", "012101"],
    "local": ["206011", "012250", "012101"],
}.items():  # fmt: skip
    one_way(name, template, list, 1, 0.0)
    one_way(f"{name}, subsets", template, list, 3, 0.0)

# Operators whose bits depend on the data, as messages that ecCodes makes: the
# descriptors, the bits of the bit-maps, the references of 2 03, the subsets.
MADE = {
    # Compressed, ecCodes has no width of increments after a reference (94.6.3 has one
    # after every element).
    "2 03": (["203012", "012101", "203255", "012101", "203000", "012101"], [], [-500], (1,)),
    "2 22": (["007004", "012101", "011002", "222000", "101003", "031031", "001031", "001032",
              "101002", "033007"], [0, 1, 0], [], (1, 3)),
    "2 23": (["012101", "011002", "223000", "101002", "031031", "223255"], [1, 0], [], (1, 3)),
    "2 35": (["012101", "222000", "101001", "031031", "033007", "235000", "011002", "222000",
              "101001", "031031", "033007"], [0, 0], [], (1, 3)),
    "2 36 and 2 37": (["012101", "011002", "222000", "236000", "101002", "031031", "033007",
                       "222000", "237000", "033007", "237255"], [1, 0], [], (1, 3)),
}  # fmt: skip
# ecCodes neither writes nor reads the values of these without a key of its own: written
# here, it reads everything in front of them.
MARKED = {
    "2 24": (["012101", "011002", "224000", "101002", "031031", "008023", "224255"], [27315, 123, 1, 0, 3, 77]),
    "2 25": (["012101", "011002", "225000", "101002", "031031", "008024", "225255"], [27315, 123, 1, 0, 3, -15]),
    "2 32": (["012101", "011002", "232000", "101002", "031031", "232255"], [27315, 123, 1, 0, 77]),
}  # fmt: skip


def keys_of(handle):
    iterator = ec.codes_bufr_keys_iterator_new(handle)
    while ec.codes_bufr_keys_iterator_next(iterator):
        key = ec.codes_bufr_keys_iterator_get_name(iterator)
        if key.startswith("#") and "dataPresentIndicator" not in key:
            yield key
    ec.codes_bufr_keys_iterator_delete(iterator)


def made(template, bits, references, subsets):
    """A message of ecCodes with random values; subsets compressed."""
    handle = ec.codes_bufr_new_from_samples("BUFR4")
    try:
        ec.codes_set(handle, "masterTablesVersionNumber", 45)
        ec.codes_set(handle, "compressedData", int(subsets > 1))
        ec.codes_set(handle, "numberOfSubsets", subsets)
        for key, of in (("inputDataPresentIndicator", bits), ("inputOverriddenReferenceValues", references)):
            if of:
                ec.codes_set_array(handle, key, of)
        ec.codes_set_array(handle, "unexpandedDescriptors", [int(d) for d in template])
        for key in list(keys_of(handle)):
            # A value under 2 23 255 to 2 32 255 has the bits of its element.
            for of in (key, key.rsplit("->", 1)[0]):
                try:
                    width, scale, reference = (
                        ec.codes_get(handle, f"{of}->{a}") for a in ("width", "scale", "reference")
                    )
                    break
                except ec.CodesInternalError:
                    width = None
            if width is None:
                continue
            some = [NUMBERS.randint(0, 2**width - 2) + reference for _ in range(subsets)]
            ec.codes_set_double_array(handle, key, [n / 10.0**scale for n in some])
        ec.codes_set(handle, "pack", 1)
        return ec.codes_get_message(handle)
    finally:
        ec.codes_release(handle)


def values_of(octets, fields):
    """What ecCodes reads of each subset, operators left out, as whole numbers."""
    handle = ec.codes_new_from_message(octets)
    try:
        ec.codes_set(handle, "unpack", 1)
        expanded = ec.codes_get_array(handle, "expandedDescriptors").tolist()
        flat = ec.codes_get_double_array(handle, "numericValues").tolist()
        count = ec.codes_get(handle, "numberOfSubsets")
        # 2 03 has no values of its own there; 2 22 000 to 2 37 255 have one each.
        expanded = [d for d in expanded if d // 1000 != 203]
        if 203 in [d // 1000 for d in ec.codes_get_array(handle, "expandedDescriptors").tolist()]:
            expanded = expanded[1:]
        if len(flat) != count * len(expanded):
            raise ValueError(f"{len(flat)} values of {expanded}")
        marks = [222000, 223000, 224000, 225000, 232000, 235000, 236000, 237000, 237255]
        of = [n for n, d in enumerate(expanded) if d not in marks]
        subsets = [flat[n * len(expanded) : (n + 1) * len(expanded)] for n in range(count)]
        scales = [scale for _, scale, *_ in fields]
        return [[whole(s[n], scale) for n, scale in zip(of, scales)] for s in subsets]
    finally:
        ec.codes_release(handle)


for name, (template, bits, references, counts) in MADE.items():
    for subsets in counts:
        what = f"{name}: made by ecCodes, {subsets} subsets"
        octets = made(template, bits, references, subsets)
        answer = ours(octets=octets.hex())
        if "subsets" not in answer:
            hold(what, False, answer)
            continue
        own, given = answer["subsets"], answer["fields"][0]
        for n, reference in enumerate(references):
            hold(f"{what}, reference", all(s[n] == reference for s in own), own)
        skipped = len(references)
        own = [subset[skipped:] for subset in own]
        held(what, own, values_of(octets, given[skipped:]))
for name, (template, values) in MARKED.items():
    octets = bytes.fromhex(ours(descriptors=template, subsets=[values])["octets"])
    answer = ours(octets=octets.hex())
    held(f"{name}: read here", answer["subsets"], [values])
    peer = values_of(octets, answer["fields"][0])
    held(f"{name}: read by ecCodes", [values[:-1]], [peer[0][:-1]])
# ecCodes has no 2 21; the day it does this check says so.
answer = ours(descriptors=["221003", "007004", "012101", "011001"], subsets=[[8500, None, None]])
hold("2 21: ecCodes does not read it", not can_unpack(bytes.fromhex(answer["octets"])))



def read_file(path):
    """Every value of every message of a file: messages, not read, passed, failed, values."""
    global ours, passed, failed, values_held
    ours = Ours(sys.argv[1])
    passed = failed = values_held = messages = not_read = 0
    with open(path, "rb") as file:
        while (handle := ec.codes_bufr_new_from_file(file)) is not None:
            octets = ec.codes_get_message(handle)
            ec.codes_release(handle)
            messages += 1
            not_read += not read_message(f"{path.name}, message {messages}", octets)
    sys.stdout.flush()
    return messages, not_read, passed, failed, values_held


def read_message(what, octets):
    """Whether both sides read a message."""
    answer = ours(octets=octets.hex())
    if "subsets" not in answer:
        # Refused on both sides, or not at all.
        hold(what, not can_unpack(octets), answer)
        return False
    fields = answer["fields"]
    # ecCodes says the same of a missing and an empty text.
    try:
        peer = read_peer(octets, lambda s: fields[s])
    except ec.CodesInternalError as error:
        print(f"{what}: ecCodes does not read it: {error}")
        return False
    # Octets of all bits one are no letters.
    own = [
        [v.rstrip("\u00ff") or None if isinstance(v, str) else v for v in subset]
        for subset in answer["subsets"]
    ]
    if any(is_marked(f, n) for f in fields for n in range(len(f))):
        print(f"{what}: compared as far as ecCodes reads associated fields")
        own = [s[: len(p)] for s, p in zip(own, peer)]
    held(what, own, peer, texts=False)
    return True


folders = os.environ.get("FIVEFIG_BUFR", "").split(os.pathsep)
hold("FIVEFIG_BUFR", folders != [""], "names no folder")
for folder in filter(None, folders):
    files = sorted(p for p in pathlib.Path(folder).iterdir() if p.is_file())
    # A process for each file: ecCodes keeps what a large message took.
    sys.stdout.flush()
    with multiprocessing.get_context("fork").Pool(os.cpu_count(), maxtasksperchild=1) as pool:
        counts = pool.map(read_file, files, chunksize=1)
    messages, not_read, *rest = map(sum, zip(*counts)) if counts else [0] * 5
    passed, failed, values_held = map(sum, zip((passed, failed, values_held), rest))
    hold("messages of files", messages > 0, f"none in {folder}")
    print(f"{folder}: {messages} messages of {len(files)} files, {not_read} not read")

print(f"{values_held} values; {passed} passed, {failed} failed")
sys.exit(failed > 0)
