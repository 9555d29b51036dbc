#include "io/vtk_mesh_reader.hpp"

#include "io/guarded_child.hpp"
#include "io/mesh_content_bytes.hpp"
#include "io/vtk_content.hpp"
#include "io/whole_file.hpp"
#include "mesh/error.hpp"

#include <vtkCellData.h>
#include <vtkDataArray.h>
#include <vtkGenericDataObjectReader.h>
#include <vtkIntArray.h>
#include <vtkNew.h>
#include <vtkOutputWindow.h>
#include <vtkPLYReader.h>
#include <vtkPolyData.h>
#include <vtkSTLReader.h>
#include <vtkSmartPointer.h>
#include <vtkUnstructuredGrid.h>
#include <vtkXMLPolyDataReader.h>
#include <vtkXMLUnstructuredGridReader.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <fstream>

namespace tidemark {

namespace {

// Keeps what VTK's objects complain of instead of printing it.
class ErrorCollector : public vtkOutputWindow {
public:
  static ErrorCollector* New() { // what vtkStandardNewMacro would write
    auto* const created = new ErrorCollector;
    created->InitializeObjectBase();
    return created;
  }
  ErrorCollector(const ErrorCollector&) = delete;
  void operator=(const ErrorCollector&) = delete;

  void DisplayText(const char*) override {}
  void DisplayErrorText(const char* text) override { keep_first(error, text); }
  void DisplayWarningText(const char* text) override { keep_first(warning, text); }
  // So says the legacy reader that data are missing, and goes on with whatever was in memory.
  void DisplayGenericWarningText(const char* text) override { keep_first(error, text); }
  void DisplayDebugText(const char*) override {}

  std::string error;
  std::string warning;

protected:
  ErrorCollector() = default;

private:
  static void keep_first(std::string& kept, const char* text) { kept = kept.empty() ? text : kept; }
};

// "ERROR: In file.cxx, line 1\nvtkReader (0x1234): Cannot read.\n\n" -> "Cannot read."
std::string sentence_of(const std::string& message) {
  constexpr std::size_t longest = 200;
  const std::size_t second_line = message.find('\n');
  std::string text = second_line == std::string::npos ? message : message.substr(second_line + 1);
  const std::size_t object_end = text.find("): ");
  text = object_end == std::string::npos ? text : text.substr(object_end + 3);
  text = text.substr(0, text.find('\n')).substr(0, longest);
  std::ranges::replace_if(
      text, [](unsigned char c) { return c < 0x20 || c >= 0x7f; }, '?');
  // An address in memory differs from run to run and tells nobody anything.
  return text.empty() || text.find("0x") != std::string::npos ? "VTK cannot read it" : text;
}

[[noreturn]] void damaged(const std::string& name, const std::string& why) {
  throw InputError(name + ": the file is damaged or not what its extension says: " + why);
}

template <class Reader> vtkSmartPointer<vtkPointSet> output_of(Reader& reader, const char* file) {
  reader.SetFileName(file);
  reader.Update();
  return vtkPointSet::SafeDownCast(reader.GetOutputDataObject(0));
}

bool has_decimal_comma(std::string_view line) {
  const auto is_digit = [&](std::size_t i) { return line[i] >= '0' && line[i] <= '9'; };
  for (std::size_t i = 1; i + 1 < line.size(); ++i) {
    if (line[i] == ',' && is_digit(i - 1) && is_digit(i + 1)) {
      return true;
    }
  }
  return false;
}

// VTK takes "10,25" for 10 without a word. Names, of solids say, may have what looks like it.
void refuse_decimal_commas(const std::string& name, bool begins_with_header) {
  std::ifstream stream(name);
  bool is_header = begins_with_header;
  std::size_t number = 0;
  for (std::string line; std::getline(stream, line);) {
    ++number;
    const std::string_view text =
        std::string_view(line).substr(std::min(line.find_first_not_of(" \t"), line.size()));
    if (is_header && text.starts_with("format") && !text.starts_with("format ascii")) {
      return; // the numbers are binary
    }
    const bool is_name = text.starts_with("solid") || text.starts_with("endsolid");
    if (!is_header && !is_name && has_decimal_comma(text)) {
      throw InputError(name + ": line " + std::to_string(number) +
                       ": found a number with a decimal comma, expected a decimal point");
    }
    is_header = is_header && !text.starts_with("end_header");
  }
}

// A binary STL file is 84 bytes and 50 for each triangle; VTK takes a shorter one without a word,
// and stumbles over the byte order mark of a text.
void check_stl(const std::string& name) {
  std::ifstream stream(name, std::ios::binary);
  std::array<char, 84> head{};
  stream.read(head.data(), head.size());
  const std::string_view start(head.data(), head.size());
  if (without_byte_order_mark(start).size() < start.size()) {
    throw InputError(name +
                     ": line 1: the text begins with a byte order mark; save it as ASCII, or "
                     "as UTF-8 without one");
  }
  const bool binary = std::ranges::find(head, '\0') != head.end();
  if (!binary || stream.gcount() < static_cast<std::streamsize>(head.size())) {
    if (!binary) {
      refuse_decimal_commas(name, false);
    }
    return;
  }
  std::uint64_t triangles = 0;
  for (std::size_t i = 4; i-- > 0;) { // little-endian, whatever this machine is
    triangles = triangles * 256 + static_cast<unsigned char>(head[80 + i]);
  }
  const std::uint64_t size = std::filesystem::file_size(name);
  if (size != 84 + 50 * triangles) {
    damaged(name, "it says " + std::to_string(triangles) + " triangles, which take " +
                      std::to_string(84 + 50 * triangles) + " bytes, but has " +
                      std::to_string(size) + " bytes");
  }
}

vtkSmartPointer<vtkPointSet> read_stl(const char* file) {
  check_stl(file);
  vtkNew<vtkSTLReader> reader;
  reader->MergingOff(); // done for all formats alike, and said, by read_mesh
  reader->ScalarTagsOn();
  const vtkSmartPointer<vtkPointSet> data = output_of(*reader, file);
  vtkDataArray* labels =
      data == nullptr ? nullptr : data->GetCellData()->GetArray("STLSolidLabeling");
  if (labels != nullptr) {
    if (labels->GetRange()[1] > 0) {
      vtkNew<vtkIntArray> solids;
      solids->SetName("solid");
      for (vtkIdType i = 0; i < labels->GetNumberOfTuples(); ++i) {
        solids->InsertNextValue(static_cast<int>(labels->GetTuple1(i)) + 1);
      }
      data->GetCellData()->AddArray(solids);
    }
    data->GetCellData()->RemoveArray("STLSolidLabeling");
  }
  return data;
}

vtkSmartPointer<vtkPointSet> read_by_extension(const char* file, const std::string& extension) {
  if (extension == ".stl") {
    return read_stl(file);
  }
  if (extension == ".ply") {
    refuse_decimal_commas(file, true);
    return output_of(*vtkNew<vtkPLYReader>(), file);
  }
  if (extension == ".vtu") {
    return output_of(*vtkNew<vtkXMLUnstructuredGridReader>(), file);
  }
  if (extension == ".vtp") {
    return output_of(*vtkNew<vtkXMLPolyDataReader>(), file);
  }
  vtkNew<vtkGenericDataObjectReader> reader;
  reader->ReadAllScalarsOn();
  reader->ReadAllFieldsOn();
  return output_of(*reader, file);
}

MeshContent read_here(const std::filesystem::path& file, const std::string& extension) {
  vtkNew<ErrorCollector> errors;
  vtkOutputWindow::SetInstance(errors);
  const std::string name = file.string();
  const vtkSmartPointer<vtkPointSet> data = read_by_extension(name.c_str(), extension);
  if (!errors->error.empty()) {
    damaged(name, sentence_of(errors->error));
  }
  if (data == nullptr || (vtkPolyData::SafeDownCast(data) == nullptr &&
                          vtkUnstructuredGrid::SafeDownCast(data) == nullptr)) {
    damaged(name, "an unstructured grid or polydata is expected in it");
  }
  MeshContent content = vtk_content(*data, name);
  if (!errors->warning.empty()) {
    content.notes.push_back("VTK warns: " + sentence_of(errors->warning));
  }
  return content;
}

// The first byte tells what follows: a mesh or the text of an error of the file.
constexpr char mesh_mark = 'm';
constexpr char error_mark = 'e';

std::string read_to_bytes(const std::filesystem::path& file, const std::string& extension) {
  try {
    return mesh_mark + to_bytes(read_here(file, extension));
  } catch (const InputError& error) {
    return error_mark + std::string(error.what());
  }
}

// Generous: VTK reads some 10 MB of text a second, and takes up to 30 times a text file's size.
ChildLimits limits_for(const std::filesystem::path& file) {
  const auto size = static_cast<std::size_t>(std::filesystem::file_size(file));
  return {static_cast<unsigned>(20 + size / 1'000'000),
          (std::size_t{4} << 30) + std::size_t{200} * size};
}

} // namespace

bool is_vtk_extension(const std::string& extension) {
  constexpr std::array<std::string_view, 5> known{".vtk", ".vtu", ".vtp", ".stl", ".ply"};
  return std::ranges::find(known, extension) != known.end();
}

MeshContent read_vtk_mesh(const std::filesystem::path& file, const std::string& extension) {
  const ChildOutcome outcome =
      run_in_child([&] { return read_to_bytes(file, extension); }, limits_for(file));
  const std::string name = file.string();
  if (outcome.end == ChildEnd::out_of_time) {
    damaged(name, "reading it took too long");
  }
  if (outcome.end == ChildEnd::out_of_memory) {
    damaged(name, "reading it would take too much memory");
  }
  if (outcome.end == ChildEnd::crashed || outcome.output.empty()) {
    damaged(name, "VTK cannot read it");
  }
  const std::string_view payload = std::string_view(outcome.output).substr(1);
  if (outcome.output[0] == error_mark) {
    throw InputError(std::string(payload));
  }
  std::optional<MeshContent> content = from_bytes(payload);
  if (!content) {
    damaged(name, "VTK cannot read it");
  }
  return std::move(*content);
}

} // namespace tidemark
