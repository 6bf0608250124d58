"""A circulation written apart from src/core/phantom, so that a reading tuned on one is tried on the other.

Elastance: a raised cosine up over ts, down over ts/2 (the smoothest there is). Valves are orifices with the resistance of the
root in series, no inertia; the aorta is a three-element Windkessel (0.05, R, C). Steps of 1 ms, explicit. Line: second order,
30 Hz, damping 0.5. Written at 250 samples a second in steps of 0.1 mmHg. Fixed seed; numpy only; two seconds.

    python3 make-second-circulation.py > second-circulation.json
"""
import json
import numpy as np

rng = np.random.default_rng(5)


def simulate(lengths, leak=0.0, valve=2.0, emax=2.6, strength=None, resistance=1.1, compliance=1.3):
    dt, volume, root = 1e-3, 110.0, 80.0
    aorta, ventricle = [], []
    for k, rr in enumerate(lengths):
        ts = 0.28 * np.sqrt(rr) if rr < 1 else 0.3
        s = 1.0 if strength is None else strength[k]
        for i in range(int(rr * 1000)):
            t = i * dt
            e = 0.5 * (1 - np.cos(np.pi * t / ts)) if t < ts else 0.5 * (1 + np.cos(2 * np.pi * (t - ts) / ts)) if t < 1.5 * ts else 0.0
            p = e * emax * s * (volume - 10) + (1 - e) * 1.8 * (np.exp(0.018 * (volume - 10)) - 1)
            atrium = 11 + (5 * np.sin(np.pi * (t - (rr - 0.17)) / 0.14) if rr - 0.17 < t < rr - 0.03 else 0)
            area = valve if p > root else leak
            flow = 0.0
            if area > 0:
                k1 = 3.98e-4 / area**2
                flow = (-0.05 + np.sqrt(0.05**2 + 4 * k1 * abs(p - root))) / (2 * k1) * np.sign(p - root)
            volume += dt * (max(0, atrium - p) / 0.02 - flow)
            root += dt * (flow - (root - 5) / resistance) / compliance
            ventricle.append(p)
            aorta.append(root + 0.05 * flow)
    return np.array(aorta), np.array(ventricle)


def line(x, hz=30.0, ratio=0.5, steps=4):
    w, y, v, h, out = 2 * np.pi * hz, x[0], 0.0, 1e-3 / steps, []
    for u in x:
        for _ in range(steps):
            v += h * (w * w * (u - y) - 2 * ratio * w * v)
            y += h * v
        out.append(y)
    return np.array(out)


def make(lengths, skip, **shape):
    aorta, ventricle = simulate(lengths, **shape)
    edge = np.r_[0, np.cumsum([int(r * 1000) for r in lengths])]
    beats = [(aorta[edge[k]:edge[k + 1]], ventricle[edge[k]:edge[k + 1]], ventricle[edge[k] - 3]) for k in range(skip, len(lengths))]
    mean = lambda of: round(float(np.mean([of(*b) for b in beats])), 2)
    truth = {
        "systolic": mean(lambda a, v, d: a.max()), "diastolic": mean(lambda a, v, d: a[:150].min()), "mean": mean(lambda a, v, d: a.mean()),
        "ventricularSystolic": mean(lambda a, v, d: v.max()), "endDiastolic": mean(lambda a, v, d: d),
        "meanGradient": mean(lambda a, v, d: (v - a)[v > a].mean()), "ratePerMin": round(60 / float(np.mean(lengths[skip:])), 2),
    }
    tenths = lambda x: [int(round(10 * p)) for p in line(x)[edge[skip]::4]]
    return {"truth": truth, "aorticTenths": tenths(aorta), "ventricularTenths": tenths(ventricle)}


even = lambda rate: 60 / rate * (1 + 0.02 * rng.standard_normal(18))
cases = {
    "a leak": make(even(70), 6, leak=0.12),
    "a tight valve": make(even(70), 6, valve=0.8, emax=3.4),
    "bigeminy": make(np.tile([0.55, 1.05], 9), 6, strength=np.roll(np.tile([1.0, 0.72], 9), 1)),
}
print(json.dumps({"madeBy": "test/reference/pressure/make-second-circulation.py", "samplesPerS": 250, "cases": cases}, separators=(",", ":")))
