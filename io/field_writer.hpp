// The filling as VTK files: the end state, and the front as a series of pictures in time.
#pragma once

#include "solver/filling.hpp"

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include <vtkSmartPointer.h>
#include <vtkUnstructuredGrid.h>

namespace tidemark {

/// The fields at the nodes at one time; the references must outlive it.
struct NodeFields {
  const PerNode<double>& fill_time;     // [s], NaN where the front has not been
  const PerNode<double>& pressure;      // gauge [Pa]
  const PerNode<double>& fill_fraction; // [-]
  /// Age of the resin [s], NaN where none is, and its viscosity [Pa s]; empty if age does not
  /// count, and then not written.
  const PerNode<double>& resin_age = no_field;
  const PerNode<double>& viscosity = no_field;
  const PerNode<double>& temperature = no_field; // [K], as above
  const PerNode<double>& conversion = no_field;  // [-], as above
};

/// The user's own mesh, triangles and quadrilaterals, positions in metres.
vtkSmartPointer<vtkUnstructuredGrid> grid_of(const ShellMesh& mesh);

/// Writes the end state with everything known about nodes and elements. Point data: fill_time [s],
/// pressure [Pa], fill_fraction, gate_index (number of the gate, from 0, whose resin came to the
/// node first, -1 where none did; left out if gate_index is empty). Cell data: region (number of
/// the region, from 0), thickness [m], porosity, fibre_volume_fraction, permeability_1 and
/// permeability_2 [m2], direction_1 (unit vector), velocity (superficial [m/s]), and shear_angle
/// [rad] if cloth is sheared. Field data: one array per region called "region_name:" + name that
/// holds its number, since several readers choke on arrays of text. Throws FileError.
void write_end_state(const std::filesystem::path& file, const FillProblem& problem,
                     const NodeFields& fields, const PerNode<std::int32_t>& gate_index);

/// Values at the nodes under a name.
struct NamedField {
  const char* name;
  const PerNode<double>& values;
};

/// Writes fields at the nodes, and the region of each element as above. Throws FileError.
void write_node_fields(const std::filesystem::path& file, const FillProblem& problem,
                       const std::vector<NamedField>& fields);

/// Picks the steps to write so that about the wanted number of frames is spread evenly over the
/// filled fraction: the first step, the last one, and between them a step each time the filled
/// fraction has passed the next of wanted - 2 equal marks.
class FrameSchedule {
public:
  explicit FrameSchedule(int wanted) : wanted_(wanted) {}
  /// Whether the step that ended at this filled fraction is to be written.
  bool due(double filled_fraction, bool is_last);

private:
  int wanted_;        // 0: none at all
  int next_mark_ = 0; // the frame is due at next_mark_ / (wanted_ - 1)
};

/// front_0000.vtu, front_0001.vtu, ... and front.pvd, which names them with their times. After
/// every frame the files on disk are whole and belong together. Each frame carries fill_time,
/// pressure, fill_fraction and region, and resin_age, viscosity, temperature and conversion if
/// there are any. Throws FileError.
class FrontSeries {
public:
  /// frames: at most that many; 0 = the series is not written.
  FrontSeries(std::filesystem::path folder, const FillProblem& problem, int frames);
  /// Writes the state of a step if it is due.
  void after_step(const StepReport& report);
  /// Makes sure that the last state is in the series as in the result, also of a stopped run.
  void finish(const FillResult& result);
  [[nodiscard]] std::size_t frames_written() const { return times_.size(); }

private:
  void write_frame(double time, const NodeFields& fields);

  std::filesystem::path folder_;
  vtkSmartPointer<vtkUnstructuredGrid> grid_;
  int frames_;
  FrameSchedule schedule_;
  std::vector<double> times_; // of the frames written [s]
};

/// Text of the file that names the frames with their times [s].
std::string series_text(const std::vector<double>& times);

} // namespace tidemark
