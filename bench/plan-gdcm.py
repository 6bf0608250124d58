"""Reads a folder of CT slices with GDCM's C++ reader (through VTK); prints the volume's size."""
import os
import sys
from vtkmodules.vtkCommonCore import vtkStringArray
from vtkgdcm import vtkGDCMImageReader

names = vtkStringArray()
for name in sorted(os.listdir(sys.argv[1])):
    names.InsertNextValue(os.path.join(sys.argv[1], name))
reader = vtkGDCMImageReader()
reader.SetFileNames(names)
reader.Update()
print(*reader.GetOutput().GetDimensions())
