// Reads a folder of CT slices with ITK's series reader (GDCM inside), in the order of their names; prints the volume's size.
#include <algorithm>
#include <filesystem>
#include <iostream>
#include <string>
#include <vector>
#include <itkGDCMImageIO.h>
#include <itkImage.h>
#include <itkImageSeriesReader.h>

int main(int argc, char **argv) {
  std::vector<std::string> names;
  for (const auto &entry : std::filesystem::directory_iterator(argv[argc - 1])) names.push_back(entry.path().string());
  std::sort(names.begin(), names.end());
  auto reader = itk::ImageSeriesReader<itk::Image<short, 3>>::New();
  reader->SetImageIO(itk::GDCMImageIO::New());
  reader->SetFileNames(names);
  reader->Update();
  std::cout << reader->GetOutput()->GetLargestPossibleRegion().GetSize() << '\n';
}
