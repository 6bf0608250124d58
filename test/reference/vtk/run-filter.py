"""Independent answers for the kernels: Debian's VTK (C++ filters) and SciPy on the same raw volume.

Usage: run-filter.py FOLDER KERNEL     reads FOLDER/spec.json and FOLDER/<input>.raw, writes FOLDER/<kernel>.raw or prints JSON
Exit 3: VTK or SciPy is not installed.
"""
import json
import sys

try:
    import numpy as np
    from scipy import ndimage
    from vtkmodules.util.numpy_support import numpy_to_vtk, vtk_to_numpy
    from vtkmodules.vtkCommonCore import VTK_DOUBLE, VTK_INT
    from vtkmodules.vtkCommonDataModel import vtkImageData
    from vtkmodules.vtkCommonMath import vtkMatrix4x4
    from vtkmodules.vtkFiltersCore import vtkFlyingEdges3D, vtkMarchingCubes, vtkMassProperties
    from vtkmodules.vtkImagingCore import vtkImageReslice
    from vtkmodules.vtkImagingGeneral import vtkImageEuclideanDistance, vtkImageGaussianSmooth
    from vtkmodules.vtkImagingMorphological import vtkImageConnectivityFilter
except ImportError as missing:
    print(missing, file=sys.stderr)
    sys.exit(3)

folder, kernel = sys.argv[1], sys.argv[2]
spec = json.load(open(f"{folder}/spec.json"))
nx, ny, nz = spec["dims"]
spacing = spec["spacingMm"]


def read(name, kind):
    return np.fromfile(f"{folder}/{name}.raw", dtype=kind)


def image_of(values, step=spacing, origin=spec["originMm"]):
    image = vtkImageData()
    image.SetDimensions(nx, ny, nz)
    image.SetSpacing(*step)
    image.SetOrigin(*origin)
    image.GetPointData().SetScalars(numpy_to_vtk(values, deep=1))
    return image


def scalars(f):
    f.Update()
    return vtk_to_numpy(f.GetOutput().GetPointData().GetScalars())


def write(values, kind):
    np.ascontiguousarray(values, dtype=kind).tofile(f"{folder}/{kernel}.raw")


def reslice(cubic):
    p = spec["plane"]
    axes = vtkMatrix4x4()
    normal = np.cross(p["uLps"], p["vLps"])
    for r in range(3):
        for c, column in enumerate((p["uLps"], p["vLps"], normal, p["originLps"])):
            axes.SetElement(r, c, column[r])
    f = vtkImageReslice()
    f.SetInputData(image_of(read("volume", np.int16)))
    f.SetResliceAxes(axes)
    f.SetOutputDimensionality(2)
    f.SetOutputSpacing(p["stepMm"][0], p["stepMm"][1], 1)
    f.SetOutputOrigin(0, 0, 0)
    f.SetOutputExtent(0, p["size"][0] - 1, 0, p["size"][1] - 1, 0, 0)
    f.SetOutputScalarType(VTK_DOUBLE)
    f.SetBackgroundLevel(-30000)
    f.SetInterpolationModeToCubic() if cubic else f.SetInterpolationModeToLinear()
    write(scalars(f), np.float64)


def gaussian():
    f = vtkImageGaussianSmooth()
    f.SetInputData(image_of(read("volume", np.int16).astype(np.float64)))
    f.SetStandardDeviations(*[s / h for s, h in zip(spec["sigmaMm"], spacing)])
    f.SetRadiusFactors(spec["radiusFactor"], spec["radiusFactor"], spec["radiusFactor"])
    write(scalars(f), np.float64)


def isosurface(make):
    f = make()
    f.SetInputData(image_of(read("volume", np.int16)))
    f.SetValue(0, spec["levelHu"])
    f.ComputeNormalsOff()
    f.Update()
    m = vtkMassProperties()
    m.SetInputData(f.GetOutput())
    print(json.dumps({
        "points": f.GetOutput().GetNumberOfPoints(), "triangles": f.GetOutput().GetNumberOfPolys(),
        "areaMm2": m.GetSurfaceArea(), "volumeMm3": m.GetVolume(),
    }))


def components():
    f = vtkImageConnectivityFilter()
    f.SetInputData(image_of(read("mask", np.uint8)))
    f.SetScalarRange(1, 255)
    f.SetExtractionModeToAllRegions()
    f.SetLabelModeToSizeRank()
    f.SetLabelScalarType(VTK_INT)
    write(scalars(f), np.int32)


def components_26():
    labels, _ = ndimage.label(read("mask", np.uint8).reshape(nz, ny, nx), structure=np.ones((3, 3, 3)))
    write(labels, np.int32)


def distance():
    # VTK measures in voxels here: its anisotropic mode disagrees with the definition (see distance-transform.md).
    f = vtkImageEuclideanDistance()
    f.SetInputData(image_of(read("mask", np.uint8), (1, 1, 1), (0, 0, 0)))
    f.ConsiderAnisotropyOff()
    write(scalars(f), np.float64)


def distance_anisotropic():
    mask = read("mask", np.uint8).reshape(nz, ny, nx)
    write(ndimage.distance_transform_edt(mask, sampling=spacing[::-1]) ** 2, np.float64)


KERNELS = {
    "reslice-linear": lambda: reslice(False),
    "reslice-cubic": lambda: reslice(True),
    "gaussian": gaussian,
    "marching-cubes": lambda: isosurface(vtkMarchingCubes),
    "flying-edges": lambda: isosurface(vtkFlyingEdges3D),
    "components-6": components,
    "components-26": components_26,
    "distance": distance,
    "distance-anisotropic": distance_anisotropic,
    "probe": lambda: None,
}
for name in kernel.split(","):
    kernel = name
    KERNELS[name]()
