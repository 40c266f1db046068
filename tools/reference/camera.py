#!/usr/bin/env python3
"""Writes testdata/reference/camera.json: one plane seen by cameras, as OpenCV has it.

Run from the project's root:  python3 tools/reference/camera.py
Needs numpy and OpenCV (Debian: python3-numpy, python3-opencv). The tests only read the file.

Each view has a grid of places on a plane (the size of an ID-1 card, mm, z = 0), their exact
pictures by cv2.projectPoints, the same with normal noise, and from the noisy ones
- homography: cv2.findHomography (plane to pixels, least squares);
- pose: cv2.solvePnP with the lens known, rotation vector and translation;
- camera: cv2.calibrateCameraExtended of this one view with focal length and k1 free, the
  middle held, and its standard deviations; views too square to the plane have none;
and, of the four corners' exact pictures, cv2.findHomography, and what cv2.undistortPoints makes of
a few pixels. Pixels count as in the project: (0, 0) is the outer corner of the first pixel.
"""
import json
import pathlib

import cv2
import numpy as np

LONG, SHORT = 85.60, 53.98  # ISO/IEC 7810 ID-1, mm
NOISE = 0.3  # px, of either coordinate
WIDTH, HEIGHT = 4032, 3024


def numbers(a, digits=10):
    return [float(f"%.{digits}g" % v) for v in np.asarray(a, float).ravel()]


def view(rng, focal35, tilt, azimuth, roll, k1):
    f = focal35 / np.hypot(36, 24) * np.hypot(WIDTH, HEIGHT)
    # The eye is over the plane (z > 0): turn half about x, then tilt and roll.
    axis = np.array([np.cos(azimuth), np.sin(azimuth), 0])
    r = (cv2.Rodrigues(np.array([0, 0, roll]))[0] @ cv2.Rodrigues(axis * np.radians(tilt))[0]
         @ np.diag([1.0, -1.0, -1.0]))
    rvec = cv2.Rodrigues(r)[0]
    tvec = np.array([[rng.uniform(-30, 30)], [rng.uniform(-20, 20)], [f / 12]])  # 12 px/mm
    k = np.array([[f, 0, WIDTH / 2], [0, f, HEIGHT / 2], [0, 0, 1]])
    dist = np.array([k1, 0, 0, 0, 0])
    x, y = np.meshgrid(np.linspace(-LONG / 2, LONG / 2, 8), np.linspace(-SHORT / 2, SHORT / 2, 6))
    plane = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], 1)
    exact = cv2.projectPoints(plane, rvec, tvec, k, dist)[0].reshape(-1, 2)
    noisy = exact + NOISE * rng.standard_normal(exact.shape)
    # Stored figures are what both sides work from.
    plane = np.array(numbers(plane)).reshape(-1, 3)
    noisy = np.array(numbers(noisy)).reshape(-1, 2)

    corners = [0, 7, 47, 40]
    four = cv2.findHomography(plane[corners, :2], exact[corners])[0]
    h = cv2.findHomography(plane[:, :2], noisy, 0)[0]

    ok, pr, pt = cv2.solvePnP(plane, noisy, k, dist, rvec.copy(), tvec.copy(), True, cv2.SOLVEPNP_ITERATIVE)
    assert ok
    out = {
        "focal_35mm": focal35, "tilt_deg": tilt,
        "truth": {"f": f, "k1": k1, "r": numbers(r, 15), "t": numbers(tvec, 15)},
        "plane_mm": numbers(plane[:, :2]), "exact_px": numbers(exact, 12), "noisy_px": numbers(noisy),
        "four_corners": numbers(four / four[2, 2], 12), "homography": numbers(h / h[2, 2], 12),
        "pose": {"r": numbers(cv2.Rodrigues(pr)[0], 12), "t": numbers(pt, 12)},
    }
    pixels = np.array([[0, 0], [WIDTH, 0], [WIDTH / 2, HEIGHT / 2], [700, 2500], [3900, 3000]], float)
    criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 100, 1e-14)
    rays = cv2.undistortPointsIter(pixels.reshape(-1, 1, 2), k, dist, None, None, criteria)
    out["pixels"], out["rays"] = numbers(pixels), numbers(rays, 12)

    if tilt >= 10:
        flags = (cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_ZERO_TANGENT_DIST
                 | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3 | cv2.CALIB_USE_INTRINSIC_GUESS)
        rms, kk, dd, rr, tt, si, _, _ = cv2.calibrateCameraExtended(
            [plane.astype(np.float32)], [noisy.astype(np.float32)], (WIDTH, HEIGHT), k.copy(), np.zeros(5), flags=flags,
            criteria=(cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 1000, 1e-15))
        out["camera"] = {"f": float(kk[0, 0]), "k1": float(dd.ravel()[0]), "r": numbers(cv2.Rodrigues(rr[0])[0], 12),
                         "t": numbers(tt[0], 12), "rms_px": float(rms),
                         # With one focal length for x and y, OpenCV books it under fy.
                         "sd_f": float(si.ravel()[1]), "sd_k1": float(si.ravel()[4])}
    return out


def main():
    rng = np.random.default_rng(20)
    views = [view(rng, focal35, tilt, rng.uniform(0, 2 * np.pi), rng.uniform(0, 2 * np.pi), k1)
             for focal35, tilt, k1 in [(26, 2, 0.0), (26, 6, 0.01), (24, 12, -0.02), (26, 15, 0.0), (28, 20, 0.015),
                                       (52, 25, -0.01), (26, 30, 0.02), (35, 35, 0.005), (24, 40, -0.02)]]
    path = pathlib.Path(__file__).resolve().parents[2] / "testdata" / "reference" / "camera.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    with open(path, "w") as file:
        json.dump({"by": f"OpenCV {cv2.__version__}", "size_px": [WIDTH, HEIGHT], "noise_px": NOISE, "views": views}, file, indent=1)
        file.write("\n")


if __name__ == "__main__":
    main()
