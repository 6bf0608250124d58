"""Values of SciPy for the filters of src/core/haemodynamics/filters.ts.

  /usr/bin/python3 test/reference/pressure/make-filter-reference.py > test/reference/pressure/filters.json

A seeded noise on a ramp, 120 samples at 250 Hz: Savitzky-Golay of order 2 (values and slopes, inner samples), Butterworth of order
2 (coefficients, one pass from rest in the first sample), amplitude of tones by least squares.
"""
import json
import numpy as np
import scipy
from scipy import signal

rng = np.random.default_rng(20260302)
n, fs = 120, 250.0
x = np.round(80 + 0.1 * np.arange(n) + 5 * rng.standard_normal(n), 6)
out = {"scipy": scipy.__version__, "samplesPerS": fs, "x": x.tolist(), "savgol": [], "butter": [], "tones": []}
for half in (1, 5, 12):
    w = 2 * half + 1
    out["savgol"].append({"half": half, "value": signal.savgol_filter(x, w, 2).tolist(), "slope": signal.savgol_filter(x, w, 2, deriv=1).tolist()})
for kind, hz in (("low", 20.0), ("high", 8.0), ("low", 5.0)):
    b, a = signal.butter(2, hz, kind, fs=fs)
    y, _ = signal.lfilter(b, a, x, zi=signal.lfilter_zi(b, a) * x[0])
    out["butter"].append({"kind": kind, "hz": hz, "b": b.tolist(), "a": a.tolist(), "y": y.tolist()})
t = np.arange(250) / fs
tone = np.round(70 + 1.5 * np.sin(2 * np.pi * 50 * t + 0.3) + 4 * np.sin(2 * np.pi * 2 * t), 9)
for hz in (50.0, 60.0, 2.0):
    m = np.column_stack([np.cos(2 * np.pi * hz * t), np.sin(2 * np.pi * hz * t)])
    c, *_ = np.linalg.lstsq(m, tone - tone.mean(), rcond=None)
    out["tones"].append({"hz": hz, "amplitude": float(np.hypot(*c))})
out["tone"] = tone.tolist()
print(json.dumps(out))
