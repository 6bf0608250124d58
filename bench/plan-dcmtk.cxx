// Reads a folder of uncompressed CT slices with DCMTK, in the order of their names, into one volume of HU; prints its size.
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

int main(int argc, char **argv) {
  std::vector<std::string> names;
  for (const auto &entry : std::filesystem::directory_iterator(argv[argc - 1])) names.push_back(entry.path().string());
  std::sort(names.begin(), names.end());
  std::vector<Sint16> volume;
  Uint16 rows = 0, columns = 0;
  for (size_t k = 0; k < names.size(); k++) {
    DcmFileFormat file;
    if (file.loadFile(names[k].c_str()).bad()) return 1;
    DcmDataset *data = file.getDataset();
    const Uint16 *words = nullptr;
    unsigned long count = 0;
    Float64 slope = 1, intercept = 0;
    data->findAndGetUint16(DCM_Rows, rows);
    data->findAndGetUint16(DCM_Columns, columns);
    data->findAndGetFloat64(DCM_RescaleSlope, slope);
    data->findAndGetFloat64(DCM_RescaleIntercept, intercept);
    if (data->findAndGetUint16Array(DCM_PixelData, words, &count).bad() || count != size_t(rows) * columns) return 1;
    if (volume.empty()) volume.resize(names.size() * count);
    Sint16 *to = volume.data() + k * count;
    for (unsigned long i = 0; i < count; i++) to[i] = Sint16(slope * Sint16(words[i]) + intercept);
  }
  std::printf("%d %d %zu\n", columns, rows, names.size());
  return 0;
}
