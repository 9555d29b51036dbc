#include "io/field_writer.hpp"

#include "io/number_text.hpp"
#include "io/output_folder.hpp"
#include "mesh/error.hpp"
#include "solver/element_permeability.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <mutex>
#include <utility>

#include <vtkCellArray.h>
#include <vtkCellData.h>
#include <vtkDoubleArray.h>
#include <vtkFieldData.h>
#include <vtkIntArray.h>
#include <vtkNew.h>
#include <vtkPointData.h>
#include <vtkPoints.h>
#include <vtkUnsignedCharArray.h>
#include <vtkXMLUnstructuredGridWriter.h>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

/// Several fillings may run at once, and VTK's factories and writers are not made for that.
std::mutex& vtk_mutex() {
  static std::mutex mutex;
  return mutex;
}

template <class Id>
vtkSmartPointer<vtkDoubleArray> scalar_array(const char* name, const Indexed<Id, double>& values) {
  auto array = vtkSmartPointer<vtkDoubleArray>::New();
  array->SetName(name);
  array->SetNumberOfValues(static_cast<vtkIdType>(values.size()));
  std::ranges::copy(values, array->GetPointer(0));
  return array;
}

vtkSmartPointer<vtkDoubleArray> vector_array(const char* name, const PerElement<Vector3>& values) {
  auto array = vtkSmartPointer<vtkDoubleArray>::New();
  array->SetName(name);
  array->SetNumberOfComponents(3);
  array->SetNumberOfTuples(static_cast<vtkIdType>(values.size()));
  for (const ElementId element : values.ids()) {
    array->SetTuple(element.value(), values[element].data());
  }
  return array;
}

/// A property of the reinforcement as a field over the elements.
template <class Property>
vtkSmartPointer<vtkDoubleArray> property_array(const char* name, const FillProblem& problem,
                                               Property property) {
  PerElement<double> values(problem.element_region.size());
  for (const ElementId element : values.ids()) {
    values[element] = property(reinforcement_at(problem, element));
  }
  return scalar_array(name, values);
}

bool is_sheared(const FillProblem& problem) {
  return std::ranges::any_of(problem.reinforcement,
                             [](const Reinforcement& local) { return local.shear != 0; });
}

/// A name as VTK's writer must be given it, since it does not escape the names of arrays itself.
/// Control characters, which XML cannot hold at all, become question marks.
std::string xml_name(const std::string& name) {
  std::string text;
  for (const char c : name) {
    if (c == '&' || c == '<' || c == '>' || c == '"') {
      text += "&#" + std::to_string(static_cast<int>(c)) + ";";
    } else {
      text += (c >= 0 && c < ' ') || c == 0x7f ? '?' : c;
    }
  }
  return text;
}

void add_region_numbers(vtkUnstructuredGrid& grid, const FillProblem& problem) {
  vtkNew<vtkIntArray> numbers;
  numbers->SetName("region");
  for (const RegionId region : problem.element_region) {
    numbers->InsertNextValue(region.value());
  }
  grid.GetCellData()->AddArray(numbers);
  for (std::size_t region = 0; region < problem.regions.size(); ++region) {
    vtkNew<vtkIntArray> number;
    number->SetName(("region_name:" + xml_name(problem.regions[region].name)).c_str());
    number->InsertNextValue(static_cast<int>(region));
    grid.GetFieldData()->AddArray(number);
  }
}

void add_element_fields(vtkUnstructuredGrid& grid, const FillProblem& problem,
                        const PerNode<double>& pressure) {
  vtkCellData& data = *grid.GetCellData();
  const auto add = [&](const char* name, auto property) {
    data.AddArray(property_array(name, problem, property));
  };
  add("thickness", [](const Reinforcement& local) { return local.thickness; });
  add("porosity", [](const Reinforcement& local) { return local.porosity; });
  add("fibre_volume_fraction",
      [](const Reinforcement& local) { return local.fibre_volume_fraction; });
  add("permeability_1", [](const Reinforcement& local) { return local.permeability_1; });
  add("permeability_2", [](const Reinforcement& local) { return local.permeability_2; });
  if (is_sheared(problem)) {
    add("shear_angle", [](const Reinforcement& local) { return local.shear; });
  }
  data.AddArray(vector_array("direction_1", direction_1(problem)));
  data.AddArray(vector_array("velocity", darcy_velocity(problem, pressure)));
}

void set_node_fields(vtkUnstructuredGrid& grid, const NodeFields& fields) {
  vtkPointData& data = *grid.GetPointData();
  data.AddArray(scalar_array("fill_time", fields.fill_time)); // takes the place of an older one
  data.AddArray(scalar_array("pressure", fields.pressure));
  data.AddArray(scalar_array("fill_fraction", fields.fill_fraction));
  if (!fields.resin_age.empty()) {
    data.AddArray(scalar_array("resin_age", fields.resin_age));
    data.AddArray(scalar_array("viscosity", fields.viscosity));
  }
  if (!fields.temperature.empty()) {
    data.AddArray(scalar_array("temperature", fields.temperature));
  }
  if (!fields.conversion.empty()) {
    data.AddArray(scalar_array("conversion", fields.conversion));
  }
}

void add_gate_numbers(vtkUnstructuredGrid& grid, const PerNode<std::int32_t>& gate_index) {
  vtkNew<vtkIntArray> numbers;
  numbers->SetName("gate_index");
  for (const std::int32_t gate : gate_index) {
    numbers->InsertNextValue(gate);
  }
  grid.GetPointData()->AddArray(numbers);
}

/// Where VTK's readers look for the time of a file.
void set_time(vtkUnstructuredGrid& grid, double time) {
  vtkNew<vtkDoubleArray> value;
  value->SetName("TimeValue");
  value->InsertNextValue(time);
  grid.GetFieldData()->AddArray(value);
}

/// VTK writes to memory and we to the disk: when that is full, VTK 9.1 crashes.
void write_grid(const fs::path& file, vtkUnstructuredGrid& grid) {
  vtkNew<vtkXMLUnstructuredGridWriter> writer;
  writer->WriteToOutputStringOn();
  writer->SetInputData(&grid);
  writer->SetDataModeToBinary();
  writer->SetCompressorTypeToZLib();
  writer->SetCompressionLevel(1); // level 6: five times the time, 3 % less (measured)
  if (writer->Write() == 0) {
    throw FileError(file.string() + ": VTK could not write it");
  }
  write_text_file(file, writer->GetOutputString());
}

std::string frame_name(std::size_t number) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "front_%04zu.vtu", number);
  return text.data();
}

} // namespace

vtkSmartPointer<vtkUnstructuredGrid> grid_of(const ShellMesh& mesh) {
  vtkNew<vtkPoints> points;
  points->SetDataTypeToDouble();
  points->SetNumberOfPoints(static_cast<vtkIdType>(mesh.positions.size()));
  for (const NodeId node : mesh.positions.ids()) {
    points->SetPoint(node.value(), mesh.positions[node].data());
  }
  vtkNew<vtkCellArray> cells;
  cells->Use32BitStorage();
  vtkNew<vtkUnsignedCharArray> types;
  for (const Element& element : mesh.elements) {
    cells->InsertNextCell(element.is_quad() ? 4 : 3);
    for (const NodeId node : element.corners()) {
      cells->InsertCellPoint(node.value());
    }
    types->InsertNextValue(element.is_quad() ? VTK_QUAD : VTK_TRIANGLE);
  }
  auto grid = vtkSmartPointer<vtkUnstructuredGrid>::New();
  grid->SetPoints(points);
  grid->SetCells(types, cells);
  return grid;
}

void write_end_state(const fs::path& file, const FillProblem& problem, const NodeFields& fields,
                     const PerNode<std::int32_t>& gate_index) {
  const std::scoped_lock lock(vtk_mutex());
  const vtkSmartPointer<vtkUnstructuredGrid> grid = grid_of(problem.mesh);
  set_node_fields(*grid, fields);
  if (!gate_index.empty()) {
    add_gate_numbers(*grid, gate_index);
  }
  add_region_numbers(*grid, problem);
  add_element_fields(*grid, problem, fields.pressure);
  write_grid(file, *grid);
}

void write_node_fields(const fs::path& file, const FillProblem& problem,
                       const std::vector<NamedField>& fields) {
  const std::scoped_lock lock(vtk_mutex());
  const vtkSmartPointer<vtkUnstructuredGrid> grid = grid_of(problem.mesh);
  for (const NamedField& field : fields) {
    grid->GetPointData()->AddArray(scalar_array(field.name, field.values));
  }
  add_region_numbers(*grid, problem);
  write_grid(file, *grid);
}

bool FrameSchedule::due(double filled_fraction, bool is_last) {
  const bool is_due =
      wanted_ > 0 &&
      (is_last || (next_mark_ < wanted_ - 1 && filled_fraction * (wanted_ - 1) >= next_mark_));
  while (is_due && next_mark_ < wanted_ && filled_fraction * (wanted_ - 1) >= next_mark_) {
    ++next_mark_; // marks passed in one step share one frame
  }
  return is_due;
}

FrontSeries::FrontSeries(fs::path folder, const FillProblem& problem, int frames)
    : folder_(std::move(folder)), frames_(frames), schedule_(frames) {
  if (frames_ > 0) {
    const std::scoped_lock lock(vtk_mutex());
    grid_ = grid_of(problem.mesh);
    add_region_numbers(*grid_, problem);
  }
}

void FrontSeries::after_step(const StepReport& report) {
  if (schedule_.due(report.row.filled_fraction, report.is_last)) {
    write_frame(report.row.time,
                {report.fill_time, report.pressure, report.fill_fraction, report.resin_age,
                 report.viscosity, report.temperature, report.conversion});
  }
}

void FrontSeries::finish(const FillResult& result) {
  if (!times_.empty() && times_.back() == result.end_time) {
    times_.pop_back(); // as it was after the step, with the mean pressure of that
  }
  if (frames_ > 0) {
    write_frame(result.end_time,
                {result.fill_time_field, result.pressure, result.fill_fraction, result.resin_age,
                 result.viscosity, result.temperature, result.conversion});
  }
}

void FrontSeries::write_frame(double time, const NodeFields& fields) {
  const std::scoped_lock lock(vtk_mutex());
  set_node_fields(*grid_, fields);
  set_time(*grid_, time);
  write_grid(folder_ / frame_name(times_.size()), *grid_);
  times_.push_back(time);
  write_text_file(folder_ / "front.pvd", series_text(times_));
}

std::string series_text(const std::vector<double>& times) {
  std::string text = "<?xml version=\"1.0\"?>\n"
                     "<VTKFile type=\"Collection\" version=\"0.1\">\n"
                     "  <Collection>\n";
  for (std::size_t frame = 0; frame < times.size(); ++frame) {
    text += "    <DataSet timestep=\"" + number_text(times[frame]) +
            "\" group=\"\" part=\"0\" file=\"" + frame_name(frame) + "\"/>\n";
  }
  return text + "  </Collection>\n</VTKFile>\n";
}

} // namespace tidemark
