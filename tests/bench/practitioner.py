#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The peer of the whole-process benchmark: the same job as a capable practitioner would write it with
NumPy and SciPy. Motor starts with inrush, stops, feeds on and off, the line's leak after each stop.

    practitioner.py CAPTURE.csv | CAPTURE.sr"""
import re
import sys
import zipfile

import numpy as np
from scipy.optimize import curve_fit


def load_csv(path):
    with open(path) as file:
        skip = 0
        for line in file:
            skip += 1
            if not line.startswith("#"):
                break
    names = [name.split(" [")[0] for name in line.strip().split(",")]
    data = np.loadtxt(path, delimiter=",", skiprows=skip)
    return data[:, 0], {name: data[:, k] for k, name in enumerate(names) if k}


def load_sr(path):
    with zipfile.ZipFile(path) as archive:
        about = archive.read("metadata").decode()
        rate = float(re.search(r"samplerate=(\d+)", about).group(1))
        scale = 1e3 if "kHz" in about else 1.0
        channels = {}
        for number, name in re.findall(r"analog(\d+)=(\w+)", about):
            parts = [n for n in archive.namelist() if n.startswith(f"analog-1-{number}-")]
            parts.sort(key=lambda n: int(n.rsplit("-", 1)[1]))
            channels[name] = np.concatenate(
                [np.frombuffer(archive.read(n), dtype="<f4") for n in parts]).astype(float)
    n = len(next(iter(channels.values())))
    return np.arange(n) / (rate * scale), channels


def edges(values, up, down):
    """Two states with hysteresis: indices of the rises and of the falls."""
    state = np.where(values > up, 1, np.where(values < down, 0, -1))
    known = np.maximum.accumulate(np.where(state >= 0, np.arange(len(state)), 0))
    change = np.flatnonzero(np.diff(state[known]))
    return change[state[known][change + 1] == 1] + 1, change[state[known][change + 1] == 0] + 1


def main():
    load = load_sr if sys.argv[1].endswith(".sr") else load_csv
    time, channels = load(sys.argv[1])
    current = np.abs(channels["motor_a"] - np.median(channels["motor_a"][:1000]))
    starts, stops = edges(current, 0.6, 0.3)
    for name in ("feed_a_v", "feed_b_v"):
        if name in channels:
            for k in edges(channels[name], 4, 1)[0]:
                print(f"{time[k]:.4f} {name} on {channels[name][k:k + 500].mean():.2f} V")
    for k in starts:
        print(f"{time[k]:.4f} start, inrush {current[k:k + 1200].max():.2f} A")
    for i, k in enumerate(stops):
        print(f"{time[k]:.4f} stop, {current[max(k - 500, 0):k - 20].mean():.3f} A")
        later = starts[starts > k]
        end = later[0] if len(later) else len(time)
        t, p = time[k + 2000:end:100], channels["line_kpa"][k + 2000:end:100]
        if len(t) < 20:
            continue
        t = t - t[0]
        try:
            fit, cov = curve_fit(lambda t, p0, tau: p0 * np.exp(-t / tau), t, p,
                                 p0=(p[0], 60.0), maxfev=2000)
            print(f"  leak: tau {fit[1]:.2f} +- {np.sqrt(cov[1, 1]):.2f} s")
        except RuntimeError:
            print("  leak: no fit")


if __name__ == "__main__":
    main()
