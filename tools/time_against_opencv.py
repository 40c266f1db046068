#!/usr/bin/env python3
"""Times `leafgauge measure` against OpenCV's decoding of the same photos.

On one core and in turns, so that a busy machine slows both: the processor time of a whole run of
`leafgauge measure` (start, decoding, measuring) and that of cv2.imread, in colour, of the same
file. Prints medians and their ratio. Only this needs OpenCV (Debian: python3-opencv).

Usage: tools/time_against_opencv.py bin/leafgauge testdata/photos/001.jpg ... [--rounds 7]
"""
import argparse
import os
import statistics
import subprocess
import time

import cv2


def run(program, photo):
    """Processor time, s, of measuring one photo."""
    child = subprocess.Popen([program, "measure", "--json", photo], stdout=subprocess.DEVNULL,
                             stderr=subprocess.DEVNULL, env=dict(os.environ, GOMAXPROCS="1"))
    _, status, used = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) not in (0, 3):
        raise SystemExit(f"{program} measure {photo}: failed")
    return used.ru_utime + used.ru_stime


def decode(photo):
    start = time.process_time()
    picture = cv2.imread(photo, cv2.IMREAD_COLOR)
    used = time.process_time() - start
    if picture is None:
        raise SystemExit(f"{photo}: not read")
    return used, picture.shape[0] * picture.shape[1] / 1e6


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("photos", nargs="+")
    parser.add_argument("--rounds", type=int, default=7)
    args = parser.parse_args()
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    cv2.setNumThreads(1)
    ratios = []
    print(f"{'photo':>10} {'MP':>5} {'leafgauge, ms':>14} {'OpenCV, ms':>11} {'ratio':>6}")
    for photo in args.photos:
        ours, theirs = [], []
        for _ in range(args.rounds):
            used, size = decode(photo)
            theirs.append(used)
            ours.append(run(args.program, photo))
        a, b = statistics.median(ours), statistics.median(theirs)
        ratios.append(a / b)
        print(f"{os.path.basename(photo):>10} {size:5.1f} {a * 1e3:14.0f} {b * 1e3:11.0f} {a / b:6.2f}")
    print(f"median ratio {statistics.median(ratios):.2f}")


if __name__ == "__main__":
    main()
