"""Time-density curves and density ratio with numpy, SciPy and pydicom, written apart from the program.

  /usr/bin/python3 make-contrast-reference.py            writes contrast.json: a small run, its curves and ratio
  /usr/bin/python3 make-contrast-reference.py RUN.dcm REGIONS.json FROM_MS TO_MS MASK_FROM MASK_TO [BACKGROUND]
                                                         curves' areas and ratio of a DICOM run (frames of the mask from 1)

Method: density = mean over the region of ln(mask) - ln(frame); pixels whose centre lies inside by the crossing rule; brightness from
the background region; areas by scipy.integrate.trapezoid over the window, its ends by np.interp.
"""
import base64
import json
import sys

import numpy as np
from scipy.integrate import trapezoid


def inside(polygon, rows, columns):
    c, r = np.meshgrid(np.arange(columns), np.arange(rows))
    hit = np.zeros((rows, columns), bool)
    for (x0, y0), (x1, y1) in zip(polygon, polygon[1:] + polygon[:1]):
        if y0 == y1:
            continue
        crosses = (y0 > r) != (y1 > r)
        hit ^= crosses & (c < (x1 - x0) * (r - y0) / (y1 - y0) + x0)
    return hit


def curve(frames, polygon, mask):
    logs = np.log(np.maximum(0.5, frames.astype(float)))
    mean = logs[:, inside(polygon, *frames.shape[1:])].mean(axis=1)
    return mean[mask[0]:mask[1] + 1].mean() - mean


def area(times, values, start, end):
    inner = times[(times > start) & (times < end)]
    at = np.concatenate([[start], inner, [end]])
    return trapezoid(np.interp(at, times, values), at)


def measure(frames, times, regions, mask, start, end):
    aorta, outflow = (curve(frames, regions[name], mask) for name in ('aorta', 'outflow'))
    if regions.get('background'):
        light = curve(frames, regions['background'], mask)
        aorta, outflow = aorta - light, outflow - light
    a, o = area(times, aorta, start, end), area(times, outflow, start, end)
    return {'aorta': aorta.tolist(), 'outflow': outflow.tolist(), 'areaAorta': a, 'areaOutflow': o, 'ratio': o / a}


def draw():
    """48 x 40, 40 frames, 15 a second, 8 bit: a tube above, a tube below, a bolus, exposure that drifts, noise. Nothing moves."""
    rng = np.random.default_rng(7)
    rows, columns, count = 48, 40, 40
    c, r = np.meshgrid(np.arange(columns), np.arange(rows))
    body = 0.4 + 0.25 * np.sin(c * c / 160) * np.cos(r * r / 150 + c / 9) + 0.3 * (c > 31)
    thick = np.sqrt(np.clip(1 - ((c - 17) / 7.0) ** 2, 0, None))
    frames = []
    for k in range(count):
        t = max(0, (k - 11) / 15)
        root = 1.1 * (t / 0.5) ** 2 * np.exp(2 * (1 - t / 0.5)) / 1.5
        leak = 0.25 * 1.1 * (max(0, t - 0.2) / 0.8) ** 2 * np.exp(2 * (1 - max(0, t - 0.2) / 0.8)) / 1.5
        density = thick * np.where(r < 22, root, np.where(r > 24, leak, 0))
        light = 230 * (1 + 0.03 * np.sin(k / 6))
        grey = light * np.exp(-body - density)
        frames.append(np.clip(np.round(grey + rng.normal(0, 1.2, grey.shape)), 1, 255).astype(np.uint8))
    return np.array(frames)


def main():
    if len(sys.argv) > 1:
        import pydicom
        data = pydicom.dcmread(sys.argv[1])
        frames = data.pixel_array
        times = np.arange(len(frames)) * float(data.FrameTime) / 1000
        regions = json.load(open(sys.argv[2]))
        start, end, first, last = (float(v) for v in sys.argv[3:7])
        print(json.dumps({k: v for k, v in measure(frames, times, regions, (int(first) - 1, int(last) - 1), start / 1000, end / 1000).items() if not isinstance(v, list)}))
        return
    frames = draw()
    times = np.arange(len(frames)) / 15
    regions = {
        'aorta': [[12.5, 4.2], [21.7, 4.2], [21.7, 19.6], [12.5, 19.6]], 'outflow': [[12.5, 26.1], [21.7, 27.4], [20.3, 40.2], [13.1, 39.9]],
        'background': [[32.3, 3.1], [38.4, 3.1], [38.4, 44.2], [32.3, 44.2]],
    }
    mask, window = (0, 9), (12, 36)
    answer = measure(frames, times, regions, mask, times[window[0]], times[window[1]])
    content = {
        'madeBy': 'test/reference/contrast/make-contrast-reference.py', 'rows': frames.shape[1], 'columns': frames.shape[2], 'frames': len(frames), 'framesPerS': 15,
        'pixels': base64.b64encode(frames.tobytes()).decode(), 'regions': regions, 'mask': [m + 1 for m in mask], 'window': [w + 1 for w in window], **answer,
    }
    with open(__file__.rsplit('/', 1)[0] + '/contrast.json' if '/' in __file__ else 'contrast.json', 'w') as out:
        json.dump(content, out)
        out.write('\n')


main()
