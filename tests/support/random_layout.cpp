#include "tests/support/random_layout.hpp"

#include "tests/support/fleet.hpp"
#include "tests/support/meshes.hpp"

#include "solver/channel.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <set>
#include <sstream>

namespace tidemark::test {

using std::numbers::pi;

namespace {

constexpr double never = std::numeric_limits<double>::infinity();

/// Draws, the same on every machine.
class Dice {
public:
  explicit Dice(std::uint32_t seed) : random_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * (static_cast<double>(random_()) / 4294967296.0);
  }
  int count(int low, int high) {
    return low + static_cast<int>(random_() % static_cast<std::uint32_t>(high - low + 1));
  }
  bool chance(double share) { return between(0, 1) < share; }
  /// Evenly in the logarithm.
  double scale(double low, double high) { return std::exp(between(std::log(low), std::log(high))); }
  Vector3 direction() {
    const double z = between(-1, 1);
    const double angle = between(0, 2 * pi);
    const double r = std::sqrt(1 - z * z);
    return {r * std::cos(angle), r * std::sin(angle), z};
  }

private:
  std::mt19937 random_;
};

ShellMesh random_plate(Dice& dice) {
  PlateShape shape;
  shape.length = dice.between(0.3, 1.5);
  shape.width = dice.between(0.1, 1.0);
  shape.columns = dice.count(4, 20);
  shape.rows = dice.count(3, 16);
  shape.seed = dice.chance(0.2) ? 0 : static_cast<std::uint32_t>(dice.count(1, 1000000));
  shape.jitter = shape.seed == 0 ? 0 : dice.between(0, 0.3);
  shape.quads = dice.chance(0.3);
  return plate(shape);
}

ShellMesh random_curved_mesh(Dice& dice) {
  const auto seed = static_cast<std::uint32_t>(dice.count(1, 1000000));
  ShellMesh mesh;
  if (dice.chance(0.5)) {
    mesh = disc(0.5, dice.count(3, 10), 0.25, seed);
    wrap_on_sphere(mesh, dice.between(0.4, 2.0));
  } else {
    mesh = random_plate(dice);
    roll_on_cylinder(mesh, dice.between(0.5, 2.0));
  }
  return mesh;
}

/// Two plates joined by a narrow neck, or with no neck between them.
ShellMesh two_lobes(Dice& dice, bool is_joined) {
  ShellMesh one = plate({.length = 0.4, .width = 0.4, .columns = 8, .rows = 8});
  ShellMesh other = one;
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0.6, 0, 0)); });
  std::vector<ShellMesh> parts{one, other};
  if (is_joined) {
    ShellMesh neck = plate({.length = 0.2, .width = 0.05, .columns = 4, .rows = 1});
    const double shift = 0.05 * dice.count(0, 7);
    deform(neck, [&](const Vector3& x) { return Vector3(x + Vector3(0.4, shift, 0)); });
    parts.push_back(neck);
  }
  return welded(parts);
}

ShellMesh random_mesh(Dice& dice) {
  const auto seed = static_cast<std::uint32_t>(dice.count(1, 1000000));
  const int one = dice.count(3, 10);
  switch (dice.count(0, 8)) {
  case 0:
    return disc(0.5, one, 0.25, seed);
  case 1:
    return annulus(0.05, 0.5, one, 4 * one, 2 * pi, 0.2, seed);
  case 2:
    return t_joint(0.5, 0.3, one, 1 + one / 2);
  case 3:
    return random_curved_mesh(dice);
  case 4:
    return two_lobes(dice, true);
  case 5:
    return two_lobes(dice, dice.chance(0.5));
  case 6:
    return triangle_plate(1, dice.count(5, 22), 0.2, seed);
  default:
    return random_plate(dice);
  }
}

NodeId random_node(Dice& dice, const ShellMesh& mesh) {
  return NodeId(dice.count(0, static_cast<int>(mesh.positions.size()) - 1));
}

/// One node, those near it, or a strip of the part; without the ones already used.
std::vector<NodeId> random_nodes(Dice& dice, const ShellMesh& mesh, std::set<NodeId>& used) {
  const Vector3 at = mesh.positions[random_node(dice, mesh)];
  std::vector<NodeId> nodes{nearest_node(mesh, at)};
  const double extent = mesh_extent(mesh);
  if (dice.chance(0.3)) {
    nodes = nodes_within(mesh, at, dice.between(0.02, 0.2) * extent);
  } else if (dice.chance(0.2)) {
    const Vector3 across = dice.chance(0.5) ? Vector3::UnitX() : Vector3::UnitY();
    nodes = nodes_where(
        mesh, [&](const Vector3& x) { return std::abs((x - at).dot(across)) < 0.02 * extent; });
  }
  std::erase_if(nodes, [&](NodeId node) { return used.contains(node); });
  used.insert(nodes.begin(), nodes.end());
  return nodes;
}

std::vector<Hose> random_line(Dice& dice) {
  std::vector<Hose> line;
  while (dice.chance(0.3)) {
    line.push_back({dice.between(0.2, 5), dice.between(2e-3, 1.5e-2)});
  }
  return line;
}

struct Typical {
  double volume;   // of the pores [m3]
  double duration; // of a filling [s]
};

double random_cap(Dice& dice) {
  return dice.chance(0.1) ? dice.between(-9e4, 1e4) : dice.scale(1e4, 1e6);
}

InjectorStage random_stage(Dice& dice, const Typical& typical) {
  InjectorStage stage;
  if (dice.chance(0.5)) {
    stage.from_time = dice.between(0.01, 1) * typical.duration;
  } else {
    stage.from_volume = dice.between(0.01, 1) * typical.volume;
  }
  const bool sets_flow = dice.chance(0.6);
  if (sets_flow) {
    stage.flow_rate = dice.scale(0.1, 10) * typical.volume / typical.duration;
  }
  if (!sets_flow || dice.chance(0.3)) {
    stage.pressure_cap = random_cap(dice);
  }
  return stage;
}

Injector random_injector(Dice& dice, const Typical& typical) {
  Injector injector;
  const int kind = dice.count(0, 4);
  if (kind != 0) {
    injector.pressure_cap = random_cap(dice);
  }
  if (kind == 0 || kind >= 3) {
    injector.flow_rate = dice.scale(0.1, 10) * typical.volume / typical.duration;
  }
  injector.line = random_line(dice);
  while (dice.chance(0.2)) {
    injector.stages.push_back(random_stage(dice, typical));
  }
  return injector;
}

/// A time, the front reaching a port, or never.
Moment random_moment(Dice& dice, const Typical& typical, int gates, int vents) {
  if (dice.chance(0.5)) {
    return {.time = dice.between(0, 1.5) * typical.duration};
  }
  const bool by_vent = vents > 0 && dice.chance(0.6);
  const PortRef port{by_vent ? PortRef::Kind::vent : PortRef::Kind::gate,
                     static_cast<std::size_t>(dice.count(0, (by_vent ? vents : gates) - 1))};
  return {.reached = port};
}

void add_ports(Dice& dice, FillProblem& problem, const Typical& typical) {
  std::set<NodeId> used;
  problem.gates.clear();
  const int gates = dice.count(1, 4);
  for (int g = 0; g < gates; ++g) {
    Gate gate{"G" + std::to_string(g + 1), random_nodes(dice, problem.mesh, used), Vector3::Zero(),
              std::nullopt};
    if (gate.nodes.empty()) {
      continue;
    }
    gate.centre = problem.mesh.positions[gate.nodes.front()];
    if (gate.nodes.size() == 1 && dice.chance(0.5)) {
      gate.radius = dice.scale(2e-3, 2e-2);
    }
    if (dice.chance(0.4)) {
      gate.own_injector = random_injector(dice, typical);
    }
    problem.gates.push_back(std::move(gate));
  }
  const int vents = dice.count(0, 3);
  const double common = dice.between(-1e5, 0);
  const bool is_common = dice.chance(0.5);
  for (int v = 0; v < vents; ++v) {
    Vent vent{"V" + std::to_string(v + 1), random_nodes(dice, problem.mesh, used),
              is_common ? common : dice.between(-101325, 2e4)};
    if (vent.nodes.empty()) {
      continue;
    }
    const int kind = dice.count(0, 3);
    vent.bleed = kind < 2 ? 0 : kind == 2 ? never : dice.between(0, 0.3) * typical.volume;
    vent.line = random_line(dice);
    problem.vents.push_back(std::move(vent));
  }
  const auto last_gate = static_cast<int>(problem.gates.size());
  const auto last_vent = static_cast<int>(problem.vents.size());
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    if (dice.chance(0.3)) {
      const PortRef itself{PortRef::Kind::gate, g};
      problem.gates[g].opens = dice.chance(0.3)
                                   ? Moment{.reached = itself}
                                   : random_moment(dice, typical, last_gate, last_vent);
    }
    if (dice.chance(0.25)) {
      problem.gates[g].closes = random_moment(dice, typical, last_gate, last_vent);
    }
  }
}

void add_channels(Dice& dice, FillProblem& problem) {
  while (dice.chance(0.35)) {
    const ShellMesh& mesh = problem.mesh;
    const std::vector<NodeId> ends{random_node(dice, mesh), random_node(dice, mesh)};
    const auto path = dice.chance(0.3) ? free_edges(mesh) : edge_path(mesh, ends);
    if (path.empty()) {
      continue;
    }
    if (dice.chance(0.5)) {
      const double area = dice.scale(1e-6, 4e-4);
      problem.channels.push_back(runner("runner", path, area, dice.scale(1e-8, 1e-5)));
    } else {
      problem.channels.push_back(
          race_track("gap", problem, path, dice.scale(2e-4, 6e-3), std::nullopt));
    }
  }
}

void set_air(Dice& dice, FillProblem& problem) {
  problem.sealed_air = dice.chance(0.65);
  const int kind = dice.count(0, 3);
  problem.cavity_pressure = kind < 2 ? 0 : kind == 2 ? dice.between(-1.01e5, -5e4) : -101325;
}

} // namespace

RandomLayout random_layout(std::uint32_t seed) {
  Dice dice(seed);
  RandomLayout layout{problem_on(random_mesh(dice), {}), {}};
  FillProblem& problem = layout.problem;
  const bool is_flat =
      std::ranges::all_of(problem.mesh.positions, [](const Vector3& x) { return x.z() == 0; });
  if (dice.chance(0.5)) {
    set_random_regions(problem, dice.between(0.1, 0.5), seed);
    for (Region& region : problem.regions) { // on a curved part it could be perpendicular
      region.direction = dice.chance(0.5) ? Vector3(1, 0.3, 0.2) : Vector3(0.3, 1, 0.2);
      region.permeability_2 = is_flat ? region.permeability_2 : region.permeability_1;
    }
  }
  if (!is_flat) {
    problem.regions[0].direction = Vector3::Zero();
  }
  problem.resin.viscosity = dice.scale(0.05, 2);
  problem.resin.density = 1100;
  double volume = 0;
  for (const ElementId id : problem.mesh.elements.ids()) {
    const Region& region = problem.regions[problem.element_region[id].position()];
    volume += element_area(problem.mesh, id) * region.thickness * region.porosity;
  }
  const Typical typical{volume, 300 * problem.resin.viscosity / 0.2};
  problem.injector = random_injector(dice, typical);
  add_ports(dice, problem, typical);
  add_channels(dice, problem);
  set_air(dice, problem);
  if (dice.chance(0.35)) {
    problem.gravity = 9.80665 * dice.direction();
  }
  if (dice.chance(0.3)) {
    problem.mould = Mould{dice.direction(), dice.scale(10, 1e5)};
  }
  if (dice.chance(0.15)) {
    problem.resin.gel_time = dice.between(0, 3) * typical.duration;
  }
  if (dice.chance(0.15)) {
    layout.options.time_limit = dice.between(0, 3) * typical.duration;
  }
  layout.options.steps = dice.chance(0.7) ? 40 : dice.count(5, 150);
  return layout;
}

namespace {

/// Watches the steps of a filling and takes down what is wrong.
class Faults {
public:
  explicit Faults(const FillProblem& problem) : problem_(problem) {}

  bool after_step(const StepReport& report) {
    const HistoryRow& row = report.row;
    expect(row.time > time_ || (report.step == 1 && row.time >= 0), "time stands still");
    time_ = row.time;
    const auto [low, high] = std::ranges::minmax(report.fill_fraction);
    least_ = std::min(least_, low);
    greatest_ = std::max(greatest_, high);
    expect(std::isfinite(row.flow_rate) && std::isfinite(row.head_pressure) &&
               std::isfinite(row.filled_fraction) && std::isfinite(row.shut_in_air) &&
               std::isfinite(row.opening_force.value_or(0)),
           "a number of the history is not finite");
    for (std::size_t g = 0; g < row.gates.size(); ++g) {
      const GateSample& gate = row.gates[g];
      expect(std::isfinite(gate.flow_rate) && std::isfinite(gate.pressure),
             "a gate's number is not finite");
      expect(!is_alone(g) || gate.flow_rate >= -1e-9 * std::abs(row.flow_rate) - 1e-18,
             "a gate runs backwards");
    }
    expect(std::ranges::all_of(report.pressure, [](double p) { return std::isfinite(p); }),
           "a pressure is not finite");
    expect(report.step < 5000, "5000 steps");
    return report.step < 5000;
  }

  void after_all(const FillResult& result) {
    number("least fill fraction", least_, -1e-9, 1);
    number("greatest fill fraction", greatest_, 0, 1 + 1e-9);
    number("mass balance error", result.mass_balance_error, -1e-8, 1e-8);
    // Beside channels a million times as open as the part, a cell holds 1e-8 of what runs by it.
    number("residual", result.work.largest_residual, 0, 1e-7);
    expect((result.verdict == Verdict::filled) == (result.reason == ShortReason::none),
           "verdict and reason do not fit");
    expect(result.verdict == Verdict::short_fill || result.dry_spots.empty(), "filled yet dry");
    expect(result.verdict == Verdict::filled || !result.dry_spots.empty(), "short yet not dry");
    check_air(result);
    double sum = 0;
    for (std::size_t g = 0; g < result.gates.size(); ++g) {
      expect(!is_alone(g) || result.gates[g].injected >= -1e-12 * result.pore_volume,
             "a gate took resin in");
      sum += result.gates[g].injected;
    }
    number("gates' share of what is injected", (sum - result.injected) / result.pore_volume, -1e-8,
           1e-8);
    for (const VentResult& vent : result.vents) {
      expect(vent.bled >= 0, "a vent sucked");
    }
    check_places(result);
    check_course(result);
  }

  void expect(bool holds, const std::string& fault) {
    if (!holds && text_.find(fault) == std::string::npos) {
      text_ += fault + "; ";
    }
  }

  [[nodiscard]] const std::string& text() const { return text_; }

private:
  void number(const std::string& name, double value, double low, double high) {
    if (!(value >= low && value <= high)) {
      std::ostringstream text;
      text.precision(3);
      text << name << ' ' << value;
      expect(false, text.str());
    }
  }

  void finite(const std::string& name, double value) {
    expect(std::isfinite(value), name + " is not finite");
  }

  void finite(const std::string& name, const std::optional<double>& value) {
    finite(name, value.value_or(0));
  }

  /// Whether a moment told lies within the run.
  void moment(const std::string& name, const std::optional<double>& time, double end) {
    expect(!time || (*time >= 0 && *time <= end * (1 + 1e-12)), name + " lies outside the run");
  }

  void check_places(const FillResult& result) {
    for (const DrySpot& spot : result.dry_spots) {
      finite("place of dry spot", spot.position.sum());
      finite("air of dry spot", spot.air_pressure);
      finite("halving pressure", spot.halving_pressure);
      expect(spot.volume > 0 && spot.volume <= result.pore_volume * (1 + 1e-9), "dry spot's size");
      moment("sealing of a dry spot", spot.sealed_at, result.end_time);
    }
    for (const SuspectZone& zone : result.suspect_zones) {
      finite("place of suspect zone", zone.position.sum());
      finite("air of suspect zone", zone.air_pressure);
      expect(zone.volume > 0, "suspect zone's size");
      moment("sealing of a suspect zone", zone.sealed_at, result.end_time);
    }
    for (const LastFilled& last : result.last_filled) {
      moment("a last place", last.time, result.end_time);
    }
  }

  void check_course(const FillResult& result) {
    const double end = result.end_time;
    finite("end", end);
    finite("peak of the head", result.peak_head_pressure);
    moment("fill time", result.fill_time, end);
    moment("moment of the cap", result.time_cap_reached, end);
    expect(result.time_at_cap >= 0 && result.time_at_cap <= end * (1 + 1e-9), "time at the cap");
    for (const GateResult& gate : result.gates) {
      finite("peak of a gate", gate.peak_pressure);
      moment("opening of a gate", gate.opened_at, end);
      moment("moment of the cap of its pump", gate.at_cap.reached, end);
      expect(gate.at_cap.duration >= 0 && gate.at_cap.duration <= end * (1 + 1e-9),
             "time at the cap of its pump");
      moment("closing of a gate", gate.closed_at, end);
    }
    for (const VentResult& vent : result.vents) {
      finite("what bled", vent.bled);
      moment("a vent reached", vent.reached_at, end);
    }
    if (const auto& load = result.mould_load) {
      finite("peak force", load->peak_force);
      finite("force at the end", load->end_force);
      finite("peak pressure", load->peak_pressure);
      finite("push at rest", load->at_rest.at(result.peak_head_pressure));
      finite("head that opens no mould", load->at_rest.highest_head(load->hold_down_force));
      finite("head as it lifts", load->head_pressure_at_lift);
      moment("peak of the force", load->peak_force_at, end);
      moment("lifting", load->lifts_at, end);
    }
    if (const auto& age = result.age) {
      expect(age->mean >= 0 && age->mean <= age->oldest * (1 + 1e-9), "mean and oldest age");
      finite("oldest age", age->oldest);
      moment("first gel", age->first_gel ? std::optional(age->first_gel->time) : std::nullopt, end);
    }
    if (const auto& heat = result.heat) {
      check_heat(*heat, end);
    }
  }

  void check_heat(const HeatFacts& heat, double end) {
    expect(heat.mean <= heat.highest + 1e-6, "mean and highest temperature");
    finite("mean temperature", heat.mean);
    finite("highest temperature", heat.highest);
    finite("temperature of the last place", heat.at_last_place);
    moment("highest temperature", heat.highest_at, end);
    expect(heat.gel_share >= 0 && heat.gel_share <= 1, "share of the way to the gel");
    number("highest conversion", heat.highest_conversion.value_or(0), 0, 1 + 1e-9);
  }

  /// Gates on one pump are joined behind the part: resin may cross from one to another.
  [[nodiscard]] bool is_alone(std::size_t gate) const {
    const auto shared = std::ranges::count_if(
        problem_.gates, [](const Gate& other) { return !other.own_injector.has_value(); });
    return problem_.gates[gate].own_injector || shared == 1;
  }

  /// Air that never had a vent, of which nothing closed up: absolute pressure times volume.
  void check_air(const FillResult& result) {
    if (!problem_.sealed_air || !problem_.vents.empty() || !result.suspect_zones.empty() ||
        problem_.cavity_pressure + problem_.ambient < 10) {
      return;
    }
    double amount = 0;
    for (const DrySpot& spot : result.dry_spots) {
      // Neither: a sliver, whose air went to another piece.
      const bool counts = spot.is_sealed || spot.air_pressure == problem_.cavity_pressure;
      amount += counts ? (spot.air_pressure + problem_.ambient) * spot.volume : 0;
    }
    const double start = (problem_.cavity_pressure + problem_.ambient) * result.pore_volume;
    number("loss of air", amount / start - 1, -1e-8, 1e-8);
  }

  const FillProblem& problem_;
  double time_ = 0;
  double least_ = 0;
  double greatest_ = 0;
  std::string text_;
};

} // namespace

std::string faults_of_filling(const RandomLayout& layout) {
  Faults faults(layout.problem);
  try {
    const FillResult result = fill(layout.problem, layout.options, [&](const StepReport& report) {
      return faults.after_step(report);
    });
    faults.after_all(result);
  } catch (const std::exception& error) {
    faults.expect(false, std::string("throws: ") + error.what());
  }
  return faults.text();
}

} // namespace tidemark::test
