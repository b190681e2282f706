"""How large is a person of a given stature percentile, and how far apart are the ends of a bent limb?

Source: the 2012 Anthropometric Survey of U.S. Army Personnel (ANSUR II), public data of 1,986 women and 4,082 men,
measured in 1 g without a suit. Means, standard deviations, percentiles and correlations were computed from its own file
with numpy's linear rule and are typed in here as the project's check values give them; the file itself is not in the
repository. Computed here: a measure at a stature percentile, mean + r·sd·z, with z from scipy's inverse normal; and the
third side of a triangle (law of cosines). An engine agrees to 1e-6 mm: z is known to 1e-15, sd is under 100 mm.
"""

import math

from scipy.stats import norm

from reference import run, version

#: Column of the data set: 5th, 50th, 95th percentile, mean, standard deviation (mm) of women, then of men.
MEASURES = {
    "stature": ((1525, 1626, 1740, 1628.5, 64.2), (1648, 1755, 1870, 1756.2, 68.6)),
    "cervicaleheight": ((1300, 1393, 1498, 1395.7, 59.5), (1416, 1517, 1623, 1517.3, 63.3)),
    "acromialheight": ((1242, 1332, 1434, 1335.1, 58.1), (1339, 1439, 1546, 1440.7, 63.3)),
    "suprasternaleheight": ((1236, 1326.5, 1428, 1329.7, 57.2), (1341, 1437, 1540, 1438.6, 61.2)),
    "iliocristaleheight": ((918, 993, 1080, 995.7, 49.7), (977, 1061, 1148, 1061.6, 52.0)),
    "trochanterionheight": ((774, 844, 919, 845.4, 44.7), (824, 899, 985, 900.9, 49.2)),
    "crotchheight": ((712, 780, 857, 782.3, 44.6), (771, 845, 925, 845.9, 46.5)),
    "lateralfemoralepicondyleheight": ((422, 465, 511, 465.9, 27.1), (449, 491, 537, 491.7, 26.6)),
    "kneeheightmidpatella": ((408, 448, 493, 449.0, 26.0), (443, 487, 536, 488.4, 28.1)),
    "tibialheight": ((399, 437, 479, 437.8, 25.0), (426, 467.5, 513, 468.2, 26.6)),
    "lateralmalleolusheight": ((54, 63, 71, 62.7, 5.1), (64, 73, 83, 72.9, 5.7)),
    "footlength": ((226, 246, 268, 246.3, 12.4), (250, 271, 293, 271.2, 13.1)),
    "footbreadthhorizontal": ((85, 93, 101, 92.7, 4.8), (94, 102, 111, 101.9, 5.2)),
    "buttockkneelength": ((541, 589, 646, 590.6, 32.6), (569, 617, 669, 618.0, 30.6)),
    "kneeheightsitting": ((469, 510, 557, 511.3, 27.1), (509, 553, 602, 554.2, 27.9)),
    "sittingheight": ((803, 857, 912, 856.6, 33.1), (860, 918, 977, 918.3, 35.7)),
    "eyeheightsitting": ((698, 748, 799, 747.7, 30.4), (750, 804, 860, 804.5, 33.2)),
    "acromionradialelength": ((283, 311, 340, 311.2, 17.2), (307, 335, 365, 335.2, 17.5)),
    "shoulderelbowlength": ((307, 334, 363, 334.3, 17.3), (334, 363, 394, 363.7, 18.2)),
    "radialestylionlength": ((218, 240.5, 268, 241.3, 15.2), (244, 267, 295, 267.9, 15.4)),
    "forearmcenterofgriplength": ((290, 316, 350, 317.7, 18.0), (320, 348.5, 379, 349.0, 18.0)),
    "handlength": ((165, 180, 199, 181.1, 10.1), (177, 193, 210, 193.3, 9.9)),
    "thumbtipreach": ((674, 742, 816, 744.0, 42.8), (742, 811, 886, 811.9, 43.7)),
    "span": ((1529, 1657, 1803, 1660.3, 83.0), (1680, 1812, 1957, 1814.2, 84.6)),
    "biacromialbreadth": ((335, 365, 396, 365.3, 18.3), (384, 415, 447, 415.7, 19.2)),
    "bideltoidbreadth": ((406, 450, 499, 450.3, 28.7), (459, 509, 567, 510.4, 32.5)),
    "chestbreadth": ((241, 268, 302, 269.3, 18.6), (261, 289, 320, 289.4, 18.3)),
    "chestdepth": ((205, 245, 296, 247.4, 27.3), (211, 253, 298, 253.8, 26.2)),
    "hipbreadth": ((311, 353, 400, 353.8, 26.7), (308, 344, 387, 345.7, 24.2)),
    "bicristalbreadth": ((237, 273, 310, 273.3, 22.3), (247, 275, 305, 275.4, 17.5)),
    "headlength": ((178, 190, 202, 189.8, 7.4), (188, 200, 211, 199.5, 7.0)),
    "headbreadth": ((140, 147, 156, 147.8, 5.2), (146, 154, 163, 154.3, 5.5)),
}
#: Eye height standing is derived: stature − sittingheight + eyeheightsitting.
EYE_HEIGHT = ((1421, 1517, 1626, 1519.5, 61.7), (1536, 1640, 1753, 1642.4, 66.5))
MASS_KG = ((51.3, 66.8, 87.1, 67.8, 11.0), (64.4, 84.6, 110.7, 85.5, 14.2))
#: Correlation with stature, women, men. Others were not computed.
CORRELATIONS = {
    "stature": (1.0, 1.0),
    "acromialheight": (0.97, 0.97),
    "trochanterionheight": (0.86, 0.85),
    "acromionradialelength": (0.79, 0.79),
    "radialestylionlength": (0.69, 0.72),
    "handlength": (0.65, 0.67),
}
PERCENTILES = (1, 5, 25, 50, 75, 95, 99)
#: Two lengths (mm), the angle between them (degrees).
LIMBS = [
    ("shoulder to wrist, men's medians", 335.0, 267.0, 122.0),
    ("shoulder to wrist, women's medians", 311.0, 240.5, 122.0),
    ("hip to ankle, fractions of stature 1755 mm", 0.245 * 1755.0, 0.246 * 1755.0, 133.0),
    ("hip to ankle, fractions of stature 1626 mm", 0.245 * 1626.0, 0.246 * 1626.0, 133.0),
]


def spread(numbers, unit="mm"):
    low, middle, high, mean, sd = map(float, numbers)
    return {f"percentiles_{unit}": [low, middle, high], f"mean_{unit}": mean, f"sd_{unit}": sd}


def by_sex(pair, make_one):
    return {sex: make_one(one) for sex, one in zip(("women", "men"), pair)}


def measure(name):
    figures = by_sex(MEASURES[name], spread)
    for sex, r in zip(figures, CORRELATIONS.get(name, (None, None))):
        figures[sex]["correlation"] = r
    return {"name": name, **figures}


def sized(name, percentile):
    z = float(norm.ppf(percentile / 100.0))
    sizes = {
        sex: mean + r * sd * z
        for sex, (*_, mean, sd), r in zip(("women", "men"), MEASURES[name], CORRELATIONS[name])
    }
    return {"name": name, "percentile": percentile, "size_mm": sizes}


def third_side(a, b, angle_deg):
    return math.sqrt(a * a + b * b - 2.0 * a * b * math.cos(math.radians(angle_deg)))


def make():
    """Body sizes of the survey, sizes at stature percentiles, and law-of-cosines lengths."""
    return {
        "source": "2012 Anthropometric Survey of U.S. Army Personnel (ANSUR II), public data; 1986 women, 4082 men",
        "library": "scipy (inverse normal), math",
        "version": version("scipy"),
        "script": "figure.py",
        "how": "percentiles 5, 50, 95, mean, standard deviation, correlation with stature (null: not computed) as typed "
        "in; quantiles = z of a percentile; sized = mean + r*sd*z; limbs = law of cosines",
        "tolerances": {"z": 1e-12, "size_mm": 1e-9, "distance_mm": 1e-9},
        "measures": [measure(name) for name in MEASURES],
        "eye_height_standing": by_sex(EYE_HEIGHT, spread),
        "mass": by_sex(MASS_KG, lambda numbers: spread(numbers, "kg")),
        "quantiles": [{"percentile": p, "z": float(norm.ppf(p / 100.0))} for p in PERCENTILES],
        "sized": [sized(name, p) for name in CORRELATIONS for p in PERCENTILES],
        "limbs": [
            {"name": name, "a_mm": a, "b_mm": b, "angle_deg": angle, "distance_mm": third_side(a, b, angle)}
            for name, a, b, angle in LIMBS
        ],
    }


if __name__ == "__main__":
    run(__file__, make)
