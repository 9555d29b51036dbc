#include "io/gates_command.hpp"

#include "io/field_writer.hpp"
#include "io/filling_course.hpp"
#include "io/gate_layouts.hpp"
#include "io/gate_record.hpp"
#include "io/gates_report.hpp"
#include "io/interrupt.hpp"
#include "io/mould_text.hpp"
#include "io/moved_ports.hpp"
#include "io/number_text.hpp"
#include "io/output_folder.hpp"
#include "io/parallel.hpp"
#include "io/run_counter.hpp"
#include "io/run_record.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/text_file.hpp"
#include "io/vent_trials.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "mesh/surface_distance.hpp"
#include "solver/channel_law.hpp"
#include "solver/gate_search.hpp"
#include "solver/last_filled.hpp"
#include "solver/resistance_curve.hpp"
#include "solver/vent_search.hpp"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <exception>
#include <iostream>
#include <limits>
#include <span>
#include <utility>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

using Json = nlohmann::ordered_json;

const char* const record_name = "gates.runs";

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

/// From w to seconds: mu (w + R V) / dp.
struct TimeScale {
  double viscosity, hose, volume, pressure_drop;
  [[nodiscard]] double seconds(double w) const {
    return viscosity * (w + hose * volume) / pressure_drop;
  }
};

const Injector& pump_of(const FillProblem& problem) {
  const auto& own = problem.gates.front().own_injector;
  return own ? *own : problem.injector;
}

/// At the pump's cap, or without one at 1 bar beyond the air.
TimeScale scale_of(const FillProblem& problem, double volume) {
  const Injector& pump = pump_of(problem);
  const double front = front_pressure(problem);
  const double head = pump.pressure_cap.value_or(front + 1e5);
  if (!(head > front)) {
    throw InputError("gates: found a pressure cap of " + as_bar(head) +
                     ", expected more than the pressure of the air ahead of the resin, " +
                     as_bar(front) + ": with less nothing flows");
  }
  return {problem.resin.viscosity, hose_resistance(pump.line), volume, head - front};
}

bool is_shown(const GatesOptions& options) {
  return !options.run.quiet && isatty(STDERR_FILENO) == 1;
}

/// Ranks all places; those an interruption left out are dropped.
RankedPlaces rank_places(const Case& input, const FactoredPart& part, std::vector<Gate> gates,
                         const GatesOptions& options) {
  RankedPlaces places;
  const std::size_t count = gates.size();
  places.sites.resize(count);
  places.gates.resize(count);
  std::vector<NodeId> middles;
  for (const Gate& gate : gates) {
    middles.push_back(nearest_node(input.problem.mesh, gate.centre));
  }
  constexpr std::size_t most_sampled = 8000; // 4 bytes a place and node: 32 MB for 1000 places
  if (options.count > 1) {
    places.sample = sample_nodes(input.problem, part, middles, most_sampled);
  }
  for (const NodeId middle : middles) {
    places.sample_of_gate.push_back(static_cast<std::size_t>(
        std::ranges::lower_bound(places.sample, middle) - places.sample.begin()));
  }
  std::vector<std::uint8_t> is_done(count, 0);
  {
    RunCounter counter(count, "places", is_shown(options));
    try_each_in_parallel(count, options.threads, [&](std::size_t i) {
      if (interrupted()) {
        return;
      }
      places.sites[i] = gate_site(input.problem, part, std::move(gates[i]));
      places.gates[i] = ranked_gate(part, places.sites[i], places.sample);
      is_done[i] = 1;
      counter.count_one();
    });
  }
  RankedPlaces done;
  done.sample = places.sample;
  for (std::size_t i = 0; i < count; ++i) {
    if (is_done[i] != 0) {
      done.sites.push_back(std::move(places.sites[i]));
      done.gates.push_back(std::move(places.gates[i]));
      done.sample_of_gate.push_back(places.sample_of_gate[i]);
    }
  }
  return done;
}

/// A layout that is run, and the row it fills.
struct PlannedLayout {
  Case input;
  LayoutRow row;
  bool is_pictured = false;          // whether it has one in the report
  std::optional<RunPicture> picture; // once it is run
};

GateSpot spot_of(const Case& input, const Gate& gate) {
  const bool is_place = gate.radius || gate.nodes.size() == 1;
  if (!is_place) {
    return {gate.name, std::nullopt, counted(gate.nodes.size(), "node", "nodes")};
  }
  const Vector3& at =
      input.problem.mesh.positions[gate.radius ? nearest_node(input.problem.mesh, gate.centre)
                                               : gate.nodes.front()];
  return {gate.name, at, place_text(input, at)};
}

double longest_way(const SurfaceGraph& graph, const std::vector<Gate>& gates) {
  std::vector<NodeId> nodes;
  for (const Gate& gate : gates) {
    nodes.insert(nodes.end(), gate.nodes.begin(), gate.nodes.end());
  }
  double longest = 0;
  for (const double distance : distances_from(graph, nodes)) {
    longest = std::isfinite(distance) ? std::max(longest, distance) : longest;
  }
  return longest;
}

PlannedLayout planned(Case input, std::string name, const SurfaceGraph& graph) {
  PlannedLayout layout{std::move(input), {}, false, {}};
  layout.row.name = std::move(name);
  for (const Gate& gate : layout.input.problem.gates) {
    layout.row.gates.push_back(spot_of(layout.input, gate));
  }
  layout.row.longest_way = longest_way(graph, layout.input.problem.gates);
  return layout;
}

/// Whether the theorem holds for the gates as the case has them.
bool open_together(const FillProblem& problem) {
  const bool one_pump =
      problem.gates.size() == 1 || std::ranges::none_of(problem.gates, [](const Gate& gate) {
        return gate.own_injector.has_value();
      });
  return one_pump && std::ranges::all_of(problem.gates, [](const Gate& gate) {
           return !gate.opens.time && !gate.opens.reached && !gate.closes.time &&
                  !gate.closes.reached;
         });
}

/// "G1" and so on: a name of the case, such as "left corner", may say where the gate no longer is.
std::string new_gate_name(const FillProblem& problem, std::size_t number) {
  std::string name = "G" + std::to_string(number + 1);
  while (std::ranges::find(problem.vents, name, &Vent::name) != problem.vents.end()) {
    name += "'";
  }
  return name;
}

/// The gates of a layout, with the drive of the case's first.
std::vector<Gate> gates_of(const FillProblem& problem, const RankedPlaces& places,
                           const Layout& layout) {
  std::vector<Gate> gates;
  const Gate& first = problem.gates.front();
  for (const std::size_t place : layout.gates) {
    Gate gate = places.sites[place].gate;
    gate.name = new_gate_name(problem, gates.size());
    gate.own_injector = first.own_injector;
    gates.push_back(std::move(gate));
  }
  return gates;
}

std::vector<PlannedLayout> plan(const Case& input, const FactoredPart& part,
                                const RankedPlaces& places, const std::vector<Layout>& layouts,
                                const TimeScale& scale, bool with_pictures) {
  const SurfaceGraph graph = surface_graph(input.problem.mesh);
  std::vector<PlannedLayout> plans;
  plans.push_back(planned(input, "as it is", graph));
  if (open_together(input.problem) && part.left_out.empty()) {
    plans.back().row.ranked_time = scale.seconds(layout_time(input.problem).largest_w);
  }
  for (std::size_t i = 0; i < layouts.size(); ++i) {
    Case moved = input;
    moved.problem.gates = gates_of(input.problem, places, layouts[i]);
    plans.push_back(planned(std::move(moved), "layout " + std::to_string(i + 1), graph));
    plans.back().row.ranked_time = scale.seconds(layouts[i].w);
  }
  for (std::size_t i = 0; i < std::min(plans.size(), most_pictures); ++i) {
    plans[i].is_pictured = with_pictures;
  }
  return plans;
}

std::vector<NamedPlace> last_places(const Case& input, const FillResult& result) {
  std::vector<NamedPlace> places;
  if (result.verdict == Verdict::filled) {
    for (const LastFilled& last : result.last_filled) {
      const Vector3& at = input.problem.mesh.positions[last.node];
      places.push_back({at, region_name(input, last.region), last.time, place_text(input, at)});
    }
  } else {
    for (const DrySpot& spot : result.dry_spots) {
      places.push_back({spot.position, region_name(input, spot.region), std::nullopt,
                        place_text(input, spot.position)});
    }
  }
  constexpr std::size_t most = 6; // beyond, they are ripples more than places for vents
  places.resize(std::min(places.size(), most));
  return places;
}

FillResult filled(const Case& input, const GatesOptions& options) {
  return fill(input.problem, fill_options(input, options.run),
              [](const StepReport&) { return !interrupted(); });
}

std::vector<ClosedAir> closed_air(const Case& input, const FillResult& result) {
  std::vector<ClosedAir> places;
  for (const SuspectZone& zone : result.suspect_zones) {
    places.push_back({{zone.position, region_name(input, zone.region), zone.sealed_at,
                       place_text(input, zone.position)},
                      zone.volume,
                      zone.air_pressure});
  }
  return places;
}

LayoutRun run_of(const PlannedLayout& layout, const FillResult& result) {
  LayoutRun run;
  LayoutRow& row = run.row;
  row.state = result.verdict == Verdict::filled ? RunState::filled : RunState::short_fill;
  row.reason = reason_word(result.reason);
  row.fill_time = result.fill_time;
  row.filled_fraction = result.filled_fraction;
  row.peak_head_pressure = peak_at_head(layout.input.problem, result);
  row.peak_till_near_end = peak_till_near_end(layout.input.problem, result);
  if (result.mould_load) {
    row.peak_force = result.mould_load->peak_force;
    row.push_climbs = untold_push(layout.input.problem, result).has_value();
  }
  row.opens_mould = opens_mould(result);
  const FillProblem& problem = layout.input.problem;
  row.gel_share = fill_figures(problem, result).gel_share;
  if (row.gel_share && !has_unequal_temperatures(problem)) {
    row.gel_margin = (1 - *row.gel_share) * gel_age(problem.resin);
  }
  row.last = last_places(layout.input, result);
  row.closed_air = closed_air(layout.input, result);
  row.warnings = all_warnings(layout.input, result);
  if (layout.is_pictured) {
    run.picture = run_picture(layout.input, result, layout.row.name);
  }
  return run;
}

/// With the vents that are found in the place of the case's; where none do, with those. None if it
/// was cut off before that was known.
std::optional<LayoutRun> run_with_vents(PlannedLayout layout, const GatesOptions& options,
                                        const VentTrialBook& book) {
  const FillOptions settings = fill_options(layout.input, options.run);
  FillProblem& problem = layout.input.problem;
  const VentedFill found = sought_vents(
      problem, settings, [] { return !interrupted(); }, book);
  if (found.was_cut_off) {
    return std::nullopt;
  }
  if (!found.result || found.result->verdict != Verdict::filled) {
    return run_of(layout, filled(layout.input, options));
  }
  put_vents(problem, found.vents);
  LayoutRun run = run_of(layout, *found.result);
  run.vents = found.vents;
  run.row.vents = found.vents.size();
  run.row.last.clear();
  const PerNode<RegionId> regions = node_regions(problem);
  for (std::size_t i = 0; i < found.vents.size(); ++i) {
    const Vector3& at = problem.mesh.positions[found.vents[i]];
    run.row.last.push_back({at, region_name(layout.input, regions[found.vents[i]]),
                            found.result->vents[i].reached_at, place_text(layout.input, at)});
  }
  return run;
}

bool was_cut_off(const LayoutRow& row) {
  return row.state == RunState::not_run || row.reason == reason_word(ShortReason::interrupted);
}

bool was_run(const LayoutRow& row) {
  return row.state != RunState::failed && !was_cut_off(row);
}

std::size_t nodes_of(const PlannedLayout& layout) {
  return layout.input.problem.mesh.positions.size();
}

/// What a run tells goes to row, vents and picture of its layout. seeks_vents: whether it is one
/// for which they were sought.
void put_layout_run(LayoutRun run, bool seeks_vents, PlannedLayout& layout) {
  put_run(std::move(run.row), layout.row);
  if (seeks_vents && !layout.row.vents && was_run(layout.row)) {
    layout.row.warnings.push_back("No vents were found with which " + layout.row.name +
                                  " fills: it was run with those of the case.");
  }
  if (layout.row.vents) {
    put_vents(layout.input.problem, run.vents);
  }
  layout.picture = std::move(run.picture);
}

/// The layouts as a record knows them: layout i has the number i, the search for its vents
/// most_vent_trials numbers behind those of all layouts.
class LayoutRuns {
public:
  LayoutRuns(std::vector<PlannedLayout>& plans, const GatesOptions& options, RunRecord& record)
      : plans_(plans), options_(options), record_(record), is_done_(plans.size(), 0) {
    for (std::size_t i = 0; i < plans_.size(); ++i) {
      find(i);
      books_.push_back(seeks_vents(i) ? trial_book(record_, plans_.size() + i * most_vent_trials,
                                                   nodes_of(plans_[i]))
                                      : VentTrialBook{});
    }
  }

  /// What is told of a command that goes on.
  [[nodiscard]] std::string found() const {
    const auto done = std::ranges::count(is_done_, 1);
    const auto fillings = std::ranges::count_if(
        record_.runs(), [](const auto& run) { return is_vent_trial(run.second); });
    std::string text =
        "Going on: " + std::to_string(done) + " of " + counted(plans_.size(), "run", "runs") +
        (options_.vents
             ? " and " + counted(static_cast<std::size_t>(fillings), "filling", "fillings") +
                   " in search of vents"
             : std::string()) +
        " were done before.";
    if (without_picture_ > 0) {
      const bool is_one = without_picture_ == 1;
      text += " " + counted(without_picture_, "more was", "more were") +
              " run with --no-report and " + (is_one ? "is" : "are") +
              " run again, for the page's " + (is_one ? "picture." : "pictures.");
    }
    return text;
  }

  /// Runs what the record does not hold. A layout that fails does not keep the others from running.
  void run_all() {
    RunCounter counter(plans_.size(), "runs", is_shown(options_));
    try_each_in_parallel(plans_.size(), options_.threads, [&](std::size_t i) {
      if (interrupted()) {
        return;
      }
      if (is_done_[i] == 0) {
        try_one(i);
      }
      counter.count_one();
    });
  }

private:
  /// The first is the case as it is.
  [[nodiscard]] bool seeks_vents(std::size_t i) const { return options_.vents && i > 0; }

  /// A run of a command that wanted no page has no picture, and is done again for it.
  void find(std::size_t i) {
    if (!record_.runs().contains(i)) {
      return;
    }
    LayoutRun run = record_.told(
        i, [&](const Json& json) { return layout_run_from_record(json, nodes_of(plans_[i])); });
    if (run.picture || !plans_[i].is_pictured) {
      put_layout_run(std::move(run), seeks_vents(i), plans_[i]);
      is_done_[i] = 1;
    } else {
      ++without_picture_;
    }
  }

  void try_one(std::size_t i) {
    LayoutRow& row = plans_[i].row;
    try {
      run_one(i);
    } catch (const FileError&) { // of the record
      throw;
    } catch (const std::exception& error) {
      row.state = RunState::failed;
      row.error = failure_text(error);
    }
  }

  /// Results go through the text of the record, so that they are the same whether they come from
  /// there or not.
  void run_one(std::size_t i) {
    PlannedLayout& layout = plans_[i];
    std::optional<LayoutRun> run = seeks_vents(i) ? run_with_vents(layout, options_, books_[i])
                                                  : run_of(layout, filled(layout.input, options_));
    if (!run) {
      return;
    }
    if (run->row.reason == reason_word(ShortReason::interrupted)) {
      put_layout_run(*std::move(run), seeks_vents(i), layout);
      return;
    }
    const std::string text = to_record(*run).dump(-1, ' ', false, Json::error_handler_t::replace);
    const Json result = Json::parse(text);
    record_.append(i, result);
    put_layout_run(layout_run_from_record(result, nodes_of(layout)), seeks_vents(i), layout);
  }

  std::vector<PlannedLayout>& plans_;
  const GatesOptions& options_;
  RunRecord& record_;
  std::vector<VentTrialBook> books_;
  std::vector<std::uint8_t> is_done_;
  std::size_t without_picture_ = 0; // that were done before, and are done again
};

/// Throws InputError where a run of the record is none of those the command keeps.
void check_record(const RunRecord& record, std::size_t nodes) {
  for (const auto& run : record.runs()) {
    record.told(run.first, [nodes](const Json& json) {
      if (is_vent_trial(json)) {
        vent_trial_from(json, nodes);
      } else {
        layout_run_from_record(json, nodes);
      }
    });
  }
}

/// What the runs of a record belong to.
RecordHeader header_of(const Case& input, const GatesOptions& options) {
  const PlaceChoice& choice = options.choice;
  RecordHeader header = record_header("gates", input);
  header.push_back({"gates of a layout", std::to_string(options.count)});
  header.push_back({"layouts to run", std::to_string(options.best)});
  header.push_back({"only within", choice.group.value_or("the whole part")});
  header.push_back({"only at the rim", fact_value(choice.at_rim)});
  header.push_back({"not in", fact_value(choice.forbidden)});
  header.push_back({"points", fact_value(choice.points)});
  header.push_back({"spacing", fact_value(choice.spacing, "m")});
  header.push_back({"radius", fact_value(choice.radius, "m")});
  header.push_back({"layouts apart", fact_value(options.apart, "m")});
  header.push_back({"vents sought", fact_value(options.vents)});
  put_fill_facts(header, input, options.run.fill);
  return header;
}

void compute_all(std::vector<PlannedLayout>& plans, const GatesOptions& options,
                 RunRecord& record) {
  const std::size_t before = record.runs().size();
  LayoutRuns runs(plans, options, record);
  if (before > 0 && !options.run.quiet) {
    std::cerr << runs.found() << "\n";
  }
  runs.run_all();
}

/// Distance from one place to the next, the median [m].
double usual_spacing(const ShellMesh& mesh, const RankedPlaces& places) {
  std::vector<double> nearest;
  for (const GateSite& site : places.sites) {
    double least = std::numeric_limits<double>::infinity();
    for (const GateSite& other : places.sites) {
      const double distance = (mesh.positions[site.middle] - mesh.positions[other.middle]).norm();
      least = distance > 0 ? std::min(least, distance) : least;
    }
    nearest.push_back(least);
  }
  const auto middle = nearest.begin() + static_cast<std::ptrdiff_t>(nearest.size() / 2);
  std::ranges::nth_element(nearest, middle);
  return std::isfinite(*middle) ? *middle : 0;
}

struct PlaceFields {
  PerNode<double> time;   // [s], NaN far from all places
  PerNode<double> is_one; // 1 at the places
};

/// Exact at the places; between them the mean of those within two spacings along the surface,
/// weighted by ((reach - d) / d)^2.
PlaceFields place_fields(const Case& input, const RankedPlaces& places, const TimeScale& scale) {
  const ShellMesh& mesh = input.problem.mesh;
  const std::size_t count = mesh.positions.size();
  const SurfaceGraph graph = surface_graph(mesh);
  const double reach = 2 * usual_spacing(mesh, places);
  PlaceFields fields{PerNode<double>(count, 0.0), PerNode<double>(count, 0.0)};
  PerNode<double> weights(count, 0.0);
  for (std::size_t i = 0; i < places.sites.size(); ++i) {
    const double seconds = scale.seconds(places.gates[i].time.largest_w);
    const NodeId middle = places.sites[i].middle;
    const PerNode<double> distance = distances_from(graph, {&middle, 1}, reach);
    for (const NodeId node : distance.ids()) {
      if (distance[node] > 0 && distance[node] < reach) {
        const double root = (reach - distance[node]) / distance[node];
        weights[node] += root * root;
        fields.time[node] += root * root * seconds;
      }
    }
  }
  for (const NodeId node : weights.ids()) {
    fields.time[node] = weights[node] > 0 ? fields.time[node] / weights[node] : not_a_number;
  }
  for (std::size_t i = 0; i < places.sites.size(); ++i) {
    fields.time[places.sites[i].middle] = scale.seconds(places.gates[i].time.largest_w);
    fields.is_one[places.sites[i].middle] = 1;
  }
  return fields;
}

std::string places_csv(const Case& input, const RankedPlaces& places, const TimeScale& scale) {
  std::string text = "x_m,y_m,z_m,ranked_fill_time_s,last_x_m,last_y_m,last_z_m\n";
  for (std::size_t i = 0; i < places.sites.size(); ++i) {
    const Vector3& at = input.problem.mesh.positions[places.sites[i].middle];
    const Vector3& last = input.problem.mesh.positions[places.gates[i].time.last];
    text += number_text(at.x()) + "," + number_text(at.y()) + "," + number_text(at.z()) + "," +
            number_text(scale.seconds(places.gates[i].time.largest_w)) + "," +
            number_text(last.x()) + "," + number_text(last.y()) + "," + number_text(last.z()) +
            "\n";
  }
  return text;
}

/// The case file of a layout. It is read again: what was written must be what was run.
void write_case(PlannedLayout& layout, const std::string& text, const GatesOptions& options,
                std::size_t number) {
  const Case& input = layout.input;
  MovedPorts ports;
  ports.radius = options.radius_text;
  for (const Gate& gate : input.problem.gates) {
    ports.gates.push_back({gate.name, gate.centre / input.mesh_unit});
  }
  if (layout.row.vents) {
    for (const Vent& vent : input.problem.vents) {
      ports.vents.push_back({vent.name,
                             input.problem.mesh.positions[vent.nodes.front()] / input.mesh_unit,
                             vent.pressure});
    }
  }
  const std::string name = "layout-" + std::to_string(number) + ".toml";
  const fs::path file = options.folder / name;
  write_text_file(file, with_moved_ports(text, ports, input.file, options.folder));
  const Case written = read_case(file);
  const auto same_nodes = [](const auto& one, const auto& other) {
    return one.nodes == other.nodes;
  };
  const bool is_same = std::ranges::equal(written.problem.gates, input.problem.gates, same_nodes) &&
                       std::ranges::equal(written.problem.vents, input.problem.vents, same_nodes);
  if (!is_same) {
    throw FileError(file.string() +
                    ": the gates and vents read from it are not those that were run");
  }
  layout.row.case_file = name;
}

SearchedPiece told_piece(const Case& input, std::span<const NodeId> nodes,
                         const PerNode<RegionId>& regions) {
  const ShellMesh& mesh = input.problem.mesh;
  Vector3 middle = Vector3::Zero();
  for (const NodeId node : nodes) {
    middle += mesh.positions[node] / static_cast<double>(nodes.size());
  }
  const NodeId nearest = *std::ranges::min_element(
      nodes, {}, [&](NodeId node) { return (mesh.positions[node] - middle).squaredNorm(); });
  SearchedPiece piece;
  piece.position = mesh.positions[nearest];
  piece.text = place_text(input, piece.position);
  for (std::size_t i = 0; i < input.problem.regions.size(); ++i) {
    const RegionId region(static_cast<std::int64_t>(i));
    if (std::ranges::any_of(nodes, [&](NodeId node) { return regions[node] == region; })) {
      piece.regions.push_back(input.problem.regions[i].name);
    }
  }
  return piece;
}

std::vector<SearchedPiece> pieces_of(const Case& input, const FactoredPart& part) {
  const PerNode<RegionId> regions = node_regions(input.problem);
  std::vector<SearchedPiece> pieces{told_piece(input, part.own_nodes(), regions)};
  double volume = part.pore_volume;
  for (const LeftOutPiece& left_out : part.left_out) {
    volume += left_out.pore_volume;
  }
  pieces.front().is_searched = true;
  pieces.front().share = part.pore_volume / volume;
  for (const LeftOutPiece& left_out : part.left_out) {
    pieces.push_back(told_piece(input, left_out.nodes, regions));
    pieces.back().share = left_out.pore_volume / volume;
  }
  return pieces;
}

/// Resin comes to one piece only, so that nothing tells which vents the part needs.
void refuse_vents_of_pieces(const FactoredPart& part) {
  if (!part.left_out.empty()) {
    throw InputError(
        "gates: --vents: found a part in " + std::to_string(part.left_out.size() + 1) +
        " pieces that nothing joins, expected one in one piece: a layout has gates on "
        "the largest only, and the others stay dry whatever the vents; join the pieces "
        "in the mesh, or leave --vents out");
  }
}

GateSearchFacts facts_of(const Case& input, const FactoredPart& part, const GatesOptions& options,
                         const ChosenPlaces& chosen, const TimeScale& scale) {
  GateSearchFacts facts;
  facts.title = input.title;
  facts.case_file = input.file.string();
  facts.places = chosen.gates.size();
  facts.at_vents = chosen.at_vents;
  facts.gates = options.count;
  facts.radius = port_radius(input, options.choice);
  facts.ranked_pressure = front_pressure(input.problem) + scale.pressure_drop;
  facts.has_cap = pump_of(input.problem).pressure_cap.has_value();
  facts.seeks_vents = options.vents;
  facts.pieces = pieces_of(input, part);
  return facts;
}

/// The fastest by the ranking, the first of several.
std::optional<NamedPlace> best_place(const Case& input, const RankedPlaces& places,
                                     const TimeScale& scale) {
  const auto best = std::ranges::min_element(
      places.gates, {}, [](const RankedGate& gate) { return gate.time.largest_w; });
  if (best == places.gates.end()) {
    return std::nullopt;
  }
  const NodeId node = places.sites[static_cast<std::size_t>(best - places.gates.begin())].middle;
  const Vector3& at = input.problem.mesh.positions[node];
  return NamedPlace{at, region_name(input, node_regions(input.problem)[node]),
                    scale.seconds(best->time.largest_w), place_text(input, at)};
}

std::vector<LayoutRow> rows_of(const std::vector<PlannedLayout>& plans) {
  std::vector<LayoutRow> rows;
  std::ranges::transform(plans, std::back_inserter(rows), &PlannedLayout::row);
  return rows;
}

/// "layout-1.toml to layout-5.toml", those that were written.
std::string case_files(const std::vector<LayoutRow>& rows) {
  std::vector<std::string> names;
  for (const LayoutRow& row : rows) {
    if (!row.case_file.empty()) {
      names.push_back(row.case_file);
    }
  }
  if (names.empty()) {
    return "";
  }
  const bool is_all = names.size() + 1 == rows.size() && names.size() > 1;
  return ", " + (is_all ? names.front() + " to " + names.back() : list_of(names));
}

void write_report(std::vector<PlannedLayout>& plans, const GateSearchFacts& facts,
                  const Case& input, const PerNode<double>& time_if_gate_here,
                  const GatesOptions& options) {
  if (options.run.report) {
    write_text_file(options.folder / "gates.html",
                    report_html(gates_report(input, facts, rows_of(plans), time_if_gate_here,
                                             pictures_of(plans))));
  }
}

void write_all(std::vector<PlannedLayout>& plans, const GateSearchFacts& facts, const Case& input,
               const RankedPlaces& places, const TimeScale& scale, const GatesOptions& options) {
  const std::string text = text_of_file(input.file, "a case file");
  for (std::size_t i = 1; i < plans.size(); ++i) {
    if (!options.vents || !was_cut_off(plans[i].row)) { // else its vents are not known yet
      write_case(plans[i], text, options, i);
    }
  }
  const std::vector<LayoutRow> rows = rows_of(plans);
  const std::string json = layouts_json(facts, rows);
  write_text_file(options.folder / "places.csv", places_csv(input, places, scale));
  if (!places.sites.empty()) {
    const PlaceFields fields = place_fields(input, places, scale);
    write_node_fields(options.folder / "gates.vtu", input.problem,
                      {{"fill_time_if_gate_here", fields.time}, {"is_place_tried", fields.is_one}});
    write_report(plans, facts, input, fields.time, options);
  }
  write_text_file(options.folder / "gates.csv", layouts_csv(rows));
  write_text_file(options.folder / "gates.json", json);
  if (options.run.json) {
    print(json);
  } else if (!options.run.quiet) {
    print(printable(layouts_text(facts, rows) + "\nWritten to " + options.folder.string() +
                    ": gates.csv, gates.json, " + (options.run.report ? "gates.html, " : "") +
                    "places.csv, gates.vtu" + case_files(rows) + ".\n"));
  }
}

RunsEnd outcome_of(const std::vector<PlannedLayout>& plans) {
  const auto has = [&](RunState state) {
    return std::ranges::any_of(
        plans, [&](const PlannedLayout& layout) { return layout.row.state == state; });
  };
  if (has(RunState::failed)) {
    return RunsEnd::some_failed;
  }
  return has(RunState::filled) ? RunsEnd::as_wished : RunsEnd::some_short;
}

} // namespace

RunsEnd run_gates(const GatesOptions& options) {
  const Case input = with_options(read_checked(options.case_file), options.run);
  keep_inputs_safe(input, options.folder, is_gates_name);
  port_radius(input, options.choice); // throws before anything takes long
  const FactoredPart part = factored_part(input.problem);
  if (options.vents) {
    refuse_vents_of_pieces(part);
    refuse_awaited_vents(input, "gates --vents", "a gate that waits for no vent, or no --vents");
  }
  ChosenPlaces chosen = chosen_places(input, part, options.choice);
  if (chosen.gates.size() < options.count) {
    throw InputError("gates: found " + counted(chosen.gates.size(), "place", "places") +
                     ", expected as many as gates, " + std::to_string(options.count) +
                     ", at least");
  }
  const TimeScale scale = scale_of(input.problem, part.pore_volume);
  const OutputFolder held(options.folder, is_gates_name, "gates " + options.case_file.string());
  std::optional<RunRecord> record(std::in_place, options.folder / record_name,
                                  header_of(input, options));
  check_record(*record, input.problem.mesh.positions.size());
  held.clear(); // once it is sure that this can begin
  GateSearchFacts facts = facts_of(input, part, options, chosen, scale);
  const RankedPlaces places = rank_places(input, part, std::move(chosen.gates), options);
  facts.ranked = places.sites.size();
  if (options.best == 0) {
    facts.best_place = best_place(input, places, scale);
  }
  const double apart = options.apart.value_or(
      options.choice.points.empty() ? mesh_extent(input.problem.mesh) / 10 : 0);
  const std::vector<Layout> layouts =
      best_layouts(input.problem, part, places, {options.count, options.best, apart},
                   [] { return !interrupted(); });
  std::vector<PlannedLayout> plans = plan(input, part, places, layouts, scale, options.run.report);
  if (!interrupted()) { // before all are ranked it is not known which are the best
    compute_all(plans, options, *record);
  }
  write_all(plans, facts, input, places, scale, options);
  const RunsEnd end = outcome_of(plans);
  if (interrupted()) {
    std::cerr << "Interrupted: the files hold what was ranked and run so far; the same command "
                 "goes on.\n";
    if (options.vents) {
      std::cerr << "A layout whose vents are not found yet has no case file.\n";
    }
  } else if (end != RunsEnd::some_failed) {
    record.reset();
    std::error_code none; // it is only in the way
    fs::remove(options.folder / record_name, none);
  }
  return end;
}

} // namespace tidemark
