// The files are read back with VTK's own reader; expected velocities are Darcy's law by hand.
#include "io/field_writer.hpp"
#include "io/written_files.hpp"
#include "mesh/error.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <vtkCellData.h>
#include <vtkDataArray.h>
#include <vtkFieldData.h>
#include <vtkNew.h>
#include <vtkPointData.h>
#include <vtkXMLUnstructuredGridReader.h>

#include <cmath>
#include <regex>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

vtkSmartPointer<vtkUnstructuredGrid> read_grid(const fs::path& file) {
  vtkNew<vtkXMLUnstructuredGridReader> reader;
  reader->SetFileName(file.c_str());
  reader->Update();
  return reader->GetOutput();
}

NodeFields fields_of(const FillResult& result) {
  return {result.fill_time_field, result.pressure, result.fill_fraction};
}

double value_at(vtkFieldData* data, const char* name, int tuple, int component = 0) {
  vtkDataArray* const array = data->GetArray(name);
  REQUIRE(array != nullptr);
  return array->GetComponent(tuple, component);
}

/// The state after a step whose numbers come from a result, at a filled fraction.
struct Step {
  const FillResult& result;
  HistoryRow row;
  bool is_last;
  [[nodiscard]] StepReport report() const {
    return {1, is_last, row, result.fill_fraction, result.pressure, result.fill_time_field};
  }
};

std::vector<double> fractions_due(int wanted, int steps) {
  FrameSchedule schedule(wanted);
  std::vector<double> due;
  for (int step = 1; step <= steps; ++step) {
    const double fraction = static_cast<double>(step) / steps;
    if (schedule.due(fraction, step == steps)) {
      due.push_back(fraction);
    }
  }
  return due;
}

/// Times and file names of a series file.
std::vector<std::pair<double, std::string>> series_of(const fs::path& file) {
  const std::string text = read_file(file);
  const std::regex pattern("timestep=\"([^\"]*)\" group=\"\" part=\"0\" file=\"([^\"]*)\"");
  std::vector<std::pair<double, std::string>> series;
  for (auto match = std::sregex_iterator(text.begin(), text.end(), pattern);
       match != std::sregex_iterator(); ++match) {
    series.emplace_back(std::stod((*match)[1]), (*match)[2]);
  }
  return series;
}

} // namespace

TEST_CASE("end state: the user's own mesh, in metres") {
  const TemporaryFolder folder;
  const Case input = sample_case();
  write_end_state(folder.path() / "fill.vtu", input.problem, fields_of(sample_result()),
                  sample_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  REQUIRE(grid->GetNumberOfPoints() == 6);
  REQUIRE(grid->GetNumberOfCells() == 3);
  CHECK(grid->GetCellType(0) == VTK_QUAD);
  CHECK(grid->GetCellType(1) == VTK_TRIANGLE);
  CHECK(grid->GetPoint(5)[0] == 2);
  CHECK(grid->GetPoint(5)[1] == 1);
  vtkNew<vtkIdList> corners;
  grid->GetCellPoints(0, corners);
  REQUIRE(corners->GetNumberOfIds() == 4);
  CHECK(corners->GetId(2) == 4);
  CHECK(!fs::exists(temporary_name(folder.path() / "fill.vtu")));
}

TEST_CASE("age and viscosity of the resin are written where they count") {
  const TemporaryFolder folder;
  const FillResult result = sample_result();
  PerNode<double> age(result.pressure.size(), 300.0);
  const PerNode<double> viscosity(result.pressure.size(), 0.25);
  age[NodeId(5)] = std::numeric_limits<double>::quiet_NaN(); // still dry
  const fs::path file = folder.path() / "fill.vtu";
  write_end_state(file, sample_case().problem,
                  {result.fill_time_field, result.pressure, result.fill_fraction, age, viscosity},
                  {});
  const auto aged = read_grid(file);
  CHECK(value_at(aged->GetPointData(), "resin_age", 0) == 300);
  CHECK(std::isnan(value_at(aged->GetPointData(), "resin_age", 5)));
  CHECK(value_at(aged->GetPointData(), "viscosity", 3) == 0.25);
  write_end_state(file, sample_case().problem, fields_of(result), {});
  CHECK(read_grid(file)->GetPointData()->GetArray("resin_age") == nullptr);
}

TEST_CASE("end state: node fields, NaN where the front has not been") {
  const TemporaryFolder folder;
  write_end_state(folder.path() / "fill.vtu", sample_case().problem, fields_of(short_result()),
                  short_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  vtkPointData* const data = grid->GetPointData();
  CHECK(data->GetNumberOfArrays() == 4);
  CHECK(value_at(data, "gate_index", 0) == 0);
  CHECK(value_at(data, "gate_index", 5) == -1);
  CHECK(value_at(data, "fill_time", 2) == 400);
  CHECK(std::isnan(value_at(data, "fill_time", 5)));
  CHECK(value_at(data, "pressure", 1) == 6e4);
  CHECK(value_at(data, "fill_fraction", 5) == 0.25);
}

TEST_CASE("end state: which gate's resin is where") {
  const TemporaryFolder folder;
  write_end_state(folder.path() / "fill.vtu", sample_case().problem, fields_of(sample_result()),
                  {0, 1, 1, 0, 2, -1});
  const auto grid = read_grid(folder.path() / "fill.vtu");
  CHECK(value_at(grid->GetPointData(), "gate_index", 0) == 0);
  CHECK(value_at(grid->GetPointData(), "gate_index", 2) == 1);
  CHECK(value_at(grid->GetPointData(), "gate_index", 4) == 2);
  CHECK(value_at(grid->GetPointData(), "gate_index", 5) == -1);
}

TEST_CASE("end state: element fields") {
  const TemporaryFolder folder;
  write_end_state(folder.path() / "fill.vtu", sample_case().problem, fields_of(sample_result()),
                  sample_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  vtkCellData* const data = grid->GetCellData();
  CHECK(data->GetNumberOfArrays() == 8);
  CHECK(value_at(data, "region", 0) == 0);
  CHECK(value_at(data, "region", 2) == 1);
  CHECK(value_at(data, "thickness", 0) == 4e-3);
  CHECK(value_at(data, "porosity", 0) == 0.75);
  CHECK(value_at(data, "fibre_volume_fraction", 0) == 0.25);
  CHECK(value_at(data, "permeability_1", 1) == 1e-9);
  CHECK(value_at(data, "permeability_2", 1) == 5e-10);
  CHECK(value_at(grid->GetFieldData(), "region_name:skin", 0) == 0);
  CHECK(value_at(grid->GetFieldData(), "region_name:core", 0) == 1);
}

TEST_CASE("end state: what differs within a region, and shear where there is any") {
  const TemporaryFolder folder;
  const Case input = case_that_varies();
  write_end_state(folder.path() / "fill.vtu", input.problem, fields_of(sample_result()),
                  sample_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  vtkCellData* const data = grid->GetCellData();
  CHECK(data->GetNumberOfArrays() == 9);
  CHECK(value_at(data, "thickness", 0) == 4e-3);
  CHECK(value_at(data, "thickness", 1) == 1e-3);
  CHECK(value_at(data, "thickness", 2) == 3e-3);
  CHECK(value_at(data, "fibre_volume_fraction", 1) == 0.6);
  CHECK(value_at(data, "shear_angle", 1) == 0);
  CHECK(value_at(data, "shear_angle", 2) == -0.5);
}

TEST_CASE("end state: a core is neither fibre nor pore") {
  const TemporaryFolder folder;
  FillProblem problem = sample_case().problem;
  problem.regions[0].fibre_volume_fraction = 0.125; // of a layup; the pores stay 0.75
  write_end_state(folder.path() / "fill.vtu", problem, fields_of(sample_result()),
                  sample_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  CHECK(value_at(grid->GetCellData(), "porosity", 0) == 0.75);
  CHECK(value_at(grid->GetCellData(), "fibre_volume_fraction", 0) == 0.125);
}

TEST_CASE("end state: direction and velocity are vectors, by Darcy's law") {
  const TemporaryFolder folder;
  write_end_state(folder.path() / "fill.vtu", sample_case().problem, fields_of(sample_result()),
                  sample_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  vtkCellData* const data = grid->GetCellData();
  REQUIRE(data->GetArray("direction_1")->GetNumberOfComponents() == 3);
  REQUIRE(data->GetArray("velocity")->GetNumberOfComponents() == 3);
  CHECK(value_at(data, "direction_1", 0, 0) == doctest::Approx(1));
  CHECK(value_at(data, "direction_1", 1, 1) == doctest::Approx(1));
  // v = K / mu * 4e4 Pa/m: 3e-9 / 0.2 * 4e4 along K1, and 5e-10 / 0.2 * 4e4 across it
  CHECK(value_at(data, "velocity", 0, 0) == doctest::Approx(6e-4));
  CHECK(value_at(data, "velocity", 1, 0) == doctest::Approx(1e-4));
  CHECK(std::abs(value_at(data, "velocity", 1, 1)) < 1e-12);
}

TEST_CASE("end state: any region name gives a file that can be read") {
  const TemporaryFolder folder;
  Case input = sample_case();
  input.problem.regions[0].name = "a \"b\" <c> & d\n";
  write_end_state(folder.path() / "fill.vtu", input.problem, fields_of(sample_result()),
                  sample_result().gate_index);
  const auto grid = read_grid(folder.path() / "fill.vtu");
  REQUIRE(grid->GetNumberOfPoints() == 6);
  CHECK(value_at(grid->GetFieldData(), "region_name:a \"b\" <c> & d?", 0) == 0);
}

TEST_CASE("end state: the same state gives the same bytes") {
  const TemporaryFolder folder;
  for (const char* name : {"one.vtu", "two.vtu"}) {
    write_end_state(folder.path() / name, sample_case().problem, fields_of(short_result()),
                    short_result().gate_index);
  }
  CHECK(!read_file(folder.path() / "one.vtu").empty());
  CHECK(read_file(folder.path() / "one.vtu") == read_file(folder.path() / "two.vtu"));
}

TEST_CASE("end state: a folder that is not there is a FileError that names the file") {
  const TemporaryFolder folder;
  CHECK_THROWS_WITH_AS(write_end_state(folder.path() / "missing" / "fill.vtu",
                                       sample_case().problem, fields_of(sample_result()),
                                       sample_result().gate_index),
                       doctest::Contains("fill.vtu"), FileError);
}

TEST_CASE("frames: spread evenly from the first step to the last") {
  CHECK(fractions_due(0, 100).empty());
  CHECK(fractions_due(1, 100) == std::vector<double>{1});
  CHECK(fractions_due(2, 100) == std::vector<double>{0.01, 1});
  CHECK(fractions_due(5, 100) == std::vector<double>{0.01, 0.25, 0.5, 0.75, 1});
  CHECK(fractions_due(40, 100).size() == 40);
  CHECK(fractions_due(40, 8).size() == 8); // never more than there are steps
}

TEST_CASE("frames: a step over several marks is one frame") {
  FrameSchedule schedule(5);
  CHECK(schedule.due(0.6, false)); // the first step, over the marks 0, 0.25 and 0.5
  CHECK(!schedule.due(0.7, false));
  CHECK(schedule.due(0.8, false));
  CHECK(schedule.due(0.9, true)); // the end of a short fill
}

TEST_CASE("series: after every frame the files on disk belong together") {
  const TemporaryFolder folder;
  const Case input = sample_case();
  const FillResult result = sample_result();
  FrontSeries series(folder.path(), input.problem, 40);
  for (std::size_t step = 0; step < result.history.size(); ++step) {
    series.after_step(Step{result, result.history[step], step == 2}.report());
    const auto listed = series_of(folder.path() / "front.pvd");
    REQUIRE(listed.size() == step + 1);
    CHECK(listed.back().first == result.history[step].time);
    CHECK(fs::exists(folder.path() / listed.back().second));
  }
  series.finish(result);
  CHECK(series.frames_written() == 3); // the last state was there already
  CHECK(!fs::exists(folder.path() / "front_0003.vtu"));
}

TEST_CASE("series: frames carry the fields and the time of their step") {
  const TemporaryFolder folder;
  const Case input = sample_case();
  const FillResult first = short_result();
  const FillResult second = sample_result();
  FrontSeries series(folder.path(), input.problem, 2);
  series.after_step(Step{first, first.history[0], false}.report());
  series.after_step(Step{second, second.history[2], true}.report());
  const auto early = read_grid(folder.path() / "front_0000.vtu");
  const auto late = read_grid(folder.path() / "front_0001.vtu");
  CHECK(std::isnan(value_at(early->GetPointData(), "fill_time", 5)));
  CHECK(value_at(early->GetPointData(), "fill_fraction", 5) == 0.25);
  CHECK(value_at(early->GetFieldData(), "TimeValue", 0) == 100);
  CHECK(value_at(late->GetPointData(), "fill_time", 5) == 600);
  CHECK(value_at(late->GetPointData(), "pressure", 0) == 1e5);
  CHECK(value_at(late->GetFieldData(), "TimeValue", 0) == 600);
  CHECK(late->GetPointData()->GetNumberOfArrays() == 3);
  CHECK(value_at(late->GetCellData(), "region", 1) == 1);
}

TEST_CASE("series: a run that was stopped ends with its last state") {
  const TemporaryFolder folder;
  const Case input = sample_case();
  const FillResult result = short_result();
  FrontSeries series(folder.path(), input.problem, 3);
  series.after_step(Step{result, result.history[0], false}.report());
  series.finish(result);
  const auto listed = series_of(folder.path() / "front.pvd");
  REQUIRE(listed.size() == 2);
  CHECK(listed[1].first == result.end_time);
  CHECK(read_grid(folder.path() / listed[1].second)->GetNumberOfPoints() == 6);
}

TEST_CASE("series: none is written if none is wanted") {
  const TemporaryFolder folder;
  const Case input = sample_case();
  const FillResult result = sample_result();
  FrontSeries series(folder.path(), input.problem, 0);
  series.after_step(Step{result, result.history[2], true}.report());
  series.finish(result);
  CHECK(fs::is_empty(folder.path()));
}
