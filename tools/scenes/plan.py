"""Plans a scene: a hinge beside a card, the surface, the light and the camera, all from one seed.

    python3 plan.py SEED FOLDER ['{"level": "hard", ...}']

writes FOLDER/spec.json and the pictures that the scene needs (card.png, surface.png).
Lengths are mm, angles degrees. The table is the plane z = 0 and the hinge lies at the origin.
The settings given as JSON choose what is otherwise left to the seed (see `settings` below).
"""
import json
import math
import os
import sys

import cv2
import numpy as np

CARD = dict(width=85.6, height=53.98, radius=3.18, thickness=0.76)  # ISO/IEC 7810 ID-1
BUSINESS = dict(width=88.9, height=50.8, radius=0, thickness=0.35)
AWAY = np.array([5000.0, 5000.0, 0.0])  # where a thing goes that is not in the picture

# height, open width, holes per leaf, thickness, screw
SIZES = {
    "2.5x2.5": (63.5, 63.5, 3, 1.95, 8), "3x3": (76.2, 76.2, 3, 2.1, 9), "3x2.5": (76.2, 63.5, 3, 2.0, 8),
    "3.5x3.5": (88.9, 88.9, 3, 2.3, 9), "3.5x3": (88.9, 76.2, 3, 2.2, 9), "4x4": (101.6, 101.6, 3, 2.4, 9),
    "4x4h": (101.6, 101.6, 4, 3.2, 10), "4x3.5": (101.6, 88.9, 4, 2.5, 10), "4.5x4": (114.3, 101.6, 4, 3.3, 12),
    "4.5x4.5": (114.3, 114.3, 4, 3.4, 12), "5x4.5": (127.0, 114.3, 4, 3.4, 12), "5x5": (127.0, 127.0, 4, 3.4, 12),
    "100x75": (100.0, 75.0, 3, 2.5, 9), "80x80": (80.0, 80.0, 3, 2.0, 9), "70x70": (70.0, 70.0, 3, 1.9, 8),
    "120x90": (120.0, 90.0, 4, 2.8, 10), "100x100": (100.0, 100.0, 4, 3.0, 10),
}
SCREWS = {8: (4.5, 8.0), 9: (4.9, 8.7), 10: (5.2, 9.4), 12: (5.8, 10.9)}  # through hole, countersink
FINISHES = ["satin nickel", "polished brass", "satin brass", "painted white", "black", "dark bronze",
            "brushed steel", "galvanized", "prime coat", "antique copper", "rusty", "painted green"]
WORDS = ["CEDAR GYM", "NORTH QUAY BUS", "OLD MILL BOOKS", "VISITOR", "LANTERN CAFE", "PINE STREET POOL", "MEMBER",
         "HARBOUR TRAM", "SEED SWAP", "MOON LAUNDRY", "GUEST KEY", "ALLOTMENT 7", "BRIDGE TOLL", "KITE CLUB"]
FONT = "/usr/share/fonts/truetype/dejavu/DejaVuSans-Bold.ttf"
SURFACES = ["paper", "light wood", "dark wood", "red wood", "granite", "marble", "blue cloth", "linen", "gingham",
            "cutting mat", "newspaper", "graph paper", "concrete", "cork", "steel bench", "tiles", "black slate"]
LIGHTS = ["window", "ceiling", "lamp", "two lamps", "sun", "overcast"]


def turn(deg):
    c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return np.array([[c, -s], [s, c]])


# --- hinge -----------------------------------------------------------------------------------

def hinge(rng, s):
    height, width, n, thickness, screw = SIZES[s["size"]]
    height += rng.normal(0, 0.15)
    width += rng.normal(0.2, 0.25)
    thickness += rng.normal(0, 0.06)
    gap = rng.uniform(1.3, 1.75)
    barrel = 2 * (thickness + gap / 2) + rng.uniform(3.9, 5.6) * min(1, height / 85)
    hole, sink = SCREWS[screw]
    hole += rng.normal(0, 0.06)
    sink = min(sink + rng.normal(0, 0.1), hole + 2 * (thickness - 0.15) * math.tan(math.radians(41)))
    n = s["holes"] or n
    reach = width / 2 - barrel / 2 - sink / 2 - 2  # the farthest a hole may lie from the edge
    near = rng.choice([8.8, 9.5, 10.4, 11.1])
    far = min(near + rng.uniform(6.5, 11.5), reach)
    if far - near < 3:
        near = far - 4
    end = rng.uniform(11.5, 15) * min(1, height / 85)
    ys = np.linspace(end, height - end, n)
    if n == 4:
        squeeze = rng.uniform(0.85, 1.05)
        ys = height / 2 + (ys - height / 2) * np.array([1, squeeze, squeeze, 1])
    pattern = s["pattern"]
    if pattern == "arc":
        xs = [far, near, far] if n == 3 else [far, near, near, far] if rng.random() < 0.7 else [near, far, far, near]
    elif pattern == "staggered":
        xs = [near, far, near] if n == 3 else [near, far, near, far]
    else:
        xs = [near + 3] * n
    radii = {"square": 0.0, "quarter": 6.35, "five eighths": 15.875}
    leaves = []
    for name in s["corners"]:
        r = radii[name]
        places = [[x + rng.normal(0, 0.05), y + rng.normal(0, 0.05)] for x, y in zip(xs, ys)]
        if r:
            r += rng.normal(0, 0.05)
            for p in places:  # keep the countersink within a round corner
                for y in (p[1], height - p[1]):
                    if p[0] < r and y < r:
                        over = math.hypot(r - p[0], r - y) + sink / 2 + 1.2 - r
                        if over > 0:
                            p[0] += over * 1.5
        leaves.append(dict(radius=r, holes=places))
    h = dict(height=height, open_width=width, thickness=thickness, barrel_diameter=barrel,
             pin_diameter=barrel * rng.uniform(0.5, 0.6), swage_gap=gap, knuckles=s["knuckles"],
             bearing=s["bearing"], tips=bool(s["tips"]), leaves=1 if s["single"] else 2, lies="tent",
             hole_diameter=hole, countersink_diameter=sink, finish=s["finish"], wear=s["wear"],
             pattern=pattern, screw=screw, left=leaves[0], right=leaves[1])
    if s["single"]:
        h["right"]["holes"] = []
    # The leaf leans with its outer lower edge on the table and the barrel's underside on it too.
    a, c, r = width / 2, thickness + gap / 2, barrel / 2
    low, high = 0.0, 0.5
    for _ in range(60):
        mid = (low + high) / 2
        low, high = (mid, high) if a * math.sin(mid) + c * math.cos(mid) < r else (low, mid)
    tilt = low
    foot = a * math.cos(tilt) - c * math.sin(tilt)  # from the pin's axis to that edge, in plan
    h["drawn_reach"] = foot / math.cos(tilt)
    # What only the drawing needs.
    weights = np.ones(h["knuckles"])
    if rng.random() < 0.5:
        weights[[0, -1]] = rng.uniform(0.85, 1.2)
    rings = h["bearing"] == "ball"
    joints = [rng.uniform(0.12, 0.3) for _ in range(h["knuckles"] - 1)]
    if rings:
        for j in (range(h["knuckles"] - 1) if s["rings"] == "all" else (0, h["knuckles"] - 2)):
            joints[j] = rng.uniform(2.0, 2.9)
    lengths = weights / weights.sum() * (height - sum(joints))
    spans, y = [], 0.0
    for k, length in enumerate(lengths):
        spans.append([y, y + length])
        y += length + (joints[k] if k < len(joints) else 0)
    draw = dict(foot=foot, bevel=rng.uniform(0.07, 0.13), spans=spans, first=int(rng.integers(2)),
                clearance=rng.uniform(0.35, 0.7), ring_radius=barrel / 2 * rng.uniform(0.95, 1.0),
                round=rng.uniform(0.15, 0.35), tip_length=rng.uniform(1.5, 3.5), tip_radius=barrel / 2 * rng.uniform(0.7, 0.97),
                ring_dark=bool(rng.random() < 0.7))
    return h, math.degrees(tilt), h["drawn_reach"] * math.sin(tilt), draw


def face(h, tilt_deg, draw, side, phi, at, away):
    """World place of a point [from edge, from end] on a leaf's face."""
    t = math.radians(tilt_deg)
    e, y = at
    x = -draw["foot"] + e * math.cos(t) - h["thickness"] * math.sin(t)
    z = e * math.sin(t) + h["thickness"] * math.cos(t)
    p = turn(phi) @ np.array([x if side == "left" else -x, y - h["height"] / 2])
    return np.array([p[0], p[1], z]) + away


# --- pictures on things ----------------------------------------------------------------------

def text(img, words, at, size, colour, rot=0):
    ft = cv2.freetype.createFreeType2()
    ft.loadFontData(FONT, 0)
    ft.putText(img, words, at, size, colour, -1, cv2.LINE_AA, True)


def colour(rng, kind):
    hue = rng.integers(0, 180)
    sat, val = {"dark": (rng.integers(40, 200), rng.integers(25, 75)), "mid": (rng.integers(60, 220), rng.integers(95, 180)),
                "light": (rng.integers(5, 70), rng.integers(200, 245)), "grey": (rng.integers(0, 15), rng.integers(110, 160))}[kind]
    return tuple(int(v) for v in cv2.cvtColor(np.uint8([[[hue, sat, val]]]), cv2.COLOR_HSV2BGR)[0, 0])


def card_art(rng, s, card):
    scale = 20
    w, h = int(card["width"] * scale), int(card["height"] * scale)
    base, second, third = colour(rng, s["card_tone"]), colour(rng, rng.choice(["dark", "mid", "light"])), colour(rng, "mid")
    img = np.empty((h, w, 3), np.uint8)
    img[:] = base
    art = s["art"]
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)

    def mix(mask, c):
        img[:] = (img * (1 - mask[..., None]) + np.array(c) * mask[..., None]).astype(np.uint8)

    if art == "gradient":
        a = rng.uniform(0, 6.28)
        g = (xx * math.cos(a) / w + yy * math.sin(a) / h)
        mix((g - g.min()) / (g.max() - g.min()), second)
    elif art == "blocks":
        for _ in range(rng.integers(5, 11)):
            x, y = rng.integers(0, w), rng.integers(0, h)
            cv2.rectangle(img, (int(x), int(y)), (int(x + rng.integers(100, 600)), int(y + rng.integers(80, 400))),
                          colour(rng, rng.choice(["dark", "mid", "light"])), -1)
    elif art == "stripes":
        a, p = rng.uniform(0, 3.14), rng.uniform(60, 160)
        mix((np.sin((xx * math.cos(a) + yy * math.sin(a)) / p * 6.28) > 0).astype(np.float32), second)
    elif art == "waves":
        for k in range(5):
            y0 = h * (0.3 + 0.15 * k)
            wave = yy > y0 + 60 * np.sin(xx / rng.uniform(150, 400) + rng.uniform(0, 6))
            mix(wave.astype(np.float32), colour(rng, rng.choice(["dark", "mid", "light"])))
    elif art == "rings":
        cx, cy = rng.uniform(0, w), rng.uniform(0, h)
        d = np.hypot(xx - cx, yy - cy)
        mix((np.sin(d / rng.uniform(15, 50)) > 0).astype(np.float32), second)
    elif art == "landscape":
        n = cv2.resize(rng.random((12, 18)).astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)
        n2 = cv2.resize(rng.random((60, 90)).astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)
        m = np.clip(n * 0.7 + n2 * 0.3, 0, 1)
        mix(m, second)
        mix((m > 0.6).astype(np.float32) * 0.7, third)
    elif art == "discs":
        for _ in range(rng.integers(2, 7)):
            cv2.circle(img, (int(rng.integers(0, w)), int(rng.integers(0, h))), int(rng.integers(60, 260)), second, -1)
    elif art == "back":
        cv2.rectangle(img, (0, 80), (w, 330), (25, 22, 20), -1)
        cv2.rectangle(img, (80, 420), (int(w * 0.65), 560), (225, 230, 232), -1)
    elif art == "badge":
        cv2.rectangle(img, (0, 0), (w, 250), second, -1)
        cv2.rectangle(img, (90, 330), (470, 830), third, -1)
        cv2.circle(img, (280, 500), 110, colour(rng, "light"), -1)
        for k in range(5):
            cv2.rectangle(img, (560, 400 + 90 * k), (int(560 + rng.integers(300, 900)), 430 + 90 * k), (90, 90, 90), -1)
    elif art == "framed":
        cv2.rectangle(img, (70, 70), (w - 70, h - 70), second, 14)
    ink = (245, 245, 245) if sum(base) < 360 else (30, 30, 30)
    if art != "blank":
        text(img, str(rng.choice(WORDS)), (int(rng.integers(80, 350)), int(rng.integers(560, 680))), int(rng.integers(60, 120)), ink)
        text(img, "%04d %04d %02d" % tuple(rng.integers(0, 9999, 3) % (10000, 10000, 100)), (int(rng.integers(80, 400)), 780), 80, ink)
        text(img, "NOT TRANSFERABLE", (90, h - 170), 36, ink)
    if s["chip"]:
        x, y = 190, 370
        cv2.rectangle(img, (x, y), (x + 240, y + 200), (95, 175, 205), -1)
        for k in (1, 2):
            cv2.line(img, (x, y + 67 * k), (x + 240, y + 67 * k), (50, 90, 110), 5)
        cv2.rectangle(img, (x + 80, y + 30), (x + 160, y + 170), (50, 90, 110), 5)
    if s["white_rim"]:
        cv2.rectangle(img, (0, 0), (w - 1, h - 1), (238, 238, 236), 40)
    return img


def surface_art(rng, kind):
    """An image of 400 x 400 mm that repeats, 9 px to the mm, or None where nodes draw the surface."""
    px, size = 9, 3600
    if kind == "cutting mat":
        c = [(70, 95, 40), (95, 60, 30), (55, 55, 55)][rng.integers(3)]
        img = np.full((size, size, 3), c, np.uint8)
        line = tuple(int(v * 0.6 + 90) for v in c)
        for k in range(0, 400, 10):
            t = 4 if k % 50 == 0 else 2
            cv2.line(img, (k * px, 0), (k * px, size), line, t)
            cv2.line(img, (0, k * px), (size, k * px), line, t)
            if k % 20 == 0:
                text(img, str(k // 10), (k * px + 8, 200 * px - 8), 22, line)
        return img
    if kind == "graph paper":
        img = np.full((size, size, 3), (235, 238, 236), np.uint8)
        for k in range(0, 400, 5):
            c = (205, 185, 150)
            cv2.line(img, (k * px, 0), (k * px, size), c, 2)
            cv2.line(img, (0, k * px), (size, k * px), c, 2)
        return img
    if kind == "newspaper":
        img = np.full((size, size, 3), (200, 210, 212), np.uint8)
        letters = list("abcdefghijklmnopqrstuvwxyz")
        ft = cv2.freetype.createFreeType2()
        ft.loadFontData("/usr/share/fonts/truetype/dejavu/DejaVuSerif.ttf", 0)

        def words(n):
            return " ".join("".join(rng.choice(letters, rng.integers(2, 9))) for _ in range(n))
        for col in range(6):
            x, y = col * 600 + 25, 60
            while y < size - 40:
                if rng.random() < 0.02:
                    ft.putText(img, words(2).upper()[:14], (x, y + 60), 66, (40, 40, 40), -1, cv2.LINE_AA, True)
                    y += 95
                elif rng.random() < 0.012 and y < size - 500:
                    n = cv2.resize(rng.random((9, 12)).astype(np.float32), (550, 380), interpolation=cv2.INTER_CUBIC)
                    img[y:y + 380, x:x + 550] = (np.clip(n, 0, 1)[..., None] * 150 + 40).astype(np.uint8)
                    y += 410
                else:
                    ft.putText(img, words(8)[:38], (x, y), 25, (55, 55, 55), -1, cv2.LINE_AA, True)
                    y += 34
        return img
    if kind == "gingham":
        c = np.array([(60, 50, 170), (150, 90, 40), (60, 110, 60)][rng.integers(3)], np.float32)
        band = (np.arange(size) // (9 * 8)) % 2
        m = (band[:, None] + band[None, :]) / 2
        return (m[..., None] * c + (1 - m[..., None]) * 232).astype(np.uint8)
    if kind == "tiles":
        n = cv2.resize(rng.random((200, 200)).astype(np.float32), (size, size), interpolation=cv2.INTER_CUBIC)
        img = (np.array((175, 190, 200)) * (0.92 + 0.1 * n[..., None])).astype(np.uint8)
        for k in (0, size // 2):
            img[k:k + 40] = (120, 125, 130)
            img[:, k:k + 40] = (120, 125, 130)
        return img
    return None


def surroundings(rng, light):
    """The light from all round, and panels seen in it: where (azimuth, elevation), how wide and how bright."""
    panels = []

    def panel(azimuth, wide, low, high, level, tint):
        panels.append(dict(azimuth=float(azimuth), wide=float(wide), low=float(low), high=float(high), level=float(level), colour=[float(v) for v in tint]))

    if light == "calm":
        k = rng.uniform(0.35, 0.8)
        panel(rng.uniform(-180, 180), rng.uniform(40, 80), 20, rng.uniform(50, 75), rng.uniform(1.5, 5), (1, rng.uniform(0.92, 1), rng.uniform(0.85, 1)))
        return [k, k * rng.uniform(0.95, 1), k * rng.uniform(0.9, 1.02)], panels
    cool, plain = (0.85, 0.95, 1.1), (1, 0.95, 0.85)
    if light in ("sun", "overcast"):
        sky = (0.35, 0.5, 0.8) if light == "sun" else (0.8, 0.86, 0.92)
        panel(rng.uniform(-180, 180), rng.uniform(60, 130), 0, rng.uniform(20, 45), 0.25, (0.9, 0.8, 0.65))  # a wall
        return list(sky), panels
    wall = rng.uniform(0.15, 0.4)
    for _ in range(3):
        panel(rng.uniform(-180, 180), rng.uniform(15, 60), 0, rng.uniform(15, 50), rng.uniform(0.02, 0.6), (1, 0.9, 0.8))
    if light == "window":
        panel(rng.uniform(-180, 180), rng.uniform(35, 60), 12, rng.uniform(45, 62), rng.uniform(7, 14), cool)
    elif light == "ceiling":
        a = rng.uniform(-180, 180)
        for k in range(rng.integers(1, 4)):
            panel(a + 110 * k, 50, rng.uniform(52, 60), rng.uniform(66, 80), rng.uniform(9, 15), plain)
    else:
        panel(rng.uniform(-180, 180), 40, 20, 50, rng.uniform(0.8, 2.0), cool)
    return [wall, wall * 0.97, wall * 0.92], panels


def lamps(rng, light):
    out = []
    for _ in range({"lamp": 1, "two lamps": 2, "sun": 0}.get(light, 0)):
        a, e, d = rng.uniform(0, 360), rng.uniform(40, 75), rng.uniform(500, 1100)
        at = d * np.array([math.cos(math.radians(e)) * math.cos(math.radians(a)), math.cos(math.radians(e)) * math.sin(math.radians(a)), math.sin(math.radians(e))])
        out.append(dict(kind="area", at=at.tolist(), size=float(rng.uniform(60, 350)), irradiance=float(rng.uniform(1.5, 4)),
                        colour=[1.0, float(rng.uniform(0.75, 0.95)), float(rng.uniform(0.5, 0.85))]))
    if light == "sun":
        out.append(dict(kind="sun", azimuth=float(rng.uniform(0, 360)), elevation=float(rng.uniform(35, 65)), irradiance=float(rng.uniform(5, 10)),
                        colour=[1.0, 0.93, 0.82]))
    return out


# --- layout and camera -----------------------------------------------------------------------

def rect(cx, cy, w, h, deg):
    return ((cx, cy), (w, h), deg)


def apart(a, b, gap):
    (c, (w, h), d) = a
    kind, _ = cv2.rotatedRectangleIntersection((c, (w + 2 * gap, h + 2 * gap), d), b)
    return kind == cv2.INTERSECT_NONE


class Camera:
    def __init__(self, eye, target, roll, focal, size, k1):
        self.eye, self.focal, self.size, self.k1 = np.array(eye), focal, size, k1
        f = np.array(target) - self.eye
        f /= np.linalg.norm(f)
        right = np.cross(f, [0, 1, 0])
        right /= np.linalg.norm(right)
        up = np.cross(right, f)
        a = math.radians(roll)
        self.forward, self.right, self.up = f, right * math.cos(a) + up * math.sin(a), up * math.cos(a) - right * math.sin(a)

    def px(self, world):
        v = np.asarray(world) - self.eye
        z = v @ self.forward
        x, y = v @ self.right / z, -(v @ self.up) / z
        f = self.focal * (1 + self.k1 * (x * x + y * y))
        return [self.size[0] / 2 + f * x, self.size[1] / 2 + f * y]


def settings(rng, given):
    level = given.get("level", str(rng.choice(["easy", "medium", "hard"])))
    tilt = {"easy": (0.5, 7), "medium": (4, 15), "hard": (13, 30)}[level]
    corners = str(rng.choice(["square", "quarter", "five eighths"]))
    s = dict(level=level, expect="measured", size=str(rng.choice(list(SIZES))), holes=0,
             pattern=str(rng.choice(["arc", "staggered"])), corners=[corners, corners], single=False,
             knuckles=int(rng.choice([3, 5, 5])), bearing=str(rng.choice(["plain", "ball"])), rings="ends",
             tips=int(rng.integers(2)), finish=str(rng.choice(FINISHES)), wear=float(rng.choice([0, 0.1, 0.3])),
             surface="paper" if level == "easy" else str(rng.choice(SURFACES)), sheet=False,
             light=str(rng.choice(LIGHTS[:3] if level == "easy" else LIGHTS)), focal_35mm=int(rng.choice([24, 26, 26, 28, 35, 52])),
             resolution=[2048, 1536], portrait=False, tilt=float(rng.uniform(*tilt)), fill=float(rng.uniform(0.66, 0.9)),
             art=str(rng.choice(["plain", "gradient", "blocks", "stripes", "waves", "rings", "landscape", "back", "badge", "framed"])),
             card_tone=str(rng.choice(["dark", "mid", "light", "grey"])), chip=bool(rng.random() < 0.4), white_rim=bool(rng.random() < 0.15),
             core="white", card="id1", no_card=False, no_hinge=False, cut_card=0.0, clutter=[], motion=0, defocus=0.0, gap=float(rng.uniform(8, 28)),
             card_turn=None, roll=None, k1=float(rng.choice([0, 0, -0.012, -0.03, 0.006])) + float(rng.normal(0, 0.001)),
             exif="full", quality=int(rng.choice([75, 80, 85, 90, 95])), noise=float(rng.uniform(0.004, 0.014)),
             sharpen=float(rng.uniform(0.2, 0.9)), blur_px=float(rng.uniform(0.45, 0.8)))
    for k in given:
        if k not in s:
            raise SystemExit("plan: no setting named " + k)
    s.update(given)
    if s["single"]:
        s["tips"] = 0
    return s


def typed(rng, h, style):
    n = rng.normal(0, 0.04, 3)
    v = [h["height"] + n[0], (h["open_width"] if h["leaves"] == 2 else h["open_width"] / 2) + n[1], h["thickness"] + n[2] / 2]
    if style == "caliper in":
        return {"height": "%.3f in" % (v[0] / 25.4), "open_width": "%.3f in" % (v[1] / 25.4), "thickness": "%.3f in" % (v[2] / 25.4)}
    return {"height": "%.1f mm" % v[0], "open_width": "%.1f mm" % v[1], "thickness": "%.2f mm" % v[2]}


def plan(seed, given, folder):
    rng = np.random.default_rng(seed)
    s = settings(rng, given)
    card = dict(CARD if s["card"] == "id1" else BUSINESS)
    h, tilt, lift, draw = hinge(rng, s)

    phi = float(rng.uniform(-180, 180))
    single = h["leaves"] == 1
    span = h["open_width"] / 2 + h["barrel_diameter"] / 2 if single else h["open_width"]
    off = turn(phi) @ np.array([-(h["open_width"] / 2 - span / 2) if single else 0.0, 0.0])
    long = h["height"] + (2 * draw["tip_length"] if h["tips"] else 0)
    body = rect(off[0], off[1], span, long, phi)
    psi = phi + float(rng.choice([0, 0, 90, 180, 180, 270])) + float(rng.uniform(-14, 14))
    card_turn = psi + (90 if rng.random() < 0.6 else 0) + (180 if rng.random() < 0.5 else 0) + float(rng.uniform(-13, 13)) if s["card_turn"] is None else psi + s["card_turn"]
    r = 0.0
    while True:
        c = off + r * np.array([math.cos(math.radians(psi)), math.sin(math.radians(psi))])
        place = rect(c[0], c[1], card["width"], card["height"], card_turn)
        if apart(body, place, s["gap"]):
            break
        r += 0.5
    corner = [turn(card_turn) @ (np.array(p) - [card["width"] / 2, card["height"] / 2]) + c
              for p in ([0, 0], [card["width"], 0], [card["width"], card["height"]], [0, card["height"]])]

    hinge_away = AWAY if s["no_hinge"] else np.zeros(3)
    card_away = AWAY if s["no_card"] else np.zeros(3)
    # What has to be in the frame.
    box = np.vstack([np.array(corner), cv2.boxPoints(body)])
    axis = turn(-psi) @ box.T
    centre = turn(psi) @ ((axis.max(1) + axis.min(1)) / 2)

    w, hh = s["resolution"]
    if s["portrait"]:
        w, hh = hh, w
    focal = math.hypot(w, hh) * s["focal_35mm"] / math.hypot(36, 24)
    az = float(rng.uniform(0, 360))
    t = math.radians(s["tilt"])
    roll = (psi + (90 if s["portrait"] else 0) + (180 if rng.random() < 0.5 else 0) + float(rng.normal(0, 5))) if s["roll"] is None else psi + s["roll"]
    roll = (roll + 180) % 360 - 180
    look = np.array([centre[0], centre[1], 0.0])
    away = np.array([math.sin(t) * math.cos(math.radians(az)), math.sin(t) * math.sin(math.radians(az)), math.cos(t)])
    pts = [np.array([p[0], p[1], z]) for p in box for z in (0, 5)]

    def worst(cam, which):
        q = np.array([cam.px(p) for p in which])
        return max(np.abs(q[:, 0] / w - 0.5).max(), np.abs(q[:, 1] / hh - 0.5).max()) * 2

    d = 160.0
    while worst(Camera(look + d * away, look, roll, focal, (w, hh), s["k1"]), pts) > s["fill"]:
        d += 2
    if s["cut_card"]:  # move along until that many mm of the card are out of the frame
        step = turn(psi) @ np.array([-1.0, 0])
        far = max(corner, key=lambda p: np.dot(p, -step))
        inner = far + step * s["cut_card"]
        while worst(Camera(look + d * away, look, roll, focal, (w, hh), s["k1"]), [np.array([inner[0], inner[1], 0.8])]) < 1:
            look[:2] += step
    eye = look + d * away
    cam = Camera(eye, look, roll, focal, (w, hh), s["k1"])

    things, taken = [], [body, place]
    if s["no_card"]:
        taken = [body]
    if s["no_hinge"]:
        taken = [place]
    sizes = {"pencil": (7.5, 120), "disc": (26, 26), "screw": (10, 40), "screwdriver": (26, 190), "note": (76, 76), "receipt": (58, 130),
             "washer": (18, 18), "nail": (8, 65), "key": (24, 60), "strip": (14, 110), "cup": (80, 80)}
    for kind in s["clutter"]:
        for _ in range(500):
            at = look[:2] + rng.uniform(-0.75, 0.75, 2) * d * 0.8
            if not (0.02 * w < cam.px([at[0], at[1], 0])[0] < 0.98 * w and 0.02 * hh < cam.px([at[0], at[1], 0])[1] < 0.98 * hh):
                continue
            deg = float(rng.uniform(-180, 180))
            own = rect(at[0], at[1], *sizes[kind], deg)
            if all(apart(own, other, 3) for other in taken):
                things.append(dict(kind=kind, at=at.tolist(), turn=deg, size=sizes[kind], colour=[float(v) / 255 for v in colour(rng, "mid")]))
                taken.append(own)
                break

    # The part of the render that needs full resolution: hinge, card and things, with a rim.
    seen = []
    for (at, (wide, tall), deg) in taken:
        seen += [np.array([q[0], q[1], z]) for q in cv2.boxPoints((at, (wide + 24, tall + 24), deg)) for z in (0, 12)]

    points = dict(holes=[], corners=[], card=[])
    for side in ("left", "right")[:h["leaves"]]:
        for at in h[side]["holes"]:
            world = face(h, tilt, draw, side, phi, at, hinge_away)
            points["holes"].append(dict(leaf=side, at=at, world_mm=world.tolist(), px=cam.px(world)))
        for at in ([0, 0], [0, h["height"]]):
            world = face(h, tilt, draw, side, phi, at, hinge_away)
            points["corners"].append(dict(leaf=side, at=at, world_mm=world.tolist(), px=cam.px(world)))
    for at, p in zip(([0, 0], [card["width"], 0], [card["width"], card["height"]], [0, card["height"]]), corner):
        world = np.array([p[0], p[1], card["thickness"]]) + card_away
        points["card"].append(dict(at=at, world_mm=world.tolist(), px=cam.px(world)))

    art = card_art(rng, s, card)
    cv2.imwrite(folder + "/card.png", art)
    picture = surface_art(rng, s["surface"])
    if picture is not None:
        cv2.imwrite(folder + "/surface.png", picture)
    world, panels = surroundings(rng, s["light"])

    orientation = int(rng.choice([1, 1, 1, 3, 6, 8])) if s["exif"] != "none" else 1
    stored = [hh, w] if orientation in (6, 8) else [w, hh]
    style = str(rng.choice(["caliper mm", "caliper in"]))
    wider = 1.004 + 1.15 * max(0, -s["k1"]) * (math.hypot(w, hh) / 2 / focal) ** 2  # room for the distortion
    render = [math.ceil(w * wider / 2) * 2, math.ceil(hh * wider / 2) * 2]
    flat = Camera(eye, look, roll, focal, render, 0.0)
    q = np.array([flat.px(v) for v in seen])
    focus = [max(0, int(q[:, 0].min())), max(0, int(q[:, 1].min())), min(render[0], int(q[:, 0].max())), min(render[1], int(q[:, 1].max()))]
    truth = dict(
        level=s["level"], expect=s["expect"], image=dict(size_px=stored, upright_px=[w, hh], focal_px_upright=focal),
        hinge=h, tilt_deg=tilt, lift_mm=lift, card=card,
        camera=dict(width=w, height=hh, render_width=render[0], render_height=render[1], focal_px=focal,
                    focal_35mm=s["focal_35mm"], eye=eye.tolist(), look_at=look.tolist(), roll=roll, k1=s["k1"],
                    distance_mm=float(d), tilt_deg=s["tilt"]),
        surface=dict(kind=s["surface"], sheet=s["sheet"]), light=s["light"],
        finish_steps=dict(blur_px=s["blur_px"], noise=s["noise"], sharpen=s["sharpen"], quality=s["quality"],
                          exif=s["exif"] != "none", orientation=orientation),
        points_px_upright=points, readings=dict(style=style, typed=typed(rng, h, style), blunder=None), plan=given)
    return dict(seed=seed, settings=s, truth=truth, draw=draw, hinge_turn=phi, hinge_away=hinge_away.tolist(),
                card_turn=card_turn, card_at=(c + card_away[:2]).tolist(), things=things, lamps=lamps(rng, s["light"]), world=world, panels=panels, focus=focus,
                sheet=dict(at=(look[:2] + rng.uniform(-15, 15, 2)).tolist(), turn=roll + float(rng.normal(0, 3)), size=[297, 210]) if s["sheet"] else None,
                surface_turn=float(rng.uniform(0, 360)), surface_shift=rng.uniform(-300, 300, 2).tolist(),
                axes=dict(right=cam.right.tolist(), up=cam.up.tolist(), forward=cam.forward.tolist()))


if __name__ == "__main__":
    seed, folder = int(sys.argv[1]), sys.argv[2]
    os.makedirs(folder, exist_ok=True)
    spec = plan(seed, json.loads(sys.argv[3]) if len(sys.argv) > 3 else {}, folder)
    with open(folder + "/spec.json", "w") as f:
        json.dump(spec, f, indent=1)
