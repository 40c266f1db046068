"""Builds and renders the scene that plan.py planned, in Blender (Cycles).

    blender -b -P scene.py -- FOLDER [samples] [scale]

reads FOLDER/spec.json and its pictures, writes FOLDER/render.exr (the part with hinge, card and things)
and FOLDER/half.exr (all, at half the resolution): linear, without lens distortion, a little wider than
the final picture. One unit is 1 mm.
"""
import json
import math
import sys

import bmesh
import bpy
import numpy as np
from mathutils import Matrix, Vector
from mathutils.geometry import tessellate_polygon

FOLDER, *rest = sys.argv[sys.argv.index("--") + 1:]
SAMPLES = int(rest[0]) if rest else 6
SCALE = float(rest[1]) if len(rest) > 1 else 1.0
spec = json.load(open(FOLDER + "/spec.json"))
S, T, D = spec["settings"], spec["truth"], spec["draw"]
H = T["hinge"]
rng = np.random.default_rng(spec["seed"] + 1)
HOLE_SIDES, ROUND_SIDES = 128, 160
SINK = math.tan(math.radians(41))  # an 82 degree countersink


# --- meshes ----------------------------------------------------------------------------------

class Mesh:
    def __init__(self):
        self.v, self.f, self.flat = [], [], set()

    def add(self, points):
        at = len(self.v)
        self.v += [tuple(p) for p in points]
        return list(range(at, at + len(points)))

    def strip(self, a, b):
        """Faces between two closed loops of the same length."""
        n = len(a)
        self.f += [(a[i], a[(i + 1) % n], b[(i + 1) % n], b[i]) for i in range(n)]

    def cap(self, loops):
        """The flat face within the first loop less the others."""
        flat = [i for loop in loops for i in loop]
        for tri in tessellate_polygon([[Vector(self.v[i]) for i in loop] for loop in loops]):
            self.flat.add(len(self.f))
            self.f.append(tuple(flat[k] for k in tri))

    def object(self, name, material, angle=35):
        m = bpy.data.meshes.new(name)
        m.from_pydata(self.v, [], self.f)
        m.polygons.foreach_set("use_smooth", [k not in self.flat for k in range(len(self.f))])
        m.update()
        b = bmesh.new()
        b.from_mesh(m)
        bmesh.ops.recalc_face_normals(b, faces=b.faces)
        b.to_mesh(m)
        b.free()
        m.use_auto_smooth, m.auto_smooth_angle = True, math.radians(angle)
        o = bpy.data.objects.new(name, m)
        bpy.context.collection.objects.link(o)
        o.data.materials.append(material)
        return o


def inset(poly, d):
    """A polygon moved inwards by d."""
    p = np.array(poly, float)
    x, y = p.T
    ccw = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0
    e = np.roll(p, -1, 0) - p
    e /= np.linalg.norm(e, axis=1)[:, None]
    n = np.stack([-e[:, 1], e[:, 0]], 1) * (1 if ccw else -1)
    m = n + np.roll(n, 1, 0)
    m /= (m * n).sum(1)[:, None]
    return p + d * m


def plate(mesh, outline, holes, thickness, bevel, place):
    """A plate with bevelled rim; holes are (x, y, through radius, radius at the face)."""
    def layer(poly, z):
        return mesh.add([place(x, y, z) for x, y in poly])

    steps = [math.radians(a) for a in (90, 60, 30, 0)]
    rim = [(bevel - bevel * math.cos(a), thickness - bevel + bevel * math.sin(a)) for a in steps]
    rim += [(i, thickness - z) for i, z in reversed(rim)]
    layers = [layer(inset(outline, i), z) for i, z in rim]
    for a, b in zip(layers, layers[1:]):
        mesh.strip(a, b)
    top, bottom = [layers[0]], [layers[-1]]
    for x, y, r, big in holes:
        circle = [(math.cos(2 * math.pi * k / HOLE_SIDES), math.sin(2 * math.pi * k / HOLE_SIDES)) for k in range(HOLE_SIDES)]
        deep = (big - r) / SINK
        loops = [layer([(x + rr * c, y + rr * s) for c, s in circle], z)
                 for rr, z in ((big, thickness), (r, thickness - deep), (r, 0))]
        for a, b in zip(loops, loops[1:]):
            mesh.strip(a, b)
        top.append(loops[0])
        bottom.append(loops[-1])
    mesh.cap(top)
    mesh.cap(bottom)


def lathe(mesh, profile, place, closed=True):
    """Turns (radius, along) points about an axis; place maps (across, up, along)."""
    loops = []
    for r, y in profile:
        loops.append(mesh.add([place(r * math.cos(2 * math.pi * k / ROUND_SIDES), r * math.sin(2 * math.pi * k / ROUND_SIDES), y) for k in range(ROUND_SIDES)]))
    pairs = list(zip(loops, loops[1:])) + ([(loops[-1], loops[0])] if closed else [])
    for a, b in pairs:
        mesh.strip(a, b)
    if not closed:
        mesh.cap([loops[0]])
        mesh.cap([loops[-1]])


def rounded(r0, r1, y0, y1, b):
    """Section of a ring with rounded outer edges."""
    arc = [math.radians(a) for a in (0, 30, 60, 90)]
    return ([(r0, y0)] + [(r1 - b + b * math.sin(a), y0 + b - b * math.cos(a)) for a in arc]
            + [(r1 - b + b * math.cos(a), y1 - b + b * math.sin(a)) for a in arc] + [(r0, y1)])


# --- materials -------------------------------------------------------------------------------

class Nodes:
    """Builds a material's nodes; calls return a node's output socket."""

    def __init__(self, name):
        self.material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.tree = self.material.node_tree
        self.tree.nodes.clear()
        self.out = self.tree.nodes.new("ShaderNodeOutputMaterial")
        self.coords = self.tree.nodes.new("ShaderNodeTexCoord")

    def put(self, kind, **inputs):
        n = self.tree.nodes.new(kind)
        for k, v in inputs.items():
            k = k.replace("_", " ")
            if isinstance(v, bpy.types.NodeSocket):
                self.tree.links.new(v, n.inputs[k])
            else:
                n.inputs[k].default_value = v
        return n

    def noise(self, scale, detail=3, rough=0.5, stretch=(1, 1, 1), shift=0.0, kind="Object"):
        m = self.put("ShaderNodeMapping", Vector=self.coords.outputs[kind], Scale=stretch, Location=(shift, shift * 0.7, shift * 1.3))
        return self.put("ShaderNodeTexNoise", Vector=m.outputs[0], Scale=scale, Detail=detail, Roughness=rough).outputs["Fac"]

    def ramp(self, fac, low, high, a=(0, 0, 0, 1), b=(1, 1, 1, 1)):
        n = self.put("ShaderNodeValToRGB", Fac=fac)
        n.color_ramp.elements[0].position, n.color_ramp.elements[1].position = low, high
        n.color_ramp.elements[0].color, n.color_ramp.elements[1].color = a, b
        return n.outputs["Color"]

    def mix(self, fac, a, b):
        n = self.tree.nodes.new("ShaderNodeMixRGB")
        for k, v in zip(("Fac", "Color1", "Color2"), (fac, a, b)):
            if isinstance(v, bpy.types.NodeSocket):
                self.tree.links.new(v, n.inputs[k])
            else:
                n.inputs[k].default_value = v
        return n.outputs[0]

    def bump(self, height, strength, distance):
        return self.put("ShaderNodeBump", Height=height, Strength=strength, Distance=distance).outputs[0]

    def finish(self, **inputs):
        b = self.put("ShaderNodeBsdfPrincipled", **inputs)
        self.tree.links.new(b.outputs[0], self.out.inputs[0])
        return self.material


def rgb(*c):
    return (*c, 1.0)


FINISH = {  # colour, metallic, roughness
    "satin nickel": (rgb(0.56, 0.52, 0.46), 1, 0.36), "polished brass": (rgb(0.86, 0.62, 0.25), 1, 0.13),
    "satin brass": (rgb(0.72, 0.55, 0.27), 1, 0.33), "painted white": (rgb(0.78, 0.78, 0.75), 0, 0.35),
    "black": (rgb(0.018, 0.018, 0.02), 0, 0.42), "dark bronze": (rgb(0.075, 0.055, 0.042), 0.6, 0.42),
    "brushed steel": (rgb(0.55, 0.55, 0.56), 1, 0.28), "galvanized": (rgb(0.62, 0.64, 0.66), 1, 0.42),
    "prime coat": (rgb(0.33, 0.33, 0.32), 0, 0.6), "antique copper": (rgb(0.36, 0.16, 0.085), 1, 0.38),
    "rusty": (rgb(0.23, 0.2, 0.18), 0.8, 0.55), "painted green": (rgb(0.1, 0.2, 0.15), 0, 0.3),
}


def dull(roughness, least):
    """In calm light nothing is so polished as to mirror it."""
    return max(roughness, least) if S["light"] == "calm" else roughness


def finish_material():
    kind, wear = H["finish"], H["wear"]
    n = Nodes("finish")
    base, metallic, rough = FINISH[kind]
    rough = dull(rough, 0.42)
    shift = float(rng.uniform(0, 500))
    colour = n.mix(n.ramp(n.noise(0.05, 4, 0.6, shift=shift), 0.35, 0.7), base, rgb(*[c * 0.82 for c in base[:3]]))
    bump = n.noise(3, 2, 0.5, shift=shift)
    strength, distance = 0.05, 0.05
    if kind == "brushed steel":
        bump = n.noise(0.8, 4, 0.7, (14, 0.15, 14), shift)
        strength, distance = 0.12, 0.06
    if kind == "galvanized":
        m = n.put("ShaderNodeMapping", Vector=n.coords.outputs["Object"], Location=(shift, shift, shift))
        v = n.put("ShaderNodeTexVoronoi", Vector=m.outputs[0], Scale=0.22)
        colour = n.mix(n.ramp(v.outputs["Color"], 0.2, 0.8), base, rgb(0.4, 0.42, 0.45))
    if kind.startswith("painted"):
        bump, strength, distance = n.noise(0.5, 2, 0.5, shift=shift), 0.12, 0.15
    metal = n.put("ShaderNodeValue").outputs[0]
    metal.default_value = metallic
    roughness = n.mix(n.ramp(n.noise(0.12, 5, 0.6, shift=shift + 9), 0.3, 0.75), rgb(rough, rough, rough), rgb(*[min(1, rough + 0.14)] * 3))
    rust = {0: 0, 0.1: 0.1, 0.3: 0.3}.get(wear, wear)
    if kind == "rusty":
        rust = max(rust, 0.6)
    if rust:
        edge = 0.68 - 0.28 * rust
        mask = n.ramp(n.noise(0.17, 6, 0.62, shift=shift + 40), edge, edge + 0.06)
        rusty = n.mix(n.noise(0.6, 4, 0.7, shift=shift + 3), rgb(0.09, 0.03, 0.012), rgb(0.33, 0.12, 0.04))
        if kind.startswith("painted") or kind in ("black", "prime coat"):
            rusty = n.mix(n.ramp(n.noise(0.3, 3, 0.5, shift=shift + 70), 0.45, 0.55), rusty, rgb(0.3, 0.28, 0.26))
        colour = n.mix(mask, colour, rusty)
        roughness = n.mix(mask, roughness, rgb(0.85, 0.85, 0.85))
        metal = n.mix(mask, metal, rgb(0, 0, 0))
        if kind == "rusty":
            strength, distance = 0.35, 0.12
    return n.finish(Base_Color=colour, Metallic=metal, Roughness=roughness, Normal=n.bump(bump, strength, distance))


def plain(name, colour, metallic=0.0, rough=0.5):
    return Nodes(name).finish(Base_Color=colour, Metallic=metallic, Roughness=rough)


def image(n, path, vector, interpolation="Cubic"):
    t = n.tree.nodes.new("ShaderNodeTexImage")
    t.image, t.interpolation = bpy.data.images.load(path), interpolation
    n.tree.links.new(vector, t.inputs[0])
    return t.outputs["Color"]


def surface_material():
    kind = S["surface"]
    n = Nodes("surface")
    shift = float(rng.uniform(0, 400))
    if kind in ("cutting mat", "newspaper", "graph paper", "gingham", "tiles"):
        m = n.put("ShaderNodeMapping", Vector=n.coords.outputs["Object"], Scale=(1 / 400, 1 / 400, 1), Location=(0.3, 0.2, 0))
        c = image(n, FOLDER + "/surface.png", m.outputs[0])
        rough = {"tiles": 0.18, "cutting mat": 0.5}.get(kind, 0.8)
        return n.finish(Base_Color=c, Roughness=rough, Normal=n.bump(n.noise(0.06 if kind == "newspaper" else 1.5, 3, shift=shift), 0.25, 0.4 if kind == "newspaper" else 0.1))
    if kind.endswith("wood"):
        a, b = {"light wood": (rgb(0.46, 0.3, 0.16), rgb(0.62, 0.44, 0.26)), "dark wood": (rgb(0.06, 0.035, 0.02), rgb(0.13, 0.075, 0.045)),
                "red wood": (rgb(0.2, 0.06, 0.03), rgb(0.34, 0.12, 0.06))}[kind]
        grain = n.noise(0.06, 8, 0.65, (14, 0.5, 1), shift)
        wide = n.noise(0.02, 3, 0.5, (3, 0.25, 1), shift)
        c = n.mix(n.ramp(grain, 0.35, 0.65), a, n.mix(wide, b, a))
        return n.finish(Base_Color=c, Roughness=dull(float(rng.choice([0.25, 0.45, 0.65])), 0.8), Normal=n.bump(grain, 0.15, 0.3))
    if kind == "granite":
        v = n.put("ShaderNodeTexVoronoi", Vector=n.coords.outputs["Object"], Scale=0.5)
        c = n.mix(n.ramp(n.noise(0.35, 6, 0.8, shift=shift), 0.42, 0.58), rgb(0.08, 0.08, 0.085), n.mix(v.outputs["Color"], rgb(0.5, 0.48, 0.46), rgb(0.32, 0.28, 0.27)))
        return n.finish(Base_Color=c, Roughness=dull(0.15, 0.7))
    if kind == "marble":
        warp = n.noise(0.012, 6, 0.6, shift=shift)
        vein = n.noise(0.02, 9, 0.7, (1, 2.2, 1), shift + 30)
        c = n.mix(n.ramp(n.mix(0.5, warp, vein), 0.44, 0.52), rgb(0.36, 0.37, 0.4), rgb(0.74, 0.74, 0.72))
        return n.finish(Base_Color=c, Roughness=dull(0.12, 0.7))
    if kind in ("blue cloth", "linen"):
        a, b = {"blue cloth": (rgb(0.035, 0.06, 0.16), rgb(0.06, 0.1, 0.24)), "linen": (rgb(0.48, 0.43, 0.34), rgb(0.62, 0.57, 0.47))}[kind]
        weave = []
        for axis in "XY":
            w = n.put("ShaderNodeTexWave", Vector=n.coords.outputs["Object"], Scale=0.32, Distortion=1.6, Detail=2, Detail_Scale=0.4)
            w.bands_direction = axis
            weave.append(w.outputs["Fac"])
        h = n.mix(0.5, weave[0], weave[1])
        c = n.mix(n.mix(0.5, h, n.noise(0.5, 4, 0.7, shift=shift)), a, b)
        return n.finish(Base_Color=c, Roughness=0.9, Sheen=0.3, Normal=n.bump(h, 0.6, 0.25))
    if kind == "concrete":
        g = n.noise(0.03, 8, 0.7, shift=shift)
        pits = n.ramp(n.noise(0.5, 3, 0.5, shift=shift), 0.28, 0.36)
        c = n.mix(pits, rgb(0.16, 0.155, 0.15), n.mix(g, rgb(0.26, 0.26, 0.25), rgb(0.42, 0.41, 0.39)))
        return n.finish(Base_Color=c, Roughness=0.85, Normal=n.bump(n.mix(0.5, pits, g), 0.3, 0.4))
    if kind == "cork":
        m = n.put("ShaderNodeMapping", Vector=n.coords.outputs["Object"], Location=(shift, 0, 0))
        v = n.put("ShaderNodeTexVoronoi", Vector=m.outputs[0], Scale=0.45)
        c = n.mix(n.ramp(n.noise(0.4, 6, 0.7, shift=shift), 0.4, 0.62), rgb(0.22, 0.11, 0.05), n.mix(v.outputs["Color"], rgb(0.5, 0.31, 0.16), rgb(0.42, 0.25, 0.13)))
        return n.finish(Base_Color=c, Roughness=0.9, Normal=n.bump(v.outputs["Distance"], 0.4, 0.3))
    if kind == "steel bench":
        s = n.noise(0.5, 5, 0.7, (20, 0.1, 1), shift)
        c = n.mix(n.ramp(n.noise(0.02, 5, 0.6, shift=shift), 0.3, 0.7), rgb(0.42, 0.42, 0.43), rgb(0.3, 0.29, 0.28))
        return n.finish(Base_Color=c, Metallic=0.9, Roughness=0.42, Normal=n.bump(s, 0.15, 0.06))
    if kind == "black slate":
        g = n.noise(0.05, 9, 0.75, shift=shift)
        return n.finish(Base_Color=n.mix(g, rgb(0.018, 0.02, 0.022), rgb(0.05, 0.052, 0.055)), Roughness=0.5, Normal=n.bump(g, 0.5, 0.8))
    tint = {"paper": 0.72, "dark grey": 0.09}.get(kind, 0.6) * rng.uniform(0.75, 1.1)
    warm = rng.uniform(0.92, 1.04)
    return n.finish(Base_Color=rgb(tint * warm, tint, tint * (2 - warm) * 0.97), Roughness=0.85, Normal=n.bump(n.noise(1.2, 4, 0.6, shift=shift), 0.1, 0.1))


# --- things ----------------------------------------------------------------------------------

def build_hinge():
    t = math.radians(T["tilt_deg"])
    c, s = math.cos(t), math.sin(t)
    height, thickness, a = H["height"], H["thickness"], H["open_width"] / 2
    r, foot = H["barrel_diameter"] / 2, D["foot"]
    turn = Matrix.Translation(Vector(spec["hinge_away"])) @ Matrix.Rotation(math.radians(spec["hinge_turn"]), 4, "Z")
    metal = finish_material()
    dark = plain("bearing", rgb(0.05, 0.048, 0.045) if D["ring_dark"] else rgb(0.45, 0.44, 0.43), 1.0, 0.35)
    bore = H["pin_diameter"] / 2 + 0.08
    parts = []

    def keep(o):
        o.matrix_world = turn
        parts.append(o)

    for side in range(H["leaves"]):
        sign = 1 if side == 0 else -1

        def leaf(e, y, z, sign=sign):
            return (sign * (-foot + e * c - z * s), y - height / 2, e * s + z * c)

        data = H["left" if side == 0 else "right"]
        own = [span for k, span in enumerate(D["spans"]) if k % 2 == (side + D["first"]) % 2]
        deep, notch = a - (bore + 0.3), a - r - D["clearance"]
        radius = data["radius"]
        line = []
        for cx, cy, start in ((radius, radius, 270), (radius, height - radius, 180)):
            if radius == 0:
                line.append((cx, cy))
                continue
            steps = 48
            for k in range(steps + 1):
                w = math.radians(start - 90 * k / steps)
                line.append((cx + radius * math.cos(w), cy + radius * math.sin(w)))
        # Inner side, from the far end back to end 0.
        inner = []
        for y0, y1 in reversed(own):
            inner += [(notch, y1 - 0.03), (deep, y1 - 0.03), (deep, y0 + 0.03), (notch, y0 + 0.03)]
        if own[-1][1] > height - 0.01:
            inner = [(deep, height)] + inner[2:]
        else:
            inner = [(notch, height)] + inner
        if own[0][0] < 0.01:
            inner = inner[:-2] + [(deep, 0.0)]
        else:
            inner.append((notch, 0.0))
        mesh = Mesh()
        plate(mesh, line + inner, [(x, y, H["hole_diameter"] / 2, H["countersink_diameter"] / 2) for x, y in data["holes"]],
              thickness, D["bevel"], leaf)
        for y0, y1 in own:
            lathe(mesh, rounded(bore, r, y0, y1, D["round"]), lambda x, z, y: (x, y - height / 2, r + z))
        keep(mesh.object("leaf", metal))

    def turned(profile, material, closed=False):
        mesh = Mesh()
        lathe(mesh, profile, lambda x, z, y: (x, y - height / 2, r + z), closed)
        keep(mesh.object("turned", material))

    if H["leaves"] == 2:
        pin = H["pin_diameter"] / 2
        turned([(pin - 0.4, 0.15), (pin, 0.5), (pin, height - 0.5), (pin - 0.4, height - 0.15)], metal)
        if H["bearing"] == "ball":
            for (_, y0), (y1, _) in zip(D["spans"], D["spans"][1:]):
                if y1 - y0 > 1:
                    q = D["ring_radius"]
                    turned(rounded(bore, q, y0 + 0.08, y1 - 0.08, 0.2), dark, closed=True)
        if H["tips"]:
            q, long = D["tip_radius"], D["tip_length"]
            dome = [(q * math.cos(w), long * 0.35 + long * 0.65 * math.sin(w)) for w in np.radians([0, 15, 30, 45, 60, 75, 86])]
            for flip in (False, True):
                p = [(q - 0.2, 0.0), (q, 0.2)] + dome
                turned([(x, height + y if not flip else -y) for x, y in p], metal)
    return parts


def round_rect(w, h, r, n=24):
    if r == 0:
        return [(0, 0), (w, 0), (w, h), (0, h)]
    out = []
    for cx, cy, start in ((r, r, 180), (w - r, r, 270), (w - r, h - r, 0), (r, h - r, 90)):
        out += [(cx + r * math.cos(math.radians(start + 90 * k / n)), cy + r * math.sin(math.radians(start + 90 * k / n))) for k in range(n + 1)]
    return out


def build_card():
    card = T["card"]
    mesh = Mesh()
    plate(mesh, round_rect(card["width"], card["height"], card["radius"]), [], card["thickness"], 0.06 if card["thickness"] > 0.5 else 0.02, lambda x, y, z: (x, y, z))
    n = Nodes("card")
    m = n.put("ShaderNodeMapping", Vector=n.coords.outputs["Object"], Scale=(1 / card["width"], 1 / card["height"], 1))
    c = image(n, FOLDER + "/card.png", m.outputs[0])
    # The art is on the face only where the core is white, else on the walls too.
    z = n.put("ShaderNodeSeparateXYZ", Vector=n.coords.outputs["Object"]).outputs["Z"]
    face = n.put("ShaderNodeMath")
    face.operation = "GREATER_THAN"
    n.tree.links.new(z, face.inputs[0])
    face.inputs[1].default_value = card["thickness"] - 0.07
    if S["core"] == "white":
        c = n.mix(face.outputs[0], rgb(0.75, 0.75, 0.74), c)
    o = mesh.object("card", n.finish(Base_Color=c, Roughness=dull(float(rng.uniform(0.22, 0.55)), 0.6), Specular=0.4))
    centre = Matrix.Translation((-card["width"] / 2, -card["height"] / 2, 0))
    o.matrix_world = Matrix.Translation((*spec["card_at"], 0)) @ Matrix.Rotation(math.radians(spec["card_turn"]), 4, "Z") @ centre


def build_thing(thing):
    kind, (w, h) = thing["kind"], thing["size"]
    paint = plain(kind, rgb(*[c ** 2.2 for c in thing["colour"]]), 0, 0.35)
    steel = plain("steel", rgb(0.5, 0.5, 0.5), 1, 0.3)
    objects = []

    def lie(profile, material, radius, sides=ROUND_SIDES):
        mesh = Mesh()
        loops = []
        for r, y in profile:
            loops.append(mesh.add([(r * math.cos(2 * math.pi * k / sides), y - h / 2, radius + r * math.sin(2 * math.pi * k / sides)) for k in range(sides)]))
        for a, b in zip(loops, loops[1:]):
            mesh.strip(a, b)
        mesh.cap([loops[0]])
        mesh.cap([loops[-1]])
        objects.append(mesh.object(kind, material))

    if kind in ("disc", "washer", "cup"):
        mesh = Mesh()
        if kind == "disc":
            lathe(mesh, [(0.01, 0), (w / 2, 0), (w / 2, 1.7), (w / 2 - 0.3, 1.9), (w / 2 - 1.2, 1.9), (w / 2 - 1.5, 1.6), (0.01, 1.6)], lambda x, y, z: (x, y, z))
        elif kind == "washer":
            lathe(mesh, [(4, 0), (w / 2, 0), (w / 2, 1.5), (4, 1.5)], lambda x, y, z: (x, y, z))
        else:
            lathe(mesh, [(0.01, 0), (w / 2 - 8, 0), (w / 2, 85), (w / 2 - 3, 85), (w / 2 - 11, 4), (0.01, 4)], lambda x, y, z: (x, y, z))
        tone = rgb(0.6, 0.42, 0.25) if kind == "disc" and rng.random() < 0.5 else rgb(0.55, 0.55, 0.55)
        objects.append(mesh.object(kind, plain(kind, tone, 1, 0.3) if kind != "cup" else paint))
    elif kind == "pencil":
        lie([(w / 2, 0), (w / 2, h - 20)], paint, w / 2 * 0.87, 6)
        lie([(w / 2, h - 20), (1.2, h - 5)], plain("bare", rgb(0.6, 0.4, 0.2), 0, 0.7), w / 2 * 0.87)
        lie([(1.2, h - 5), (0.2, h)], plain("lead", rgb(0.03, 0.03, 0.03), 0, 0.4), w / 2 * 0.87)
    elif kind in ("screw", "nail"):
        head, shank = (w / 2, 2.3) if kind == "screw" else (w / 2, 1.5)
        p = [(head, 0), (head, 0.5), (shank, 3.2)] if kind == "screw" else [(head, 0), (head, 1.2), (shank, 1.4)]
        if kind == "screw":
            y = 10.0
            while y < h - 5:
                p += [(shank, y), (shank * 0.75, y + 0.7), (shank, y + 1.4)]
                y += 1.6
        p += [(shank, h - 5), (0.1, h)]
        lie(p, steel, head * 0.75)
    elif kind == "screwdriver":
        lie([(4, 0), (w / 2 - 2, 3), (w / 2, 12), (w / 2 - 3, 45), (w / 2, 75), (w / 2 - 6, 90)], paint, w / 2)
        lie([(3, 88), (3, h - 12), (3.4, h - 3), (2.6, h)], steel, w / 2)
    elif kind == "key":
        mesh = Mesh()
        bow = [(w / 2 * math.cos(q), w / 2 * math.sin(q)) for q in np.linspace(math.radians(60), math.radians(480 - 180), 40)]
        blade = [(w / 2 * 0.5, -40), (1, -44), (-3, -40), (-4, -34), (-3, -30), (-5, -25), (-4, -18)]
        plate(mesh, [(x, y + 20) for x, y in list(bow)[:32] + [(-4, -12), (-4, -18), (-5, -25), (-3, -30), (-4, -34), (-3, -40), (1, -44), (4, -40), (4, -11)]],
              [(0, 25, 3, 3.2)], 2.1, 0.2, lambda x, y, z: (x, y, z))
        objects.append(mesh.object(kind, plain("key", rgb(0.7, 0.55, 0.3), 1, 0.3)))
    else:  # a piece of paper
        mesh = Mesh()
        tall = 0.12
        plate(mesh, [(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)], [], tall, 0.02, lambda x, y, z: (x, y, z))
        tone = {"note": rgb(0.8, 0.66, 0.2), "receipt": rgb(0.78, 0.78, 0.76), "strip": rgb(0.6, 0.5, 0.35)}[kind]
        objects.append(mesh.object(kind, plain(kind, tone, 0, 0.8)))
    for o in objects:
        o.matrix_world = Matrix.Translation((*thing["at"], 0.02)) @ Matrix.Rotation(math.radians(thing["turn"]), 4, "Z")


def build_table():
    mesh = Mesh()
    q = 900
    mesh.f.append(tuple(mesh.add([(-q, -q, 0), (q, -q, 0), (q, q, 0), (-q, q, 0)])))
    o = mesh.object("table", surface_material())
    o.matrix_world = Matrix.Translation((*spec["surface_shift"], -0.11 if spec["sheet"] else 0)) @ Matrix.Rotation(math.radians(spec["surface_turn"]), 4, "Z")
    if spec["sheet"]:
        mesh = Mesh()
        w, h = spec["sheet"]["size"]
        plate(mesh, [(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)], [], 0.1, 0.02, lambda x, y, z: (x, y, z))
        n = Nodes("sheet")
        o = mesh.object("sheet", n.finish(Base_Color=rgb(0.74, 0.75, 0.74), Roughness=0.85, Normal=n.bump(n.noise(1.2, 4), 0.1, 0.1)))
        o.matrix_world = Matrix.Translation((*spec["sheet"]["at"], -0.1)) @ Matrix.Rotation(math.radians(spec["sheet"]["turn"]), 4, "Z")


def light():
    w = bpy.data.worlds.new("world")
    bpy.context.scene.world = w
    w.use_nodes = True
    w.node_tree.nodes["Background"].inputs[0].default_value = rgb(*spec["world"])
    w.cycles.sampling_method = "NONE"
    far = 2500
    for p in spec["panels"]:
        low, high, half = (math.radians(v) for v in (p["low"], p["high"], p["wide"] / 2))
        middle = (low + high) / 2
        a = math.radians(p["azimuth"])
        at = Vector((math.cos(middle) * math.cos(a), math.cos(middle) * math.sin(a), math.sin(middle))) * far
        wide, tall = 2 * far * math.cos(middle) * math.tan(half), 2 * far * math.tan((high - low) / 2)
        if p["level"] > 0.7:  # bright enough to be a lamp
            data = bpy.data.lights.new("panel", "AREA")
            data.shape, data.size, data.size_y = "RECTANGLE", wide, tall
            data.energy = p["level"] * math.pi * wide * tall
            data.color = p["colour"]
            o = bpy.data.objects.new("panel", data)
            bpy.context.collection.objects.link(o)
        else:
            n = Nodes("panel")
            e = n.put("ShaderNodeEmission", Color=rgb(*p["colour"]), Strength=p["level"])
            n.tree.links.new(e.outputs[0], n.out.inputs[0])
            n.material.cycles.sample_as_light = False
            mesh = Mesh()
            mesh.f.append(tuple(mesh.add([(-wide / 2, -tall / 2, 0), (wide / 2, -tall / 2, 0), (wide / 2, tall / 2, 0), (-wide / 2, tall / 2, 0)])))
            o = mesh.object("panel", n.material)
            o.visible_shadow = False
        o.matrix_world = Matrix.Translation(at) @ at.to_track_quat("Z", "Y").to_matrix().to_4x4()
    for lamp in spec["lamps"]:
        if lamp["kind"] == "area":
            data = bpy.data.lights.new("lamp", "AREA")
            at = Vector(lamp["at"])
            data.shape, data.size = "DISK", lamp["size"]
            data.energy = lamp["irradiance"] * math.pi * at.length_squared
        else:
            data = bpy.data.lights.new("sun", "SUN")
            a, e = math.radians(lamp["azimuth"]), math.radians(lamp["elevation"])
            at = Vector((math.cos(e) * math.cos(a), math.cos(e) * math.sin(a), math.sin(e))) * 3000
            data.angle, data.energy = math.radians(0.53), lamp["irradiance"]
        data.color = lamp["colour"]
        o = bpy.data.objects.new("lamp", data)
        bpy.context.collection.objects.link(o)
        o.location = at
        o.rotation_euler = at.to_track_quat("Z", "Y").to_euler()


def camera():
    c, axes = T["camera"], spec["axes"]
    data = bpy.data.cameras.new("camera")
    data.sensor_fit, data.sensor_width = "HORIZONTAL", 36
    data.lens = 36 * c["focal_px"] / c["render_width"]
    data.clip_start, data.clip_end = 1, 1e5
    o = bpy.data.objects.new("camera", data)
    bpy.context.collection.objects.link(o)
    m = Matrix.Identity(4)
    for i, axis in enumerate((axes["right"], axes["up"], [-v for v in axes["forward"]], c["eye"])):
        for k in range(3):
            m[k][i] = axis[k]
    o.matrix_world = m
    scene = bpy.context.scene
    scene.camera = o
    if c["render_width"] % 2 or c["render_height"] % 2:
        raise SystemExit("scene: odd render size")
    # The phone itself, which metal mirrors.
    mesh = Mesh()
    plate(mesh, round_rect(75, 155, 9), [], 8, 0.5, lambda x, y, z: (x - 37, y - 140, z))
    phone = mesh.object("phone", plain("phone", rgb(0.02, 0.02, 0.02), 0, 0.3))
    phone.matrix_world = m @ Matrix.Translation((0, 0, 4))


def main():
    scene = bpy.context.scene
    for o in list(bpy.data.objects):
        bpy.data.objects.remove(o)
    build_table()
    if not S["no_hinge"]:
        build_hinge()
    if not S["no_card"]:
        build_card()
    for thing in spec["things"]:
        build_thing(thing)
    light()
    camera()
    r, c = scene.render, scene.cycles
    r.engine = "CYCLES"
    r.resolution_x, r.resolution_y, r.resolution_percentage = T["camera"]["render_width"], T["camera"]["render_height"], int(100 * SCALE)
    c.samples, c.use_adaptive_sampling, c.adaptive_threshold, c.adaptive_min_samples = SAMPLES, False, 0.05, 4
    c.use_denoising = False
    c.max_bounces, c.diffuse_bounces, c.glossy_bounces, c.transmission_bounces = 1, 1, 1, 0
    c.sample_clamp_indirect, c.sample_clamp_direct, c.blur_glossy = 4, 60, 0.5
    c.caustics_reflective = c.caustics_refractive = False
    c.pixel_filter_type, c.filter_width = "BLACKMAN_HARRIS", 1.2
    c.debug_use_spatial_splits = True
    r.threads_mode, r.threads = "FIXED", 2
    r.image_settings.file_format, r.image_settings.color_mode, r.image_settings.color_depth = "OPEN_EXR", "RGB", "32"
    # All of it at half the resolution, then what matters in full.
    r.resolution_percentage = int(50 * SCALE)
    r.filepath = FOLDER + "/half.exr"
    bpy.ops.render.render(write_still=True)
    x0, y0, x1, y1 = spec["focus"]
    wide, high = r.resolution_x, r.resolution_y
    r.use_border, r.border_min_x, r.border_max_x, r.border_min_y, r.border_max_y = True, x0 / wide, x1 / wide, 1 - y1 / high, 1 - y0 / high
    r.resolution_percentage = int(100 * SCALE)
    r.filepath = FOLDER + "/render.exr"
    bpy.ops.render.render(write_still=True)


main()
