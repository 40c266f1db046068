"""Scenes by lot, as the numbers that draw.cu reads, and where their points of interest come to lie in the picture.

    python3 scene.py LIBRARY SHEET.png [SEED]     a sheet of scenes over their labels; LIBRARY is draw.cu compiled as C++
"""
import math
import random
import sys

import numpy as np

HEAD, OBJ, MAXOBJ = 96, 80, 64
SIZE = HEAD + OBJ * MAXOBJ
W, H = 384, 288  # of the picture; half of it are the labels'
CARD, LEAF, OTHER = 1, 2, 3  # masks
POINTS = ("card corner", "hole", "leaf corner", "pin end")

BRASS, NICKEL, CHROME, STEEL = (.85, .65, .28), (.75, .71, .64), (.82, .84, .86), (.66, .67, .68)
FINISHES = [BRASS, BRASS, NICKEL, NICKEL, CHROME, STEEL, STEEL, (.55, .44, .30), (.16, .12, .10), (.05, .05, .05), (.09, .085, .08)]


def colour(r, lo=0.02, hi=0.95):
    return tuple(r.uniform(lo, hi) for _ in range(3))


def grey(r, lo, hi, cast=.06):
    v = r.uniform(lo, hi)
    return tuple(min(1, max(0.01, v * (1 + r.uniform(-cast, cast)))) for _ in range(3))


def texture(r, kind, a, b=(0, 0, 0), c=(0, 0, 0), amount=1.0, scale=1.0, angle=None):
    t = r.uniform(0, 2 * math.pi) if angle is None else angle
    return [kind, scale, r.randrange(1, 1 << 20), *a, *b, *c, amount, math.cos(t), math.sin(t)]


def surface(r):
    """What hinge and card lie on: texture, roughness, metal."""
    k = r.choices(["plain", "wood", "planks", "granite", "cloth", "tiles", "stripes", "print", "mat", "stains", "metal"],
                  [16, 20, 14, 9, 8, 7, 4, 8, 6, 6, 3])[0]
    light = r.random() < .5
    if k in ("wood", "planks"):
        v = r.uniform(.08, .75)
        a = (v, v * r.uniform(.6, .88), v * r.uniform(.3, .7))
        if r.random() < .15:
            a = grey(r, .1, .6)
        f = r.uniform(.15, .85)
        b = tuple(x * f for x in a)
        return texture(r, 1, a, b, (1.0 if k == "planks" else 0.0, r.uniform(0, 1.5), 0), r.uniform(.2, 1), math.exp(r.uniform(-.6, .8))), r.uniform(.25, .95), 0
    if k == "granite":
        return texture(r, 2, grey(r, .02, .5), grey(r, .1, .7), grey(r, .2, .9), r.uniform(.3, 1.2), math.exp(r.uniform(-.2, 1.7))), r.uniform(.1, .9), 0
    if k == "cloth":
        a = colour(r)
        return texture(r, 3, a, tuple(x * r.uniform(.5, .9) for x in a), (float(r.random() < .35), r.uniform(.4, 1.5), 0), r.uniform(.3, 1), r.uniform(.7, 3)), .95, 0
    if k == "tiles":
        a = grey(r, .3, .9, .15)
        return texture(r, 4, a, tuple(x * r.uniform(.7, .95) for x in a), grey(r, .15, .8), r.uniform(.2, 1), r.uniform(.8, 4)), r.uniform(.1, .5), 0
    if k == "stripes":
        return texture(r, 5, colour(r), colour(r), colour(r), r.uniform(.1, .9), r.uniform(.7, 4)), .9, 0
    if k == "print":
        return texture(r, 6, grey(r, .6, .93, .08), grey(r, .02, .3), colour(r), r.uniform(.5, 1), r.uniform(.6, 1.6)), .8, 0
    if k == "mat":
        a = r.choice([(.05, .3, .2), (.08, .2, .35), (.1, .1, .1), (.85, .85, .82), (.3, .3, .3)])
        return texture(r, 7, a, grey(r, .5, .95) if a[0] < .5 else grey(r, .3, .6), amount=r.uniform(.2, .9), scale=r.uniform(.5, 1.5)), r.uniform(.4, .8), 0
    if k == "metal":
        return texture(r, 13, grey(r, .4, .8, .03), scale=r.uniform(.6, 2)), r.uniform(.25, .5), 1
    a = grey(r, .55, .95, .08) if light else (colour(r, .02, .8) if r.random() < .4 else grey(r, .03, .6))
    if k == "stains":
        return texture(r, 8, a, tuple(x * r.uniform(.4, 1.1) for x in a), amount=r.uniform(.3, 1), scale=math.exp(r.uniform(-1, 1))), r.uniform(.3, .9), 0
    return texture(r, 0, a, amount=r.choice([0, .05, .15, .4]), scale=math.exp(r.uniform(-1.5, 1))), r.uniform(.12, .9), 0


class Scene:
    def __init__(self):
        self.objects, self.points = [], []

    def slab(self, x, y, turn, w, h, radius, z0, z1, tex, metal=0, rough=.5, mask=0, holes=(), wear=.2, slope=0, right=None, slotted=False):
        o = np.zeros(OBJ, np.float32)
        o[:11] = 1, x, y, math.cos(turn), math.sin(turn), w / 2, h / 2, radius, z0, z1, slope
        o[11:26] = tex
        o[26:30] = metal, rough, mask, len(holes)
        for k, q in enumerate(holes):
            o[30 + 5 * k:35 + 5 * k] = q
        o[60:63] = wear, -1 if slotted else 0, radius if right is None else right
        self.objects.append(o)

    def rod(self, x, y, turn, radius, length, z0, tex, metal=1, rough=.3, mask=0, knuckles=0):
        o = np.zeros(OBJ, np.float32)
        o[:10] = 2, x, y, math.cos(turn), math.sin(turn), radius, length / 2, 0, z0, z0 + 2 * radius
        o[11:26] = tex
        o[26:29] = metal, rough, mask
        o[61] = knuckles
        self.objects.append(o)


def place(x, y, turn, u, v):
    return x + u * math.cos(turn) - v * math.sin(turn), y + u * math.sin(turn) + v * math.cos(turn)


HINGES = [(3, 3), (3.5, 3.5), (3.5, 3.5), (4, 4), (4, 4), (4.5, 4), (4.5, 4.5), (5, 4.5), (5, 5), (6, 5), (2.5, 2.5), (2, 1.5), (100 / 25.4, 75 / 25.4), (76 / 25.4, 50 / 25.4)]


def finish(r):
    """A leaf's metal: texture, metal, roughness."""
    if r.random() < .14:  # painted
        return texture(r, 0, grey(r, .5, .95, .05) if r.random() < .7 else colour(r), amount=r.uniform(0, .3)), 0, r.uniform(.2, .7)
    a = r.choice(FINISHES)
    a = tuple(min(1, x * r.uniform(.85, 1.15)) for x in a)
    metal = 0 if max(a) < .2 and r.random() < .7 else 1
    rough = r.uniform(.05, .75)
    if r.random() < .35:
        rust = (r.uniform(.2, .45), r.uniform(.1, .2), r.uniform(.03, .1)) if r.random() < .6 else grey(r, .1, .6)
        return texture(r, 14, a, rust, amount=r.uniform(0, 1), scale=r.uniform(.5, 2)), metal, rough
    return texture(r, 13 if r.random() < .6 else 0, a, amount=r.uniform(0, .25), scale=r.uniform(.5, 2), angle=r.choice([0, math.pi / 2])), metal, rough


def hinge(s, r, x, y, turn):
    """A hinge lying open, pin axis along v; returns its half extents."""
    hi, wi = r.choice(HINGES)
    h, w = hi * 25.4 * r.uniform(.98, 1.02), wi * 25.4 * r.uniform(.98, 1.02)
    t = r.uniform(1.6, 4)
    rb = (t + r.uniform(1.5, 3.6)) * r.uniform(.8, 1.1)
    tex, metal, rough = finish(r)
    radii = [r.choice([0, 0, 6.35, 15.875])] * 2
    if r.random() < .15:
        radii[1] = r.choice([0, 6.35, 15.875])
    n = r.choice([2, 3, 3, 3, 3, 4, 4, 5] if h > 70 else [2, 3, 3])
    sink = r.uniform(3.4, 5.2) if h > 70 else r.uniform(2, 3.4)
    bore = sink * r.uniform(.42, .68)
    flat = r.random() < .12  # no countersink
    width = w / 2
    edge = [r.uniform(.2, .38) * width, r.uniform(.45, .65) * width]
    kind = r.choice(["staggered", "arc", "line"])
    screws = r.random()
    leaves = 1 if r.random() < .08 else 2
    slope = r.uniform(0, .09)
    up = r.uniform(0, 4) if r.random() < .5 else 0
    for side in range(leaves):
        sign = (-1, 1)[side]
        holes = []
        for k in range(n):
            v = -h / 2 + h * (.13 + .74 * k / max(1, n - 1))
            e = edge[k % 2] if kind == "staggered" else edge[0] if kind == "line" else edge[0] + (edge[1] - edge[0]) * (1 - abs(2 * k / max(1, n - 1) - 1))
            filled = 0
            if screws < .13:
                filled = 1
            elif screws < .22 and r.random() < .5:
                filled = r.choice([1, 2])
            holes.append([0, v + r.uniform(-.3, .3), sink if not flat else bore * 1.03, bore, filled, e])
        inner = rb * r.uniform(.1, .55)
        leaf = width - inner
        mid = sign * (inner + leaf / 2)
        # in the leaf's own frame u runs from its middle; outward is sign
        own = [(sign * (leaf / 2 - e), v, a, b, f) for _, v, a, b, f, e in holes]
        cx, cy = place(x, y, turn, mid, 0)
        rad = radii[side]
        z1 = t + up + slope * leaf / 2
        s.slab(cx, cy, turn, leaf, h, rad if sign < 0 else 0, 0, z1, tex, metal, rough, LEAF, own, r.uniform(.1, .8), -sign * slope, right=rad if sign > 0 else 0, slotted=r.random() < .3)
        for u, v, *_ in own:
            px, py = place(cx, cy, turn, u, v)
            s.points.append((1, px, py, z1 - sign * slope * u))
        for v in (-h / 2, h / 2):
            px, py = place(x, y, turn, sign * width, v)
            s.points.append((2, px, py, t + up))
    z0 = up + slope * width * .9
    k = r.choice([3, 5, 5, 5]) if h > 60 else r.choice([3, 5])
    if leaves == 2 or r.random() < .3:
        s.rod(x, y, turn, rb, h, z0, tex, metal, rough, LEAF, k)
        if r.random() < .6:
            s.rod(x, y, turn, rb * r.uniform(.6, .95), h + r.uniform(3, 10), z0 + rb * .1, tex, metal, rough, 0)
    else:  # knuckles with gaps between
        first = r.randrange(2)
        for j in range(first, k, 2):
            px, py = place(x, y, turn, 0, -h / 2 + h * (j + .5) / k)
            s.rod(px, py, turn, rb, h / k, z0, tex, metal, rough, LEAF)
    for v in (-h / 2, h / 2):
        px, py = place(x, y, turn, 0, v)
        s.points.append((3, px, py, z0 + rb * 2))
    if r.random() < .15:  # wall paint run over its edges
        paint = texture(r, 0, grey(r, .6, .95, .05), amount=.1)
        for _ in range(r.randrange(2, 9)):
            u, v = r.choice([(r.choice([-1, 1]) * w / 2, r.uniform(-h, h) / 2), (r.uniform(-w, w) / 2, r.choice([-1, 1]) * h / 2)])
            px, py = place(x, y, turn, u + r.gauss(0, 1), v + r.gauss(0, 1))
            a = r.uniform(3, 14)
            s.slab(px, py, r.uniform(0, 6.3), a, a * r.uniform(.3, 1), a * .15, 0, t + up + .3, paint, 0, .5, wear=1)
    return max(w / 2, 8), h / 2


def art(r, kind=9):
    light = r.random()
    a = grey(r, .75, .97, .04) if light < .25 else grey(r, .02, .2) if light < .4 else colour(r)
    b = colour(r) if r.random() < .5 else tuple(x * r.uniform(.6, 1) for x in a)
    return texture(r, kind, a, b, grey(r, .02, .2) if sum(a) > 1.4 else grey(r, .7, .95), r.uniform(0, 1), angle=0)


def cardlike(s, r, x, y, turn, w, h, rad, mask, tex, z=0, t=None):
    t = t or r.uniform(.3, .9)
    s.slab(x, y, turn, w, h, rad, z, z + t, tex, 0, r.choice([.15, .3, .5, .8]), mask, wear=r.uniform(.1, .5))
    for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        px, py = place(x, y, turn, u * w / 2, v * h / 2)
        s.points.append((0, px, py, z + t))


def clutter(s, r, x, y, turn):
    k = r.choices(["coin", "pen", "paper", "book", "board", "screw", "ruler", "box", "plate", "tool", "sheet", "phone", "printed"], [2, 3, 3, 3, 3, 4, 2, 2, 2, 2, 2, 3, 2])[0]
    if k == "coin":
        q = r.uniform(8, 14)
        s.slab(x, y, turn, 2 * q, 2 * q, q, 0, 2, texture(r, 14, r.choice(FINISHES), grey(r, .2, .7), amount=.5), 1, .3)
    elif k in ("pen", "screw"):
        big = k == "pen"
        s.rod(x, y, turn, r.uniform(3, 6) if big else r.uniform(1.2, 3), r.uniform(100, 160) if big else r.uniform(18, 50), 0,
              texture(r, 0, colour(r) if big else STEEL, amount=.1), float(not big or r.random() < .3), .3)
    elif k in ("paper", "sheet"):
        w, h = (210, 297) if k == "sheet" else (r.uniform(40, 160), r.uniform(40, 160))
        s.slab(x, y, turn, w, h, 0, 0, .15, texture(r, r.choice([0, 6, 6, 7]), grey(r, .7, .95, .06), grey(r, .03, .5), colour(r), .8), 0, .9, wear=.05)
    elif k == "book":
        s.slab(x, y, turn, r.uniform(90, 200), r.uniform(120, 260), r.choice([0, 2]), 0, r.uniform(4, 30), art(r), 0, .4)
    elif k == "board":
        holes = [(u, v, 2.2, 2, 0) for u in (-1, 1) for v in (-1, 1)] if r.random() < .7 else []
        w, h = r.uniform(30, 120), r.uniform(25, 90)
        holes = [(u * (w / 2 - 4), v * (h / 2 - 4), 1.9, 1.8, 0) for u, v, *_ in holes]
        s.slab(x, y, turn, w, h, r.choice([0, 0, 2, 3.2]), 0, 1.6, texture(r, 11, r.choice([(.02, .2, .08), (.02, .02, .03), (.03, .06, .3), (.4, .03, .03)]), grey(r, .02, .9), (.8, .8, .75), scale=r.uniform(.3, 1.5), angle=0), 0, .3, holes=holes)
    elif k == "ruler":
        s.slab(x, y, turn, r.uniform(150, 320), r.uniform(20, 40), 1, 0, r.uniform(.5, 3), texture(r, 12, r.choice([(.8, .8, .75), (.85, .7, .4), (.6, .61, .62)]), (.03, .03, .03), angle=0), float(r.random() < .3), .4)
    elif k == "box":
        s.slab(x, y, turn, r.uniform(30, 120), r.uniform(30, 120), r.uniform(0, 6), 0, r.uniform(8, 45), art(r), 0, .4)
    elif k == "phone":
        w, h, q = r.uniform(66, 80), r.uniform(138, 166), r.uniform(6, 14)
        s.slab(x, y, turn, w, h, q, 0, 8, texture(r, 0, r.choice([(.02, .02, .02), (.85, .85, .83), grey(r, .1, .7)])), float(r.random() < .3), .3)
        if r.random() < .7:
            m = r.uniform(1.5, 5)
            s.slab(x, y, turn, w - 2 * m, h - 2 * m, max(q - m, 1), 8, 8.05, texture(r, 0, grey(r, .01, .05)), 0, .12, wear=.05)
    elif k == "printed":
        printed(s, r, x, y, turn)
    elif k == "plate":  # another metal thing with holes, that is no hinge
        w, h = r.uniform(20, 60), r.uniform(60, 140)
        tex, m, q = finish(r)
        s.slab(x, y, turn, w, h, r.choice([0, 3, 10, w / 2]), 0, r.uniform(1, 4), tex, m, q, holes=[(0, v * h * .4, 3.5, 2.2, 0) for v in (-1, 1)])
    else:
        for d in (-8, 8):
            px, py = place(x, y, turn, d, 0)
            s.rod(px, py, turn + d * .01, r.uniform(4, 8), r.uniform(60, 110), 0, texture(r, 0, r.choice([colour(r), STEEL])), float(r.random() < .4), .4)


def printed(s, r, x, y, turn):
    """The reference card that one prints: it is found by its own marks and none of the net's cards."""
    white, w, h = grey(r, .8, .95, .03), 85.6, 53.98
    k = r.random()
    paper = (215.9, 279.4, 24.0) if k < .6 else (w + r.uniform(2, 40), h + r.uniform(2, 40), 0.0)
    px, py = place(x, y, turn, 0, -paper[2])
    s.slab(px, py, turn, paper[0], paper[1], 0, 0, .1, texture(r, 6 if k < .2 else 0, white, (.05, .05, .05), (.1, .1, .1), .3), 0, .9, wear=.02)
    s.slab(x, y, turn, w, h, 3.18, .1, .11, texture(r, 0, grey(r, .02, .1)), 0, .8, wear=.01)
    s.slab(x, y, turn, w - 8, h - 8, 0, .11, .12, texture(r, 0, white), 0, .9, wear=.01)
    u, v = place(x, y, turn, -18, 0)
    s.slab(u, v, turn, 30, 30, 0, .12, .13, texture(r, 11, white, (.03, .03, .03), (.03, .03, .03), scale=-.6, angle=0), 0, .9, wear=.01)
    for a in (5, 35):
        for b in (1, 15):
            u, v = place(x, y, turn, a, b)
            s.slab(u, v, turn, 6, 6, 3, .12, .13, texture(r, 0, (.03, .03, .03)), 0, .9, wear=.01)
    for i in range(6):
        u, v = place(x, y, turn, 4 + 5.5 * i, -18)
        s.slab(u, v, turn, 5.5, 6, 0, .12, .13, texture(r, 0, colour(r)), 0, .9, wear=.01)


def draw(seed):
    """The scene of a seed: its numbers, and its points as rows of kind, x, y in pixels of the picture (0, 0 the corner of the first)."""
    r = random.Random(seed)
    s = Scene()
    head = np.zeros(HEAD, np.float32)
    turn = r.uniform(0, 2 * math.pi)
    span = 60
    has_hinge, what = r.random() > .05, r.choices(["card", "other", "none", "printed"], [82, 9, 6, 3])[0]
    near = r.random() < .75
    if has_hinge:
        a, b = hinge(s, r, 0, 0, turn)
        span = math.hypot(a, b)
    taken = [(0, 0, span)] if has_hinge else []
    cx = cy = 0
    if what != "none":
        side = r.choice([0, 1, 2, 3])
        ct = turn + r.choice([0, math.pi / 2]) + (r.gauss(0, .06) if r.random() < .6 else r.uniform(-.8, .8))
        gap = r.uniform(3, 25) if near else r.uniform(3, 70)
        reach = (a if side % 2 == 0 else b) if has_hinge else 0
        d = reach + gap + (r.uniform(27, 43) if abs(math.cos(ct - turn)) < .9 else (43 if side % 2 == 0 else 27)) * 1.0
        ang = turn + side * math.pi / 2 + r.gauss(0, .15)
        cx, cy = d * math.cos(ang), d * math.sin(ang)
        if what == "printed":
            printed(s, r, cx, cy, ct)
            s.points.append((-1, cx, cy, 0))
        elif what == "card":
            cardlike(s, r, cx, cy, ct, 85.6, 53.98, 3.18, CARD, art(r) if r.random() < .9 else texture(r, 0, grey(r, .8, .97, .03)), t=r.choice([.76, .76, .76, .25]))
        else:
            w, h, q = r.choice([(88.9, 63.5, 3.5), (89, 51, 0), (90, 55, 0), (74, 105, 3), (57, 89, 3), (63.5, 63.5, 2), (105, 74, 0), (125, 88, 3)])
            cardlike(s, r, cx, cy, ct, w, h, q, OTHER, art(r, 10 if q else 9))
        taken.append((cx, cy, 52))
    subject = len(s.points)
    alone = has_hinge != (what != "none")  # a picture of one thing may be full of it
    for _ in range(r.choice([0, 0, 1, 2, 3, 4, 6, 9])):
        for _ in range(8):
            q, t = r.uniform(40, 260), r.uniform(0, 2 * math.pi)
            x, y = cx / 2 + q * math.cos(t), cy / 2 + q * math.sin(t)
            if all(math.hypot(x - i, y - j) > k * .8 + 20 for i, j, k in taken):
                if r.random() < .12:
                    w, h, c = r.choice([(88.9, 63.5, 3.5), (89, 51, 0), (85, 85, 3)])
                    cardlike(s, r, x, y, r.uniform(0, 6.3), w, h, c, OTHER, art(r, 10 if c else 9))
                else:
                    clutter(s, r, x, y, r.uniform(0, 2 * math.pi))
                break
    if what != "none" and r.random() < .06:  # something lies over the card's side
        t = ct + r.uniform(0, 6.3)
        x, y = place(cx, cy, t, r.uniform(38, 50), r.uniform(-20, 20))
        s.slab(x, y, r.uniform(0, 6), r.uniform(6, 20), r.uniform(6, 25), 3, 0, 4, art(r), float(r.random() < .4), .4)

    # the surface, its edge and what is beyond
    tex, rough, metal = surface(r)
    head[36:51], head[66], head[67] = tex, rough, metal
    tex, _, _ = surface(r)
    head[51:66], head[68] = tex, r.uniform(.05, 1)
    floor = -r.uniform(200, 900)
    if r.random() < .4:
        t = r.uniform(0, 2 * math.pi)
        nx, ny = math.cos(t), math.sin(t)
        reach = max([nx * x + ny * y + k for x, y, k in taken] + [30])
        head[30:34] = nx, ny, reach + abs(r.gauss(0, 60)) + 2, 1
        for _ in range(r.choice([0, 1, 2, 4])):  # things stand beyond, lower, out of focus
            q, a = reach + r.uniform(120, 700), r.gauss(0, 350)
            z = floor + r.uniform(20, 300)
            s.slab(q * nx - a * ny, q * ny + a * nx, r.uniform(0, 6.3), r.uniform(40, 400), r.uniform(40, 300), r.choice([0, 5]), floor, z, art(r) if r.random() < .5 else texture(r, r.choice([0, 1, 8]), colour(r), colour(r), amount=.6), 0, .6)
    head[34] = floor
    if taken and r.random() < .2:  # a sheet, a board, a mat under all of it
        big = (max(math.hypot(x, y) + k for x, y, k in taken)) * r.uniform(1.5, 3)
        tex, rough, _ = surface(r)
        s.slab(cx / 2 + r.gauss(0, 15), cy / 2 + r.gauss(0, 15), r.uniform(0, 6.3), big, big * r.uniform(.7, 1.2), r.choice([0, 0, 4]), -3, 0.0, tex, 0, rough, wear=.1)

    # the camera
    xs = [p[1:3] for p in s.points[:subject]] or [(0, 0), (80, 60)]
    mx, my = (np.min(xs, 0) + np.max(xs, 0)) / 2
    extent = max(np.ptp(np.array(xs), 0).max(), 60)
    tilt = math.radians(min(abs(r.gauss(0, 20)), 55))
    az = r.uniform(0, 2 * math.pi)
    focal = W * r.uniform(.68, 1.25)
    fill = r.uniform(.2, 1.15 if alone else .9)
    dist = focal * extent / (fill * W * r.uniform(.75, 1))
    look = np.array([mx + r.gauss(0, .12) * extent, my + r.gauss(0, .12) * extent, 0])
    d = np.array([math.sin(tilt) * math.cos(az), math.sin(tilt) * math.sin(az), math.cos(tilt)])
    eye = look + d * dist
    fwd = -d
    roll = r.uniform(0, 2 * math.pi)
    ref = np.array([math.cos(roll), math.sin(roll), 0])
    right = ref - fwd * (ref @ fwd)
    right /= np.linalg.norm(right)
    up = np.cross(right, fwd)
    head[0:12] = [*eye, *right, *up, *fwd]
    k1 = r.gauss(0, .03)
    head[12:18] = focal, W / 2 + r.gauss(0, 2), H / 2 + r.gauss(0, 2), abs(r.gauss(0, 1.2)), dist * (1 if r.random() < .8 else r.uniform(.75, 1.5)), k1
    # the light
    el, laz = math.radians(r.uniform(22, 88)), r.uniform(0, 2 * math.pi)
    head[18:21] = math.cos(el) * math.cos(laz), math.cos(el) * math.sin(laz), math.sin(el)
    head[21] = r.choice([.01, .05, .15, .4, .8])
    sun = r.uniform(.1, 1.6)
    warm = r.uniform(-.25, .25)
    head[22:25] = sun * (1 + warm), sun, sun * (1 - warm)
    amb, warm = r.uniform(.15, .9), r.uniform(-.2, .15)
    head[25:28] = amb * (1 + warm), amb, amb * (1 - warm)
    head[28], head[35] = r.randrange(1 << 20), r.uniform(.2, 1)
    t = r.uniform(0, 6.3)
    head[69:77] = mx + r.gauss(0, 90), my + r.gauss(0, 90), r.uniform(30, 90), r.uniform(60, 200), math.cos(t), math.sin(t), r.choice([0, 0, .3, .6, .85]), r.uniform(.05, .7)

    if r.random() < .12:  # a window's panes thrown on the table
        t = r.uniform(0, 6.3)
        head[77:81] = r.uniform(50, 200), r.uniform(.05, .4), math.cos(t), math.sin(t)
    objects = s.objects[:MAXOBJ]
    head[29] = len(objects)
    out = np.zeros(SIZE, np.float32)
    out[:HEAD] = head
    for i, o in enumerate(objects):
        out[HEAD + i * OBJ:HEAD + (i + 1) * OBJ] = o
    points = []
    for kind, x, y, z in s.points:
        p = np.array([x, y, z]) - eye
        depth = p @ fwd
        if depth < 1:
            continue
        u, v = (p @ right) / depth, -(p @ up) / depth
        for _ in range(3):  # distortion: through() maps the picture's u by 1 - k1 r²
            q = (p @ right) / depth, -(p @ up) / depth
            k = 1 - k1 * (u * u + v * v)
            u, v = q[0] / k, q[1] / k
        px, py = head[13] + focal * u, head[14] + focal * v
        if -6 < px < W + 6 and -6 < py < H + 6:
            points.append((kind, px, py))
    return out, points


def sheet(library, path, seed=1, n=24, spp=12):
    import ctypes
    import cv2
    lib = ctypes.CDLL(library)
    f = ctypes.POINTER(ctypes.c_float)
    tiles = []
    for k in range(n):
        sc, points = draw(seed + k)
        rgb, m = np.zeros((H, W, 3), np.float32), np.zeros((3, H // 2, W // 2), np.float32)
        lib.render(sc.ctypes.data_as(f), SIZE, W, H, spp, seed + k, rgb.ctypes.data_as(f), 1)
        lib.label(sc.ctypes.data_as(f), SIZE, W // 2, H // 2, m.ctypes.data_as(f), 1)
        rgb *= .55 / max(.02, np.percentile(rgb.mean(2), 80))
        im = (np.clip(rgb, 0, 1) ** (1 / 2.2) * 255).astype(np.uint8)[:, :, ::-1].copy()
        tint = cv2.resize(np.moveaxis(m, 0, 2), (W, H))
        im = np.clip(im * .85 + tint * [0, 60, 60] + tint[:, :, 1:2] * [60, 0, 0], 0, 255).astype(np.uint8)
        for kind, x, y in points:
            cv2.circle(im, (round(x), round(y)), 3, [(0, 0, 255), (255, 255, 0), (255, 0, 255), (0, 255, 0)][kind], 1)
        tiles.append(im)
    rows = [np.hstack(tiles[i:i + 4]) for i in range(0, n, 4)]
    cv2.imwrite(path, np.vstack(rows))


if __name__ == "__main__":
    sheet(sys.argv[1], sys.argv[2], int(sys.argv[3]) if len(sys.argv) > 3 else 1)
