"""Writes roots as DICOM folders with their truth: make.py OUT SEED [SEED ...] [--cube MM]."""
import json
import sys
from pathlib import Path

from scan import add_noise, blur, draw_protocol, make_grid, sample_scene, write_dicom
from scene import Scene
from truth import measure_truth


def make_root(out, seed, cube_mm=None):
    folder = Path(out) / f"root-{seed:02d}"
    scene = Scene(seed)
    protocol = draw_protocol(seed, cube_mm)
    truth = {**measure_truth(scene), "protocol": protocol}
    start, steps, shape = make_grid(scene, protocol)
    hu = add_noise(blur(sample_scene(scene, start, steps, shape), protocol), protocol, seed)
    write_dicom(folder / "dicom" / "A1", hu, start, steps, protocol, seed)
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))


if __name__ == "__main__":
    words = sys.argv[1:]
    cube = float(words[words.index("--cube") + 1]) if "--cube" in words else None
    if cube:
        at = words.index("--cube")
        del words[at : at + 2]
    for word in words[1:]:
        make_root(words[0], int(word), cube)
        print(f"root {word} written", flush=True)
