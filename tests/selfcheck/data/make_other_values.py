#!/usr/bin/env python3
"""Writes other_values.csv: rows in the form of data/reference/worked_values.csv, with other numbers and other choices.

A second implementation of every quantity, from the documents' formulas, with mpmath at 40 digits and exact fractions; it
shares no code with the library. Run it only when a quantity is added: python3 make_other_values.py (needs mpmath).
"""
import pathlib
import random
from fractions import Fraction

from mpmath import atan2, cos, degrees, diff, exp, expm1, floor, log, log10, matrix, mp, mpf, radians, sin, sqrt

mp.dps = 40
HERE = pathlib.Path(__file__).resolve().parent
REFERENCE = HERE.parents[2] / "data/reference"
rng = random.Random(20260101)
rows = []


def text(value):
    return str(value) if isinstance(value, (int, str)) else mp.nstr(mpf(value), 16)


def row(quantity, inputs, expected, tolerance):
    if not isinstance(expected, (list, tuple)):
        expected = [expected]
    rows.append((f"{quantity}-{len(rows) + 1}", quantity, inputs, " ".join(text(v) for v in expected), tolerance))
    return rows[-1][0]


def number(low, high, digits=4):
    return round(rng.uniform(low, high), digits)


def numbers(count, low, high, digits=4):
    return [number(low, high, digits) for _ in range(count)]


def join(values):
    return " ".join(str(v) for v in values)


def table(name):
    lines = [line for line in (REFERENCE / name).read_text().splitlines() if line and line[0] != "#"]
    names = lines[0].split(",")
    return {n: {int(c[0]): mpf(c[i]) for c in (line.split(",") for line in lines[1:])} for i, n in enumerate(names) if i}


# Signals ---------------------------------------------------------------------------------------------------------
M1, M2 = mpf(2610) / 16384, mpf(2523) / 32
C1, C2, C3 = mpf(3424) / 4096, mpf(2413) / 128, mpf(2392) / 128


def pq_signal(light):
    y = (max(mpf(light), mpf(0)) / 10000) ** M1
    return ((C1 + C2 * y) / (1 + C3 * y)) ** M2


def pq_light(signal):
    x = max(mpf(signal), mpf(0)) ** (1 / M2)
    return 10000 * (max(x - C1, mpf(0)) / (C2 - C3 * x)) ** (1 / M1)


def half_up(x):
    return int(floor(abs(x) + mpf(1) / 2)) * (1 if x >= 0 else -1)


def code(signal, bits, narrow, chroma=False):
    if narrow:
        return half_up((mpf(224 if chroma else 219) * signal + (128 if chroma else 16)) * 2 ** (bits - 8))
    return min(half_up((2**bits - 1) * mpf(signal) + (2 ** (bits - 1) if chroma else 0)), 2**bits - 1)


def signal_of(value, bits, narrow):
    return (mpf(value) / 2 ** (bits - 8) - 16) / 219 if narrow else mpf(value) / (2**bits - 1)


A = mpf("0.17883277")
B = 1 - 4 * A
C = mpf(1) / 2 - A * log(4 * A)


def hlg_signal(scene):
    return sqrt(3 * mpf(scene)) if scene <= mpf(1) / 12 else A * log(12 * mpf(scene) - B) + C


def hlg_scene(signal):
    return mpf(signal) ** 2 / 3 if signal <= mpf(1) / 2 else (exp((signal - C) / A) + B) / 12


def hlg_gamma(peak):
    if 400 <= peak <= 2000:
        return mpf("1.2") + mpf("0.42") * log10(mpf(peak) / 1000)
    return mpf("1.2") * mpf("1.111") ** (log(mpf(peak) / 1000) / log(2))


def hlg_beta(peak, black, gamma):
    return sqrt(3 * (mpf(black) / peak) ** (1 / gamma)) if black else mpf(0)


def hlg_light(rgb, peak, black, gamma):
    beta = hlg_beta(peak, black, gamma)
    e = [hlg_scene(max(mpf(0), (1 - beta) * mpf(s) + beta)) for s in rgb]
    y = mpf("0.2627") * e[0] + mpf("0.6780") * e[1] + mpf("0.0593") * e[2]
    return [peak * y ** (gamma - 1) * c for c in e]


for _ in range(8):
    light = number(0, 10000) if rng.random() < 0.5 else number(0, 5, 6)
    row("pq_inverse_eotf", f"L_cdm2={light}", pq_signal(mpf(str(light))), "abs:1e-12")
    forms = rng.sample([(b, r) for b in (8, 10, 12, 14, 16) for r in ("narrow", "full")], 4)
    order = " ".join(f"{b}bit_{r}" for b, r in forms)
    row("pq_codes", f"L_cdm2={light}; order={order}",
        [code(pq_signal(mpf(str(light))), b, r == "narrow") for b, r in forms], "exact")
    e = number(0, 1, 6)
    row("pq_eotf", f"E={e}", pq_light(mpf(str(e))), "rel:1e-9")
    bits, narrow = rng.choice([8, 10, 12, 16]), rng.random() < 0.5
    value = rng.randrange(0, 2**bits)
    row("pq_code_to_luminance", f"code={value}; bits={bits}; range={'narrow' if narrow else 'full'}",
        pq_light(signal_of(value, bits, narrow)) if signal_of(value, bits, narrow) < 1 else mpf(10000), "rel:1e-9")
    e = number(0, 1, 5)
    row("hlg_oetf", f"E={e}", hlg_signal(mpf(str(e))), "abs:1e-11")
    peak = number(405, 1990, 1)
    row("hlg_system_gamma", f"L_W={peak}", hlg_gamma(mpf(str(peak))), "abs:1e-12")
    kappa, peak = number(1.05, 1.2), rng.choice([number(100, 390, 1), number(2010, 9000, 1)])
    row("hlg_system_gamma_extended", f"L_W={peak}; kappa={kappa}",
        mpf("1.2") * mpf(str(kappa)) ** (log(mpf(str(peak)) / 1000) / log(2)), "abs:1e-12")
    peak, black, gamma = number(300, 3000, 1), number(0.0001, 0.1), number(0.9, 1.5)
    row("hlg_black_lift_beta", f"L_W={peak}; L_B={black}; gamma={gamma}",
        hlg_beta(mpf(str(peak)), mpf(str(black)), mpf(str(gamma))), "abs:1e-12")
    rgb, by_peak = numbers(3, 0, 1), rng.random() < 0.5
    g = hlg_gamma(mpf(str(peak))) if by_peak else mpf(str(gamma))
    row("hlg_eotf", f"RGB_signal={join(rgb)}; L_W={peak}; L_B={black}; gamma={'by L_W' if by_peak else gamma}",
        hlg_light([mpf(str(s)) for s in rgb], mpf(str(peak)), mpf(str(black)), g), "rel:1e-9")
    v, peak, black = number(0, 1.05), number(48, 300, 1), number(0, 0.2)
    low, high = mpf(str(black)) ** (1 / mpf("2.4")), mpf(str(peak)) ** (1 / mpf("2.4"))
    row("bt1886_eotf", f"V={v}; L_W={peak}; L_B={black}",
        ((high - low) * mpf(str(v)) + low) ** mpf("2.4"), "rel:1e-10")
    v = number(0, 1)
    x = mpf(str(v))
    row("srgb_eotf", f"V={v}", x / mpf("12.92") if x <= mpf("0.04045") else ((x + mpf("0.055")) / mpf("1.055")) ** mpf("2.4"),
        "abs:1e-12")
    row("bt709_oetf", f"L={v}",
        mpf("4.5") * x if x < mpf("0.018") else mpf("1.099") * x ** mpf("0.45") - mpf("0.099"), "abs:1e-12")
row("hlg_oetf", "E=1/24", hlg_signal(mpf(1) / 24), "abs:1e-11")


# ICtCp, CIELAB, CIELUV -------------------------------------------------------------------------------------------
def ictcp(rgb, curve, rows_):
    lms = [sum(mpf(k) * mpf(str(c)) for k, c in zip(r, rgb)) / 4096
           for r in ((1688, 2146, 262), (683, 2951, 462), (99, 309, 3688))]
    e = [curve(x) for x in lms]
    return [sum(mpf(k) * x for k, x in zip(r, e)) / 4096 for r in rows_]


PQ_ROWS = ((2048, 2048, 0), (6610, -13613, 7003), (17933, -17390, -543))
HLG_ROWS = ((2048, 2048, 0), (3625, -7465, 3840), (9500, -9212, -288))


def de_itp(a, b):
    return 720 * sqrt((a[0] - b[0]) ** 2 + ((a[1] - b[1]) / 2) ** 2 + (a[2] - b[2]) ** 2)


def lab_f(t):
    return t ** (mpf(1) / 3) if t > (mpf(24) / 116) ** 3 else mpf(841) / 108 * t + mpf(16) / 116


def lab(c, n):
    f = [lab_f(x / w) for x, w in zip(c, n)]
    return [116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])]


def uv(c):
    d = c[0] + 15 * c[1] + 3 * c[2]
    return [4 * c[0] / d, 9 * c[1] / d]


def ciede2000(one, two, kl, kc, kh):
    cs = [sqrt(x[1] ** 2 + x[2] ** 2) for x in (one, two)]
    mean7 = ((cs[0] + cs[1]) / 2) ** 7
    g = (1 - sqrt(mean7 / (mean7 + mpf(25) ** 7))) / 2
    aa = [(1 + g) * x[1] for x in (one, two)]
    cc = [sqrt(a**2 + x[2] ** 2) for a, x in zip(aa, (one, two))]
    hh = [degrees(atan2(x[2], a)) % 360 for a, x in zip(aa, (one, two))]
    dl, dc, dh = two[0] - one[0], cc[1] - cc[0], hh[1] - hh[0]
    total = hh[0] + hh[1]
    mean_h = total / 2
    if abs(dh) > 180:
        mean_h = (total + 360) / 2 if total < 360 else (total - 360) / 2
        dh += 360 if dh < 0 else -360
    big_h = 2 * sqrt(cc[0] * cc[1]) * sin(radians(dh / 2))
    ml, mc = (one[0] + two[0]) / 2, (cc[0] + cc[1]) / 2
    t = (1 - mpf("0.17") * cos(radians(mean_h - 30)) + mpf("0.24") * cos(radians(2 * mean_h))
         + mpf("0.32") * cos(radians(3 * mean_h + 6)) - mpf("0.20") * cos(radians(4 * mean_h - 63)))
    sl = 1 + mpf("0.015") * (ml - 50) ** 2 / sqrt(20 + (ml - 50) ** 2)
    sc, sh = 1 + mpf("0.045") * mc, 1 + mpf("0.015") * mc * t
    rt = -sin(radians(60 * exp(-(((mean_h - 275) / 25) ** 2)))) * 2 * sqrt(mc**7 / (mc**7 + mpf(25) ** 7))
    x, y, z = dl / (kl * sl), dc / (kc * sc), big_h / (kh * sh)
    return sqrt(x**2 + y**2 + z**2 + rt * y * z)


def exact(values):
    return [mpf(str(v)) for v in values]


for _ in range(6):
    rgb, other = numbers(3, 0, 4000, 3), numbers(3, 0, 4000, 3)
    one, two = ictcp(rgb, pq_signal, PQ_ROWS), ictcp(other, pq_signal, PQ_ROWS)
    row("ictcp_pq", f"RGB_bt2020_cdm2={join(rgb)}", one, "abs:1e-12")
    row("delta_e_itp", f"RGB1_bt2020_cdm2={join(rgb)}; RGB2_bt2020_cdm2={join(other)}", de_itp(one, two), "abs:1e-9")
    scene = numbers(3, 0, 1)
    row("ictcp_hlg", f"RGB_bt2020_scene={join(scene)}", ictcp(scene, hlg_signal, HLG_ROWS), "abs:1e-11")
    p, q = numbers(3, -0.4, 0.9, 8), numbers(3, -0.4, 0.9, 8)
    row("delta_e_itp_from_ictcp", f"ICtCp1={join(p)}; ICtCp2={join(q)}", de_itp(exact(p), exact(q)), "abs:1e-9")
    c, n = numbers(3, 0.001, 150), numbers(3, 70, 130)
    row("cielab", f"XYZ={join(c)}; XYZ_n={join(n)}", lab(exact(c), exact(n)), "abs:1e-10")
    l_star = lab(exact(c), exact(n))[0]
    u, un = uv(exact(c)), uv(exact(n))
    row("cieluv", f"XYZ={join(c)}; XYZ_n={join(n)}",
        [l_star, 13 * l_star * (u[0] - un[0]), 13 * l_star * (u[1] - un[1])], "abs:1e-10")
    row("uv_prime_from_xyz", f"XYZ={join(c)}", u, "abs:1e-13")
    x, y = number(0.1, 0.7), number(0.1, 0.7)
    d = -2 * mpf(str(x)) + 12 * mpf(str(y)) + 3
    row("uv_prime_from_xy", f"x={x}; y={y}", [4 * mpf(str(x)) / d, 9 * mpf(str(y)) / d], "abs:1e-13")
    one = [number(0, 100), number(-90, 90), number(-90, 90)]
    two = [number(0, 100), number(-90, 90), number(-90, 90)]
    k = rng.choice([(1, 1, 1), (2, 1, 1), (1, 2, 0.5)])
    k_text = "kL=kC=kH=1" if k == (1, 1, 1) else f"kL={k[0]}; kC={k[1]}; kH={k[2]}"
    row("ciede2000", f"Lab1={join(one)}; Lab2={join(two)}; {k_text}", ciede2000(exact(one), exact(two), *exact(k)),
        "abs:1e-10")

# Matrices, adaptation, gamuts ------------------------------------------------------------------------------------
SETS = {"BT.709": (0.640, 0.330, 0.300, 0.600, 0.150, 0.060), "BT.2020": (0.708, 0.292, 0.170, 0.797, 0.131, 0.046),
        "P3-D65": (0.680, 0.320, 0.265, 0.690, 0.150, 0.060)}


def white_xyz(x, y):
    x, y = mpf(str(x)), mpf(str(y))
    return matrix([x / y, 1, (1 - x - y) / y])


def npm(primaries, white):
    m = matrix(3, 3)
    for j in range(3):
        column = white_xyz(primaries[2 * j], primaries[2 * j + 1])
        for i in range(3):
            m[i, j] = column[i]
    s = m**-1 * white_xyz(*white)
    for i in range(3):
        for j in range(3):
            m[i, j] *= s[j]
    return m


def entries(m, by_row=True):
    return [m[i, j] if by_row else m[j, i] for i in range(3) for j in range(3)]


def some_primaries():
    return [number(0.62, 0.70), number(0.29, 0.33), number(0.17, 0.30), number(0.60, 0.78), number(0.13, 0.16),
            number(0.04, 0.07)]


CAT = {"Bradford": ("0.8951 0.2664 -0.1614", "-0.7502 1.7135 0.0367", "0.0389 -0.0685 1.0296"),
       "CAT16": ("0.401288 0.650173 -0.051461", "-0.250268 1.204414 0.045854", "-0.002079 0.048952 0.953127"),
       "CAT02": ("0.7328 0.4296 -0.1624", "-0.7036 1.6975 0.0061", "0.0030 0.0136 0.9834")}


def adaptation(name, source, target):
    cone = matrix([[mpf(k) for k in r.split()] for r in CAT[name]])
    s, t = cone * white_xyz(*source), cone * white_xyz(*target)
    gain = matrix(3, 3)
    for i in range(3):
        gain[i, i] = t[i] / s[i]
    return cone**-1 * gain * cone


def points(primaries, plane):
    out = []
    for i in range(0, len(primaries), 2):
        x, y = Fraction(str(primaries[i])), Fraction(str(primaries[i + 1]))
        if plane == "xy":
            out.append((x, y))
        else:
            d = -2 * x + 12 * y + 3
            out.append((4 * x / d, 9 * y / d))
    return out


def shoelace(p):
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(p, p[1:] + p[:1])) / 2


def clip(subject, border):
    if shoelace(border) < 0:
        border = border[::-1]
    for a, b in zip(border, border[1:] + border[:1]):
        side = [(b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) for p in subject]
        kept = []
        for i, p in enumerate(subject):
            j = (i + 1) % len(subject)
            if side[i] >= 0:
                kept.append(p)
            if side[i] * side[j] < 0:
                t = side[i] / (side[i] - side[j])
                q = subject[j]
                kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
        subject = kept
    return subject


def decimal(fraction):
    return mpf(fraction.numerator) / fraction.denominator


for i in range(6):
    p, white, by_row = some_primaries(), (number(0.28, 0.35), number(0.29, 0.36)), i % 2 == 0
    order = "row major" if by_row else "column major"
    m = npm(p, white)
    row("rgb_to_xyz_matrix", f"primaries_xy_RGB={join(p)}; white_xy={join(white)}; order={order}", entries(m, by_row),
        "abs:1e-12")
    row("xyz_to_rgb_matrix", f"primaries_xy_RGB={join(p)}; white_xy={join(white)}; order={order}",
        entries(m**-1, by_row), "abs:1e-11")
    to = rng.choice(list(SETS))
    between = npm(SETS[to], white)**-1 * m
    row("rgb_to_rgb_matrix", f"from=display ({join(p)}); to={to} ({join(SETS[to])}); white={join(white)}; order=row major",
        entries(between), "abs:1e-11")
    a, b = rng.sample(list(SETS), 2)
    d65, rgb = (0.3127, 0.3290), numbers(3, -0.2, 1.2)
    out = npm(SETS[b], d65)**-1 * npm(SETS[a], d65) * matrix(exact(rgb))
    row("rgb_convert_linear", f"from={a}; to={b}; RGB={join(rgb)}; no clipping", list(out), "abs:1e-12")
    transform = list(CAT)[i % 3]
    c, target = numbers(3, 0.01, 1), (number(0.30, 0.45), number(0.30, 0.41))
    m = adaptation(transform, white, target)
    row("chromatic_adaptation", f"transform={transform}; XYZ={join(c)}; white_from_xy={join(white)}; "
        f"white_to_xy={join(target)}; complete adaptation", list(m * matrix(exact(c))), "abs:1e-12")
    row("chromatic_adaptation_matrix", f"transform={transform}; white_from_xy={join(white)}; white_to_xy={join(target)}; "
        f"order={order}", entries(m, by_row), "abs:1e-12")
    plane = "xy" if by_row else "u'v'"
    other = some_primaries()
    p1, p2 = points(p, plane), points(other, plane)
    both = clip(p1 if shoelace(p1) > 0 else p1[::-1], p2)
    row("gamut_area", f"plane={plane}; primaries={join(p)}", decimal(abs(shoelace(p1))), "abs:1e-14")
    row("gamut_coverage", f"plane={plane}; test=display-c ({join(p)}); reference=display-d ({join(other)})",
        decimal(abs(shoelace(both)) / abs(shoelace(p2))), "abs:1e-12")
    row("gamut_area_ratio", f"plane={plane}; test=display-c ({join(p)}); reference={to}",
        decimal(abs(shoelace(p1)) / abs(shoelace(points(SETS[to], plane)))), "abs:1e-12")
    rgb, bits, narrow = numbers(3, 0, 1), rng.choice([8, 10, 12, 16]), rng.random() < 0.6
    r, g, b = exact(rgb)
    y = mpf("0.2627") * r + mpf("0.6780") * g + mpf("0.0593") * b
    row("ycbcr_bt2020_ncl_codes", f"RGB_signal={join(rgb)}; bits={bits}; range={'narrow' if narrow else 'full'}",
        [code(y, bits, narrow), code((b - y) / mpf("1.8814"), bits, narrow, True),
         code((r - y) / mpf("1.4746"), bits, narrow, True)], "exact")
hexagon = [0.68, 0.32, 0.45, 0.53, 0.17, 0.75, 0.08, 0.35, 0.14, 0.05, 0.40, 0.15]
row("gamut_area", f"plane=xy; primaries={join(hexagon)}", decimal(abs(shoelace(points(hexagon, 'xy')))), "abs:1e-14")

# CCT and daylight ------------------------------------------------------------------------------------------------
CMF = {"CIE 1931 2deg": "cie1931_2deg_1nm.csv", "CIE 1964 10deg": "cie1964_10deg_1nm.csv",
       "CIE 2015 2deg": "cie2015_2deg_1nm.csv", "CIE 2015 10deg": "cie2015_10deg_1nm.csv"}
OBSERVERS = {name: list(table(file).values()) for name, file in CMF.items()}


def locus(r):
    """CIE 1960 u, v of a black body of reciprocal temperature r."""
    x, y, z = OBSERVERS["CIE 1931 2deg"]
    p = {nm: mpf(nm) ** -5 / expm1(mpf("1.4388e7") * r / nm) for nm in x}
    s = [sum(p[nm] * f[nm] for nm in x) for f in (x, y, z)]
    d = s[0] + 15 * s[1] + 3 * s[2]
    return 4 * s[0] / d, 6 * s[1] / d


mp.dps = 25
for kelvin, distance in ((1234, 0.004), (2700, -0.006), (4321, 0.0015), (6500, -0.0019), (8000, 0.03), (15000, -0.02),
                         (24000, 0.0), (60000, 0.01)):
    r = 1 / mpf(kelvin)
    u, v = locus(r)
    du, dv = diff(lambda t: locus(t)[0], r, h=r / 10**6), diff(lambda t: locus(t)[1], r, h=r / 10**6)
    speed = sqrt(du**2 + dv**2)
    pu, pv = mp.nstr(u - distance * dv / speed, 18), mp.nstr(v + distance * du / speed, 18)
    row("cct", f"u={pu}; v={pv}", kelvin, "rel:1e-9")
    row("duv", f"u={pu}; v={pv}", mpf(str(distance)), "abs:1e-12")
    d = 2 * mpf(pu) - 8 * mpf(pv) + 4
    x, y = mp.nstr(3 * mpf(pu) / d, 18), mp.nstr(2 * mpf(pv) / d, 18)
    row("cct", f"x={x}; y={y}", kelvin, "rel:1e-9")
mp.dps = 40

LINES = [[mpf(c) for c in line.split(",")]
         for line in (REFERENCE / "robertson1968_isotemperature.csv").read_text().splitlines()[2:]]
for low, high, share in ((4, 5, "0.3"), (12, 13, "0.5"), (18, 19, "0.25"), (25, 26, "0.8")):
    a, b = LINES[low], LINES[high]
    f = mpf(share)
    # A point whose distances from the two lines are as f : 1 - f, found along the segment between two raised points.
    raised = [(k[1] - mpf("0.002") / sqrt(1 + k[3] ** 2), k[2] - k[3] * mpf("0.002") / sqrt(1 + k[3] ** 2))
              for k in (a, b)]
    def share_at(s):
        u = raised[0][0] + s * (raised[1][0] - raised[0][0])
        v = raised[0][1] + s * (raised[1][1] - raised[0][1])
        d = [((v - k[2]) - k[3] * (u - k[1])) / sqrt(1 + k[3] ** 2) for k in (a, b)]
        return d[0] / (d[0] - d[1]), u, v
    s = mp.findroot(lambda x: share_at(x)[0] - f, f)
    _, u, v = share_at(s)
    mired = a[0] + f * (b[0] - a[0])
    along = [(1 / sqrt(1 + k[3] ** 2), k[3] / sqrt(1 + k[3] ** 2)) for k in (a, b)]
    e = [along[0][i] + f * (along[1][i] - along[0][i]) for i in range(2)]
    foot = [a[i + 1] + f * (b[i + 1] - a[i + 1]) for i in range(2)]
    duv = -((u - foot[0]) * e[0] + (v - foot[1]) * e[1]) / sqrt(e[0] ** 2 + e[1] ** 2)
    row("cct_duv_robertson1968", f"u={mp.nstr(u, 18)}; v={mp.nstr(v, 18)}", [mpf(10) ** 6 / mired, duv], "rel:1e-8")

for kelvin in (4100, 5500, 6999.5, 7000.5, 12345, 24999):
    t = mpf(str(kelvin))
    k = ("-4.6070e9", "2.9678e6", "0.09911e3", "0.244063") if t <= 7000 else ("-2.0064e9", "1.9018e6", "0.24748e3", "0.237040")
    x = sum(mpf(c) * t ** (i - 3) for i, c in enumerate(k))
    row("cie_daylight_xy", f"T={kelvin}", [x, -3 * x**2 + mpf("2.870") * x - mpf("0.275")], "abs:1e-13")

# Spectra ---------------------------------------------------------------------------------------------------------
for observer, cmf in OBSERVERS.items():
    bells = [(number(0.001, 0.1), number(430, 660, 1), number(2, 90, 1)) for _ in range(rng.randrange(1, 6))]
    km, separator = rng.choice([683, 683.002]), rng.choice([" + ", " ", "+"])
    described = separator.join(f"({a} {mean} {width})" for a, mean, width in bells)
    spectrum = {nm: sum(mpf(str(a)) * exp(-4 * log(2) * ((nm - mpf(str(mean))) / mpf(str(width))) ** 2)
                        for a, mean, width in bells) for nm in cmf[0]}
    xyz = [mpf(str(km)) * sum(spectrum[nm] * f[nm] for nm in f) for f in cmf]
    head = "sum of a*exp(-4 ln2 ((l-mu)/fwhm)^2) W/(sr m2 nm) with (a mu fwhm): "
    name = row("xyz_from_spectral_radiance",
               f"observer={observer}; Km={km}; sum at 1 nm over the CMF range; S(l)={head}{described}", xyz, "rel:1e-12")
    row("xy_from_spectral_radiance", f"as {name}", [xyz[0] / sum(xyz), xyz[1] / sum(xyz)], "abs:1e-13")

LIGHTS = {"D65": table("illuminant_d65.csv")["S"], **table("illuminants_other.csv"), **table("illuminants_led_fl.csv")}
SAMPLES = table("cie_tcs.csv")


def surface(sample, light, cmf, grid):
    white = sum(light[nm] * cmf[1].get(nm, 0) for nm in grid)
    return [100 * sum((sample[nm] if sample else 1) * light[nm] * f.get(nm, 0) for nm in grid) / white for f in cmf]


for i, name in enumerate(LIGHTS):
    observer = list(OBSERVERS)[i % 4]
    grid = range(380, 781, 5) if i % 3 else range(400, 701, 10)
    note = f"{grid.step} nm summation {grid[0]}-{grid[-1]} nm"
    sample = f"TCS{1 + (5 * i) % 14:02}"
    row("xyz_from_reflectance", f"sample={sample}; illuminant={name}; observer={observer}; {note} with no interpolation; "
        "Y=100 for the perfect diffuser", surface(SAMPLES[sample], LIGHTS[name], OBSERVERS[observer], grid), "rel:1e-12")
    xyz = surface(None, LIGHTS[name], OBSERVERS[observer], grid)
    row("illuminant_xy", f"illuminant={name}; observer={observer}; {note}", [xyz[0] / sum(xyz), xyz[1] / sum(xyz)],
        "abs:1e-13")


def to_one_nanometre(values):
    out = {}
    for nm in range(min(values), max(values) + 1):
        low = nm - nm % 5
        out[nm] = values[low] if low == nm else ((low + 5 - nm) * values[low] + (nm - low) * values[low + 5]) / 5
    return out


# Linear interpolation of both: the tolerance is that between methods of interpolation.
for sample, name, observer in (("TCS03", "D50", "CIE 1931 2deg"), ("TCS12", "LED-V1", "CIE 1964 10deg"),
                               ("TCS09", "FL11", "CIE 1931 2deg")):
    grid = range(380, 781)
    fine = surface(to_one_nanometre(SAMPLES[sample]), to_one_nanometre(LIGHTS[name]), OBSERVERS[observer], grid)
    row("xyz_astm_e308", f"reflectance={sample}; illuminant={name}; observer={observer}; sample and illuminant "
        "interpolated to 1 nm and summed 380-780 nm", fine, "abs:3e-2")

# Content light, uncertainty, bars ---------------------------------------------------------------------------------
for bits in (8, 10, 12, 16):
    narrow = bits != 12
    low, high = (16 << (bits - 8), 235 << (bits - 8)) if narrow else (0, (1 << bits) - 1)
    frames = [[[rng.randint(low, high) for _ in range(3)] for _ in range(rng.randrange(1, 7))] for _ in range(bits // 3)]
    light = [[max(pq_light(signal_of(c, bits, narrow)) for c in pixel) for pixel in frame] for frame in frames]
    result = [max(max(f) for f in light), max(sum(f) / len(f) for f in light)]
    described = "; ".join(f"frame{i + 1}=" + "|".join(join(p) for p in f) for i, f in enumerate(frames))
    name = row("maxcll_maxfall_cdm2",
               f"encoding=PQ RGB; bits={bits}; range={'narrow' if narrow else 'full'}; {described}", result, "rel:1e-9")
    row("maxcll_maxfall_integer", f"as {name}", [half_up(v) for v in result], "exact")

for _ in range(4):
    c = exact(numbers(3, 5, 150))
    u, r = exact(numbers(3, 0.01, 1)), exact(numbers(3, -0.3, 0.6))
    s = sum(c)
    jacobian = matrix([[(s - c[0]) / s**2, -c[0] / s**2, -c[0] / s**2], [-c[1] / s**2, (s - c[1]) / s**2, -c[1] / s**2]])
    v = matrix([[u[0] ** 2, r[0] * u[0] * u[1], r[1] * u[0] * u[2]], [r[0] * u[0] * u[1], u[1] ** 2, r[2] * u[1] * u[2]],
                [r[1] * u[0] * u[2], r[2] * u[1] * u[2], u[2] ** 2]])
    out = jacobian * v * jacobian.T
    ux, uy = sqrt(out[0, 0]), sqrt(out[1, 1])
    row("xy_standard_uncertainty", f"XYZ={join(mp.nstr(x, 8) for x in c)}; u_XYZ={join(mp.nstr(x, 8) for x in u)}; "
        f"r_XY r_XZ r_YZ={join(mp.nstr(x, 8) for x in r)}; first order; output=r_xy u_x u_y",
        [out[0, 1] / (ux * uy), ux, uy], "abs:1e-12")

BARS = {"white": (1, 1, 1), "yellow": (1, 1, 0), "cyan": (0, 1, 1), "green": (0, 1, 0), "magenta": (1, 0, 1), "red": (1, 0, 0),
        "blue": (0, 0, 1), "black": (0, 0, 0)}
WIDE = npm(SETS["BT.2020"], (0.3127, 0.3290))**-1 * npm(SETS["BT.709"], (0.3127, 0.3290))
for i, (name, rgb) in enumerate(BARS.items()):
    hlg, bits, narrow, percent = i % 2 == 0, (8, 10, 12, 16)[i % 4], i % 3 > 0, (75, 58, 100, 50)[i % 4]
    light = [max(x, mpf(0)) for x in WIDE * matrix([mpf(k) for k in rgb])]
    level = mpf(percent) / 100
    signals = [hlg_signal(hlg_scene(level) * x) if hlg else pq_signal(pq_light(level) * x) for x in light]
    system = f"HLG {percent} % scene referred" if hlg else f"PQ {percent} % display referred"
    row("bt2111_709_bar_codes", f"bar={name}; system={system}; bits={bits}; range={'narrow' if narrow else 'full'}",
        [code(s, bits, narrow) for s in signals], "exact")

source = "make_other_values.py: formulas of the cited documents with mpmath at 40 digits; shares no code with the library"
with open(HERE / "other_values.csv", "w", encoding="utf-8") as out:
    out.write("# Rows of other numbers for every quantity; written by make_other_values.py with mpmath, seed 20260101.\n")
    out.write("id,quantity,inputs,expected,tolerance,source\n")
    for r in rows:
        out.write(",".join(r) + f",{source}\n")
print(len(rows), "rows,", len({r[1] for r in rows}), "quantities")
