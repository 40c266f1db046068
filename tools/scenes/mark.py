"""Draws the true points of a photo into it.

    python3 mark.py PHOTOS ID OUT.png [crops]

With "crops", an enlarged piece about each point instead, holes with circles of the true size of bore
and countersink (drawn as if seen from straight above).
"""
import json
import sys

import cv2
import numpy as np

UPRIGHT = {3: cv2.ROTATE_180, 6: cv2.ROTATE_90_CLOCKWISE, 8: cv2.ROTATE_90_COUNTERCLOCKWISE}
COLOURS = {"holes": (0, 0, 255), "corners": (0, 255, 0), "card": (255, 0, 255)}


def crop(img, truth, kind, point, half=60, times=3):
    x, y = point["px"]
    if not (half < x < img.shape[1] - half and half < y < img.shape[0] - half):
        return None
    x0, y0 = int(x) - half, int(y) - half
    piece = cv2.resize(img[y0:y0 + 2 * half, x0:x0 + 2 * half], None, fx=times, fy=times, interpolation=cv2.INTER_NEAREST)
    at = (int((x - x0) * times), int((y - y0) * times))
    cv2.drawMarker(piece, at, (0, 0, 255), cv2.MARKER_CROSS, 30, 1)
    if kind == "holes":
        scale = truth["image"]["focal_px_upright"] / truth["camera"]["distance_mm"] * times
        for diameter, colour in (("hole_diameter", (0, 255, 0)), ("countersink_diameter", (255, 0, 255))):
            cv2.circle(piece, at, int(truth["hinge"][diameter] / 2 * scale), colour, 1)
    return piece


def main(photos, name, out, crops=""):
    with open(f"{photos}/{name}.json") as f:
        truth = json.load(f)
    img = cv2.imread(f"{photos}/{name}.jpg", cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    orientation = truth["finish_steps"]["orientation"]
    if orientation in UPRIGHT:
        img = cv2.rotate(img, UPRIGHT[orientation])
    points = [(kind, p) for kind in COLOURS for p in truth["points_px_upright"][kind]]
    if crops:
        tiles = [t for t in (crop(img, truth, kind, p) for kind, p in points) if t is not None]
        tiles += [np.zeros_like(tiles[0])] * (-len(tiles) % 5)
        img = np.vstack([np.hstack(tiles[i:i + 5]) for i in range(0, len(tiles), 5)])
    else:
        for kind, p in points:
            cv2.drawMarker(img, tuple(int(v) for v in p["px"]), COLOURS[kind], cv2.MARKER_CROSS, 40, 2)
    cv2.imwrite(out, img)


if __name__ == "__main__":
    main(*sys.argv[1:])
