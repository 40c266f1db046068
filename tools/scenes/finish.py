"""Makes a phone's photo of a render: lens distortion, light fall-off, colour cast, blur, noise, tone, sharpening,
JPEG with or without EXIF.

    python3 finish.py FOLDER ID OUT

reads FOLDER/spec.json and the renders, writes OUT/ID.jpg and OUT/ID.json (the truth).
"""
import json
import math
import os
import struct
import sys

os.environ.setdefault("OPENCV_IO_ENABLE_OPENEXR", "1")
import cv2
import numpy as np


def distort(img, cam, focal):
    """The picture as the lens draws it: r_d = r (1 + k1 r²), r in focal lengths."""
    w, h, k1 = cam["width"], cam["height"], cam["k1"]
    x = ((np.arange(w) + 0.5 - w / 2) / focal)[None, :]
    y = ((np.arange(h) + 0.5 - h / 2) / focal)[:, None]
    rd = np.sqrt(x * x + y * y)
    r = rd.copy()
    for _ in range(8):
        r = rd / (1 + k1 * r * r)
    scale = r / np.maximum(rd, 1e-9) * focal
    mx = (x * scale + img.shape[1] / 2 - 0.5).astype(np.float32)
    my = (y * scale + img.shape[0] / 2 - 0.5).astype(np.float32)
    if mx.min() < 0 or my.min() < 0 or mx.max() > img.shape[1] - 1 or my.max() > img.shape[0] - 1:
        raise SystemExit("finish: the render is too narrow for this distortion")
    return cv2.remap(img, mx, my, cv2.INTER_CUBIC), rd


def exif(kind, orientation, focal35, size, big):
    """An APP1 segment: TIFF header, IFD0 with maker, model, orientation, and an Exif IFD."""
    e = ">" if big else "<"
    ascii_, short, long, rational = 2, 3, 4, 5

    def ifd(tags, at):
        body, extra = b"", b""
        tail = at + 2 + 12 * len(tags) + 4
        for tag, typ, value in sorted(tags):
            raw = {ascii_: lambda: value.encode() + b"\0", short: lambda: struct.pack(e + "H", value), long: lambda: struct.pack(e + "I", value),
                   rational: lambda: struct.pack(e + "II", *value)}[typ]()
            count = len(raw) if typ == ascii_ else 1
            if len(raw) <= 4:
                field = raw.ljust(4, b"\0")
            else:
                field = struct.pack(e + "I", tail + len(extra))
                extra += raw + b"\0" * (len(raw) % 2)
            body += struct.pack(e + "HHI", tag, typ, count) + field
        return struct.pack(e + "H", len(tags)) + body + struct.pack(e + "I", 0) + extra

    real = round(focal35 / 7.2, 2)
    sub = [(0x829A, rational, (1, 100)), (0x920A, rational, (int(real * 100), 100)), (0xA002, long, size[0]), (0xA003, long, size[1])]
    if kind == "full":
        sub.append((0xA405, short, int(focal35)))
    main = [(0x010F, ascii_, "Example"), (0x0110, ascii_, "Phone"), (0x0112, short, orientation), (0x8769, long, 0)]
    at = 8 + len(ifd(main, 8))
    main[-1] = (0x8769, long, at)
    tiff = (b"MM" if big else b"II") + struct.pack(e + "HI", 42, 8) + ifd(main, 8) + ifd(sub, at)
    data = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(data) + 2) + data


def main(folder, name, out):
    spec = json.load(open(folder + "/spec.json"))
    s, t = spec["settings"], spec["truth"]
    rng = np.random.default_rng(spec["seed"] + 2)
    img = cv2.imread(folder + "/render.exr", cv2.IMREAD_UNCHANGED)[..., :3].astype(np.float32)
    cam = t["camera"]
    half = cv2.imread(folder + "/half.exr", cv2.IMREAD_UNCHANGED)[..., :3].astype(np.float32)
    half = cv2.bilateralFilter(half, 5, 0.15 * float(np.median(half)), 1.5)
    half = cv2.resize(half, (img.shape[1], img.shape[0]), interpolation=cv2.INTER_CUBIC)
    x0, y0, x1, y1 = spec["focus"]
    w, h, rim = img.shape[1], img.shape[0], 24
    mask = np.zeros((h, w), np.float32)
    mask[y0 + 3:y1 - 3, x0 + 3:x1 - 3] = 1
    inner = np.pad(mask, rim, mode="edge")  # at the picture's rim there is nothing to fade into
    inner = cv2.erode(inner, np.ones((rim, rim)), borderValue=1.0)
    mask = np.minimum(mask, cv2.blur(inner, (rim, rim))[rim:-rim, rim:-rim])[..., None]
    img = img * mask + half * (1 - mask)
    # Fireflies: nothing may be far brighter than all round it.
    med = cv2.medianBlur(np.minimum(img, 50), 3)
    img = np.where((img > med * 3 + 0.5).any(2, keepdims=True), med, img)
    img, r = distort(np.ascontiguousarray(img), cam, cam["focal_px"])
    img = np.maximum(img, 0)
    img *= (1 - rng.uniform(0.05, 0.28) * (r / r.max()) ** 2)[..., None].astype(np.float32)
    lum = img.mean(2)
    img *= min(0.32 / lum.mean(), 0.72 / np.percentile(lum, 98)) * rng.uniform(0.85, 1.15)
    # White balance that is nearly right.
    mean = img.reshape(-1, 3).mean(0)
    img *= ((mean.mean() / mean) ** rng.uniform(0.2, 0.6)).astype(np.float32) * np.float32(rng.normal(1, 0.025, 3))
    if s["defocus"]:
        n = int(s["defocus"]) | 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (n, n)).astype(np.float32)
        img = cv2.filter2D(img, -1, disc / disc.sum())
    if s["motion"]:
        n = int(s["motion"]) | 1
        k = np.zeros((n, n), np.float32)
        a, h = rng.uniform(0, math.pi), n / 2
        cv2.line(k, (int(h - h * 0.9 * math.cos(a)), int(h - h * 0.9 * math.sin(a))), (int(h + h * 0.9 * math.cos(a)), int(h + h * 0.9 * math.sin(a))), 1, 2)
        img = cv2.filter2D(img, -1, k / k.sum())
    img = cv2.GaussianBlur(img, (0, 0), s["blur_px"])
    # Sensor noise: shot and read, in linear light; then what a phone smooths away of it.
    noise = rng.standard_normal(img.shape, np.float32)
    img = img + noise * np.sqrt((s["noise"] * 1.6) ** 2 * np.clip(img, 0, 1) + (s["noise"] * 0.25) ** 2).astype(np.float32)
    img = np.clip(img, 0, None)
    img = np.where(img > 0.7, 0.7 + 0.3 * (1 - np.exp(-(img - 0.7) / 0.3)), img)  # highlights roll off
    img = np.where(img <= 0.0031308, img * 12.92, 1.055 * np.power(np.maximum(img, 1e-6), 1 / 2.4) - 0.055)
    contrast = rng.uniform(0.0, 0.5)
    img = (1 - contrast) * img + contrast * img * img * (3 - 2 * img)
    img = cv2.bilateralFilter(img.astype(np.float32), 5, float(rng.uniform(0.01, 0.035)), 1.2)
    img = img + s["sharpen"] * (img - cv2.GaussianBlur(img, (0, 0), 1.2))
    img = (np.clip(img, 0, 1) * 255 + 0.5).astype(np.uint8)

    orientation = t["finish_steps"]["orientation"]
    back = {3: cv2.ROTATE_180, 6: cv2.ROTATE_90_COUNTERCLOCKWISE, 8: cv2.ROTATE_90_CLOCKWISE}  # how the sensor stood
    if orientation in back:
        img = cv2.rotate(img, back[orientation])
    assert [img.shape[1], img.shape[0]] == t["image"]["size_px"]
    ok, data = cv2.imencode(".jpg", img, [cv2.IMWRITE_JPEG_QUALITY, s["quality"]])
    data = data.tobytes()
    if s["exif"] != "none":
        at = 2
        if data[2:4] == b"\xff\xe0":
            at = 4 + struct.unpack(">H", data[4:6])[0]
        data = data[:at] + exif(s["exif"], orientation, cam["focal_35mm"], t["image"]["size_px"], bool(rng.random() < 0.5)) + data[at:]
    truth = dict(id=name, **t)
    for ending, content in ((".jpg", data), (".json", json.dumps(truth, indent=1).encode())):
        part = os.path.join(out, "." + name + ending + ".part")
        with open(part, "wb") as f:
            f.write(content)
        os.rename(part, os.path.join(out, name + ending))


if __name__ == "__main__":
    main(*sys.argv[1:4])
