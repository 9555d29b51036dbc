#include "io/terminal.hpp"

#include "io/gel_text.hpp"
#include "io/heat_text.hpp"
#include "io/layup_text.hpp"
#include "io/mould_text.hpp"
#include "io/number_text.hpp"
#include "io/port_place.hpp"
#include "io/region_fields.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "mesh/triangulation.hpp"
#include "solver/channel.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <ostream>
#include <span>
#include <utility>
#include <vector>

namespace tidemark {

namespace {

std::string values_text(const Case& input) {
  std::size_t key_width = 0;
  std::size_t value_width = 0;
  for (const UsedValue& value : input.values) {
    key_width = std::max(key_width, value.key.size());
    value_width = std::max(value_width, value.value.size());
  }
  std::string text = "Values used:\n";
  for (const UsedValue& value : input.values) {
    text += "  " + value.key + std::string(key_width - value.key.size() + 2, ' ') + value.value +
            std::string(value_width - value.value.size() + 2, ' ') +
            (value.given ? "given" : "default") + "\n";
  }
  return text;
}

/// Shortest and longest side of any element [m].
std::pair<double, double> edge_range(const ShellMesh& mesh) {
  std::pair<double, double> range{std::numeric_limits<double>::infinity(), 0};
  for (const Element& element : mesh.elements) {
    const std::span<const NodeId> corners = element.corners();
    for (std::size_t i = 0; i < corners.size(); ++i) {
      const NodeId next = corners[(i + 1) % corners.size()];
      const double length = (mesh.positions[next] - mesh.positions[corners[i]]).norm();
      range = {std::min(range.first, length), std::max(range.second, length)};
    }
  }
  return range;
}

std::vector<double> region_areas(const FillProblem& problem) {
  std::vector<double> areas(problem.regions.size(), 0.0);
  for (const ElementId element : problem.element_region.ids()) {
    areas[problem.element_region[element].position()] += element_area(problem.mesh, element);
  }
  return areas;
}

/// "4.0 mm", or "2.0 mm to 6.0 mm (mean 4.0 mm)" where it differs.
std::string spread_text(const std::string& least, const std::string& mean,
                        const std::string& most) {
  return least == most ? mean : least + " to " + most + " (mean " + mean + ")";
}

std::string region_text(const Case& input, RegionId id, double area) {
  const Region& region = input.problem.regions[id.position()];
  const auto [thickness, fraction, shear, at] = region_spread(input.problem, id);
  std::string text =
      "  Region " + region.name + ": " + as_square_metres(area) + ", " +
      spread_text(as_millimetres(thickness.least), as_millimetres(region.thickness),
                  as_millimetres(thickness.most)) +
      " thick, fibre volume fraction " +
      spread_text(as_percent(fraction.least), as_percent(fibre_volume_fraction(region)),
                  as_percent(fraction.most)) +
      ", room for " + as_litres(area * region.thickness * region.porosity) + " of resin.\n";
  if (at.valid()) {
    text += "    Its cloth is sheared by up to " +
            rough_number(std::abs(shear) * 180 / std::numbers::pi) + " deg, at " +
            place_text(input, element_centre(input.problem.mesh, at)) + ".\n";
  }
  return text;
}

std::string mesh_text(const Case& input) {
  const FillProblem& problem = input.problem;
  const ShellMesh& mesh = problem.mesh;
  const std::vector<double> areas = region_areas(problem);
  const auto quads = static_cast<std::size_t>(
      std::ranges::count_if(mesh.elements, [](const Element& e) { return e.is_quad(); }));
  const auto [shortest, longest] = edge_range(mesh);
  double area = 0;
  double pore_volume = 0;
  std::string regions;
  for (std::size_t i = 0; i < areas.size(); ++i) {
    const Region& region = problem.regions[i];
    area += areas[i];
    pore_volume += areas[i] * region.thickness * region.porosity;
    regions += region_text(input, RegionId(i), areas[i]);
  }
  return "Mesh: " + counted(mesh.positions.size(), "node", "nodes") + ", " +
         counted(mesh.elements.size() - quads, "triangle", "triangles") + ", " +
         counted(quads, "quadrilateral", "quadrilaterals") + ".\n" + "  Edges from " +
         as_millimetres(shortest) + " to " + as_millimetres(longest) + ", area " +
         as_square_metres(area) + ", room for " + as_litres(pore_volume) + " of resin.\n" + regions;
}

std::string node_set_text(const Case& input, std::size_t nodes, const Vector3& place) {
  return counted(nodes, "node", "nodes") + (nodes == 1 ? " at " : " around ") +
         place_text(input, place);
}

std::string ports_text(const Case& input) {
  const FillProblem& problem = input.problem;
  std::string text;
  for (const Gate& gate : problem.gates) {
    text += "Gate " + gate.name + ": " +
            node_set_text(input, gate.nodes.size(), place_of_gate(problem.mesh, gate)) + ".\n";
  }
  for (const Vent& vent : problem.vents) {
    text += "Vent " + vent.name + ": " +
            node_set_text(input, vent.nodes.size(), middle_of(problem.mesh, vent.nodes)) + ", " +
            as_bar(vent.pressure) + ".\n";
  }
  return text;
}

std::string channels_text(const FillProblem& problem) {
  std::string text;
  for (const Channel& channel : problem.channels) {
    const auto [length, volume] = channel_size(problem.mesh, channel);
    text += "Channel " + channel.name + ": " + as_millimetres(length) + " along " +
            counted(channel.segments.size(), "edge", "edges") + " of the mesh, room for " +
            as_litres(volume) + " of resin.\n";
  }
  return text;
}

} // namespace

std::string check_text(const Case& input) {
  return printable(input.title + "\n\n" + values_text(input) + "\n" + mesh_text(input) +
                   layups_text(input) + resin_at_ages_text(input) + resin_in_mould_text(input) +
                   ports_text(input) + channels_text(input.problem) +
                   mould_at_rest_text(input.problem) + notes_text(input) +
                   warnings_text(input.warnings) + "\nThe case can be computed" +
                   (input.warnings.empty()
                        ? std::string(".")
                        : "; " + counted(input.warnings.size(), "warning", "warnings") + ".") +
                   "\n");
}

void PaceEstimate::add(double wall_time, double filled_fraction) {
  const std::size_t window = 10; // steps: later ones cost more, so old ones mislead
  samples_.emplace_back(wall_time, filled_fraction);
  if (samples_.size() > window) {
    samples_.pop_front();
  }
}

std::optional<double> PaceEstimate::time_left() const {
  if (samples_.size() < 2) {
    return std::nullopt;
  }
  const auto [first_time, first_fraction] = samples_.front();
  const auto [time, fraction] = samples_.back();
  if (fraction <= first_fraction) {
    return std::nullopt;
  }
  return (1 - fraction) * (time - first_time) / (fraction - first_fraction);
}

std::string progress_text(double filled_fraction, double time, std::optional<double> time_left) {
  std::string text = as_percent(filled_fraction) + " filled at " + as_minutes(time);
  if (!time_left) {
    return text;
  }
  const std::string left =
      *time_left < 60 ? std::to_string(std::lround(*time_left)) + " s" : as_minutes(*time_left);
  return text + ", about " + left + " left";
}

ProgressLine::ProgressLine(std::ostream& stream) : stream_(stream), start_(Clock::now()) {}

ProgressLine::~ProgressLine() {
  if (shown_) {
    show("");
    stream_ << '\r' << std::flush;
  }
}

void ProgressLine::after_step(const HistoryRow& row) {
  const Clock::time_point now = Clock::now();
  pace_.add(std::chrono::duration<double>(now - start_).count(), row.filled_fraction);
  if (!shown_ || now - *shown_ >= std::chrono::milliseconds(100)) {
    show(progress_text(row.filled_fraction, row.time, pace_.time_left()));
    shown_ = now;
  }
}

void ProgressLine::show(const std::string& text) {
  const std::size_t rest = width_ > text.size() ? width_ - text.size() : 0;
  stream_ << '\r' << text << std::string(rest, ' ') << std::flush;
  width_ = text.size();
}

} // namespace tidemark
