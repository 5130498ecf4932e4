"""The library's thermodynamics against MetPy, and below -40 degrees C against
published formulas written down here.

Called with the program `kernels`; exits 1 when a bound is passed.
"""

import subprocess
import sys
import warnings

import boule
import numpy as np

warnings.filterwarnings("ignore")
import metpy  # noqa: E402
import metpy.calc as mpcalc  # noqa: E402
from metpy.units import units  # noqa: E402


def ours(name, *columns):
    """One kernel over columns of numbers."""
    lines = "".join(
        " ".join([name, *(repr(float(v)) for v in row)]) + "\n" for row in zip(*columns)
    )
    done = subprocess.run(
        [sys.argv[1]], input=lines, capture_output=True, text=True, check=True
    )
    return np.array([float(v) for v in done.stdout.split()])


failed = 0
passed = 0


def hold(what, own, peer, bound, unit, at, relative=False):
    """The greatest departure, where it is, and whether it is within the bound."""
    global failed, passed
    departure = np.abs(own / peer - 1) * 100 if relative else np.abs(own - peer)
    worst = int(np.argmax(departure))
    fits = bool(departure[worst] <= bound) and len(own) == len(peer) > 0
    passed += fits
    failed += not fits
    where = ", ".join(f"{name} {values[worst]:g}" for name, values in at.items())
    verdict = "ok" if fits else "FAILED"
    print(
        f"{verdict}: {what}: at most {departure[worst]:.4g} {unit}"
        f" ({bound:g} allowed), at {where}; {len(own)} values"
    )


print(f"MetPy {metpy.__version__}")

# Saturation over liquid water.
t = np.arange(-40, 40.25, 0.25)
own = ours("saturation_vapour_pressure_hpa", t)
peer = mpcalc.saturation_vapor_pressure(t * units.degC).to("hPa").magnitude
hold("saturation vapour pressure", own, peer, 0.5, "%", {"T": t}, relative=True)

# Saturation over ice. (The peer's holds heat capacities constant from 0 degrees C
# down; colder than -40 the formula of Murphy and Koop stands below.)
t = np.arange(-40, 0.25, 0.25)
own = ours("saturation_vapour_pressure_over_ice_hpa", t)
peer = mpcalc.saturation_vapor_pressure(t * units.degC, phase="solid").to("hPa").magnitude
hold("saturation vapour pressure over ice", own, peer, 1.0, "%", {"T": t}, relative=True)

# Dew point, as long as it lies above -40 degrees C. (The peer inverts another
# formula than the one it goes by: it has saturated air of 40 degrees C at 39.897,
# so the grid ends at 38.)
grid_t, grid_u = (a.ravel() for a in np.meshgrid(np.arange(-39, 39, 1.0), np.arange(2, 101, 2.0)))
peer = (
    mpcalc.dewpoint_from_relative_humidity(grid_t * units.degC, grid_u * units.percent)
    .to("degC")
    .magnitude
)
keep = peer > -40
hold(
    "dew point",
    ours("dewpoint_c", grid_t[keep], grid_u[keep]),
    peer[keep],
    0.1,
    "K",
    {"T": grid_t[keep], "U": grid_u[keep]},
)
# And back.
td = peer[keep]
hold(
    "relative humidity",
    ours("relative_humidity_pct", grid_t[keep], td),
    mpcalc.relative_humidity_from_dewpoint(grid_t[keep] * units.degC, td * units.degC)
    .to("percent")
    .magnitude,
    0.5,
    "%",
    {"T": grid_t[keep], "Td": td},
)

# Potential temperature.
grid_t, grid_p = (
    a.ravel() for a in np.meshgrid(np.arange(-90, 41, 5.0), np.geomspace(5, 1050, 60))
)
hold(
    "potential temperature",
    ours("potential_temperature_k", grid_t, grid_p),
    mpcalc.potential_temperature(grid_p * units.hPa, grid_t * units.degC).to("K").magnitude,
    0.01,
    "%",
    {"T": grid_t, "p": grid_p},
    relative=True,
)

# Virtual temperature.
t, spread, p = (
    a.ravel()
    for a in np.meshgrid(
        np.arange(-40, 41, 5.0), np.array([0.0, 1, 3, 10, 25]), np.geomspace(200, 1050, 12)
    )
)
ratio = mpcalc.saturation_mixing_ratio(p * units.hPa, (t - spread) * units.degC)
# Where vapour is more than a tenth of the air nothing is ever measured.
keep = ratio.magnitude < 0.1
hold(
    "virtual temperature",
    ours("virtual_temperature_k", t[keep], (t - spread)[keep], p[keep]),
    mpcalc.virtual_temperature(t[keep] * units.degC, ratio[keep]).to("K").magnitude,
    0.1,
    "K",
    {"T": t[keep], "T-Td": spread[keep], "p": p[keep]},
)

# A parcel lifted to 500 hPa, as the stability index of Region IV wants it.
t, spread, p = (
    a.ravel()
    for a in np.meshgrid(np.arange(-20, 31, 10.0), np.array([0.0, 2, 8, 20]), [850.0, 800.0, 750.0])
)
peer = np.array(
    [
        mpcalc.parcel_profile(
            np.geomspace(start, 500, 40) * units.hPa, warm * units.degC, (warm - dry) * units.degC
        )[-1]
        .to("degC")
        .magnitude
        for warm, dry, start in zip(t, spread, p)
    ]
)
hold(
    "lifted parcel",
    ours("lifted_c", t, t - spread, p, np.full_like(p, 500.0)),
    peer,
    0.3,
    "K",
    {"T": t, "T-Td": spread, "p": p},
)

# The lines of the aerological diagram. Dry adiabats through temperatures at
# 1000 hPa.
t, p = (a.ravel() for a in np.meshgrid(np.arange(-60, 601, 20.0), np.geomspace(5, 1050, 60)))
hold(
    "dry adiabat",
    ours("dry_c", t, p),
    np.array(
        [
            mpcalc.dry_lapse(at * units.hPa, warm * units.degC, 1000 * units.hPa)
            .to("degC")
            .magnitude
            for warm, at in zip(t, p)
        ]
    ),
    0.05,
    "K",
    {"T(1000)": t, "p": p},
)

# Saturated adiabats through temperatures at 1000 hPa, up to 200 hPa and down to
# 1050 hPa.
p = np.concatenate([np.geomspace(1000, 200, 33), [1025.0, 1050.0]])
t = np.arange(-20, 33, 4.0)
peer = np.array(
    [
        np.concatenate(
            [
                mpcalc.moist_lapse(p[:33] * units.hPa, warm * units.degC).to("degC").magnitude,
                mpcalc.moist_lapse(
                    p[33:] * units.hPa, warm * units.degC, reference_pressure=1000 * units.hPa
                )
                .to("degC")
                .magnitude,
            ]
        )
        for warm in t
    ]
).ravel()
grid_t, grid_p = np.repeat(t, len(p)), np.tile(p, len(t))
hold(
    "saturated adiabat",
    ours("saturated_c", grid_t, np.full_like(grid_p, 1000.0), grid_p),
    peer,
    0.1,
    "K",
    {"T(1000)": grid_t, "p": grid_p},
)

# Mixing ratio, and the dew point of one.
t, p = (a.ravel() for a in np.meshgrid(np.arange(-40, 36, 2.5), np.geomspace(150, 1050, 20)))
ratio = mpcalc.saturation_mixing_ratio(p * units.hPa, t * units.degC).to("g/kg").magnitude
keep = (ratio > 0) & (ratio < 100)
t, p, ratio = t[keep], p[keep], ratio[keep]
hold(
    "mixing ratio",
    ours("mixing_ratio_g_kg", t, p),
    ratio,
    0.5,
    "%",
    {"Td": t, "p": p},
    relative=True,
)
hold(
    "dew point of a mixing ratio",
    ours("dewpoint_of_ratio_c", ratio, p),
    t,
    0.1,
    "K",
    {"r": ratio, "p": p},
)

# Hydrostatic thickness of a moist column, layer by layer.
p = np.geomspace(1010, 200, 400)
t = 25 - 6.5 * 8.0 * np.log(1010 / p)
td = t - 4
tv = ours("virtual_temperature_k", t, td, p)
layers = ours("thickness_gpm", p[:-1], tv[:-1], p[1:], tv[1:])
mixing = mpcalc.saturation_mixing_ratio(p * units.hPa, td * units.degC)
peer = (
    mpcalc.thickness_hydrostatic(p * units.hPa, t * units.degC, mixing_ratio=mixing)
    .to("m")
    .magnitude
)
hold(
    "hydrostatic thickness",
    np.array([layers.sum()]),
    np.array([peer]),
    0.02,
    "%",
    {"from": p[:1], "to": p[-1:]},
    relative=True,
)


# Geopotential: gravity of the ellipsoid WGS 84 in closed form (Boule), from its
# surface up, by Simpson's rule over each hundred metres.
step = 100.0
edges = np.arange(0, 40_000 + step, step)
for latitude in (0.0, 45.0, 90.0):
    gravity = boule.WGS84.normal_gravity((0.0, latitude, edges), si_units=True)
    middle = boule.WGS84.normal_gravity((0.0, latitude, edges[:-1] + step / 2), si_units=True)
    layers = step / 6 * (gravity[:-1] + 4 * middle + gravity[1:])
    peer = np.cumsum(layers) / 9.80665
    at = np.full_like(edges[1:], latitude)
    hold(
        f"geopotential at {latitude:g} degrees",
        ours("geopotential_gpm", edges[1:], at),
        peer,
        0.05,
        "gpm",
        {"altitude": edges[1:]},
    )
    hold(
        f"altitude at {latitude:g} degrees",
        ours("altitude_m", peer, at),
        edges[1:],
        0.05,
        "m",
        {"altitude": edges[1:]},
    )


# Below -40 degrees C, over undercooled water: published formulas.
def sonntag(kelvin):
    """Sonntag, 1990, Z. Meteorol. 70, 340-344, over water, hPa (from memory)."""
    return np.exp(
        -6096.9385 / kelvin
        + 16.635794
        - 2.711193e-2 * kelvin
        + 1.673952e-5 * kelvin**2
        + 2.433502 * np.log(kelvin)
    )


def murphy_koop(kelvin):
    """Murphy and Koop, 2005, Q. J. R. Meteorol. Soc. 131, equation 10, hPa (from
    memory): the molar heat capacity of undercooled water is taken otherwise, so
    that the formulas part below -45 degrees C."""
    log = np.log(kelvin)
    return (
        np.exp(
            54.842763
            - 6763.22 / kelvin
            - 4.210 * log
            + 0.000367 * kelvin
            + np.tanh(0.0415 * (kelvin - 218.8))
            * (53.878 - 1331.22 / kelvin - 9.44523 * log + 0.014025 * kelvin)
        )
        / 100
    )


t = np.arange(-100, -39.5, 0.5)
own = ours("saturation_vapour_pressure_hpa", t)
hold("saturation against Sonntag", own, sonntag(t + 273.15), 1.0, "%", {"T": t}, relative=True)
t = np.arange(-50, 0.5, 0.5)
own = ours("saturation_vapour_pressure_hpa", t)
hold(
    "saturation against Murphy and Koop",
    own,
    murphy_koop(t + 273.15),
    2.5,
    "%",
    {"T": t},
    relative=True,
)


def murphy_koop_ice(kelvin):
    """The same, equation 7, over ice, hPa (from memory)."""
    return (
        np.exp(9.550426 - 5723.265 / kelvin + 3.53068 * np.log(kelvin) - 0.00728332 * kelvin)
        / 100
    )


t = np.arange(-100, 0.5, 0.5)
own = ours("saturation_vapour_pressure_over_ice_hpa", t)
hold(
    "saturation over ice against Murphy and Koop",
    own,
    murphy_koop_ice(t + 273.15),
    0.5,
    "%",
    {"T": t},
    relative=True,
)
# Smithsonian Meteorological Tables, 6th edition, table 94, over water (from
# memory): -40: 0.1891, -50: 0.06356 hPa (Goff and Gratch, 1946).
t = np.array([-40.0, -50.0])
own = ours("saturation_vapour_pressure_hpa", t)
hold(
    "saturation against the Smithsonian tables",
    own,
    np.array([0.1891, 0.06356]),
    2.0,
    "%",
    {"T": t},
    relative=True,
)

print(f"{passed} passed, {failed} failed")
sys.exit(1 if failed else 0)
