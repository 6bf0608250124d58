"""Reads a folder of CT slices with VTK's C++ reader and touches the volume; prints its size."""
import sys
from vtkmodules.vtkIOImage import vtkDICOMImageReader

reader = vtkDICOMImageReader()
reader.SetDirectoryName(sys.argv[1])
reader.Update()
print(*reader.GetOutput().GetDimensions())
