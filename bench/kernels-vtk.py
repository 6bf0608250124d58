"""The C++ side of kernels.bench.mjs: times one VTK filter on the raw volume inside this process.

Usage: kernels-vtk.py FOLDER KERNEL RUNS WARMING_RUNS THREADS
Prints one line of JSON: milliseconds of each run (clock and CPU), peak resident memory before and after, a figure of the result.
With two threads a run is two volumes, one after the other with both threads on each, and the time is that of one volume.
Start-up, reading and the warming runs are not timed.
"""
import json
import sys
import time

import numpy as np
from vtkmodules.util.numpy_support import numpy_to_vtk, vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkMultiThreader, vtkSMPTools, VTK_FLOAT, VTK_INT
from vtkmodules.vtkCommonDataModel import vtkImageData
from vtkmodules.vtkCommonMath import vtkMatrix4x4
from vtkmodules.vtkFiltersCore import vtkFlyingEdges3D
from vtkmodules.vtkImagingCore import vtkImageReslice
from vtkmodules.vtkImagingGeneral import vtkImageEuclideanDistance, vtkImageGaussianSmooth
from vtkmodules.vtkImagingMorphological import vtkImageConnectivityFilter

folder, kernel = sys.argv[1:3]
runs, warm, threads = map(int, sys.argv[3:6])
if threads > 1 and vtkSMPTools.GetBackend() == "Sequential":
    vtkSMPTools.SetBackend("STDThread")
vtkMultiThreader.SetGlobalMaximumNumberOfThreads(threads)
vtkMultiThreader.SetGlobalDefaultNumberOfThreads(threads)
vtkSMPTools.Initialize(threads)

spec = json.load(open(f"{folder}/spec.json"))
dims, spacing = spec["dims"], spec["spacingMm"]


def peak_mb():
    for line in open("/proc/self/status"):
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    return float("nan")


def image_of(values):
    image = vtkImageData()
    image.SetDimensions(*dims)
    image.SetSpacing(*spacing)
    image.GetPointData().SetScalars(numpy_to_vtk(values, deep=1))
    return image


def load(name, kind):
    return image_of(np.fromfile(f"{folder}/{name}.raw", dtype=kind))


def reslice(cubic):
    image = load("noisy", np.int16)
    planes = spec["planes"]

    def run():
        total = 0.0
        for p in planes:
            axes = vtkMatrix4x4()
            normal = np.cross(p["uLps"], p["vLps"])
            for r in range(3):
                for c, column in enumerate((p["uLps"], p["vLps"], normal, p["originLps"])):
                    axes.SetElement(r, c, column[r])
            f = vtkImageReslice()
            f.SetNumberOfThreads(threads)
            f.SetInputData(image)
            f.SetResliceAxes(axes)
            f.SetOutputDimensionality(2)
            f.SetOutputSpacing(p["stepMm"][0], p["stepMm"][1], 1)
            f.SetOutputOrigin(0, 0, 0)
            f.SetOutputExtent(0, p["size"][0] - 1, 0, p["size"][1] - 1, 0, 0)
            f.SetOutputScalarType(VTK_FLOAT)
            f.SetBackgroundLevel(0)
            f.SetInterpolationModeToCubic() if cubic else f.SetInterpolationModeToLinear()
            f.Update()
            out = f.GetOutput().GetPointData().GetScalars()
            total += out.GetValue(out.GetNumberOfTuples() // 2 + p["size"][0] // 2)
        return total

    return run


def gaussian():
    # Float input: the cast from 16 bit is not charged to VTK, it is part of ours.
    image = image_of(np.fromfile(f"{folder}/noisy.raw", dtype=np.int16).astype(np.float32))

    def run():
        f = vtkImageGaussianSmooth()
        f.SetNumberOfThreads(threads)
        f.SetInputData(image)
        f.SetStandardDeviations(*[s / h for s, h in zip(spec["sigmaMm"], spacing)])
        f.SetRadiusFactors(3, 3, 3)
        f.Update()
        out = f.GetOutput().GetPointData().GetScalars()
        return out.GetValue(out.GetNumberOfTuples() // 2)

    return run


def isosurface(name):
    image = load(name, np.int16)

    def run():
        f = vtkFlyingEdges3D()
        f.SetInputData(image)
        f.ComputeNormalsOff()
        f.ComputeGradientsOff()
        f.ComputeScalarsOff()
        f.SetValue(0, spec["levelHu"])
        f.Update()
        return f.GetOutput().GetNumberOfPoints()

    return run


def components():
    image = load("mask", np.uint8)

    def run():
        f = vtkImageConnectivityFilter()
        f.SetInputData(image)
        f.SetScalarRange(1, 255)
        f.SetExtractionModeToAllRegions()
        f.SetLabelModeToSizeRank()
        f.SetLabelScalarType(VTK_INT)
        f.GenerateRegionExtentsOff()
        f.Update()
        return f.GetNumberOfExtractedRegions()

    return run


def distance():
    image = load("mask", np.uint8)

    def run():
        f = vtkImageEuclideanDistance()
        f.SetInputData(image)
        f.ConsiderAnisotropyOff()  # in voxels: its anisotropic mode gives other than the definition
        f.Update()
        return float(vtk_to_numpy(f.GetOutput().GetPointData().GetScalars()).max())

    return run


KERNELS = {
    "reslice-linear": lambda: reslice(False),
    "reslice-cubic": lambda: reslice(True),
    "gaussian": gaussian,
    "isosurface-smooth": lambda: isosurface("smooth"),
    "isosurface-noisy": lambda: isosurface("noisy"),
    "components": components,
    "distance": distance,
}
run = KERNELS[kernel]()
before = peak_mb()
begin = time.perf_counter()
run()
first_ms = (time.perf_counter() - begin) * 1000
for _ in range(1, warm):
    run()
times, cpu_times = [], []
for _ in range(runs):
    start, cpu = time.perf_counter(), time.process_time()
    for _ in range(threads):
        figure = run()
    times.append((time.perf_counter() - start) * 1000 / threads)
    cpu_times.append((time.process_time() - cpu) * 1000 / threads)
print(json.dumps({"firstMs": first_ms, "ms": times, "cpuMs": cpu_times, "loadedMb": before, "peakMb": peak_mb(), "figure": figure}))
