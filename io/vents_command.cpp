#include "io/vents_command.hpp"

#include "io/field_writer.hpp"
#include "io/interrupt.hpp"
#include "io/json_values.hpp"
#include "io/moved_ports.hpp"
#include "io/output_folder.hpp"
#include "io/parallel.hpp"
#include "io/run_counter.hpp"
#include "io/run_record.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/text_file.hpp"
#include "io/vent_rows.hpp"
#include "io/vent_trials.hpp"
#include "io/vents_report.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "solver/last_filled.hpp"
#include "solver/vent_search.hpp"
#include "solver/waiting_gates.hpp"

#include <unistd.h>

#include <algorithm>
#include <iostream>
#include <limits>
#include <utility>

namespace tidemark {

namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

const char* const record_name = "vents.runs";

bool goes_on() {
  return !interrupted();
}

/// A filling that is run to tell something of one vent.
struct Trial {
  std::size_t vent;
  std::optional<VentDirection> direction; // none: the filling without the vent
  std::optional<WithoutVent> without;
  VentWay way;
  std::string error = {}; // why it failed
  bool is_done = false;
};

struct VentedCase {
  Case input;
  FillResult result;            // with its vents
  bool is_sought = false;       // the vents were sought
  ShortReason skipped = {};     // why not, if that was wanted: with all air let out
  bool was_cut_off = false;     // the search, or the filling with the case's own
  std::size_t first_number = 0; // in the record, of the trials that follow
};

/// What the runs of a record belong to.
RecordHeader header_of(const Case& input, const VentsOptions& options) {
  RecordHeader header = record_header("vents", input);
  header.push_back({"own vents", fact_value(options.own)});
  header.push_back({"reach", fact_value(options.reach, "m")});
  header.push_back({"volume that may stay dry", fact_value(options.allowed, "m3")});
  put_fill_facts(header, input, options.run.fill);
  return header;
}

FillResult filled(const FillProblem& problem, const FillOptions& settings) {
  return fill(problem, settings, [](const StepReport&) { return goes_on(); });
}

/// The case filled with the vents that are sought in place of its own. If they are not sought, or
/// none would do since the part does not fill even where all air is let out, with its own. The
/// first runs of the record are those of the search.
VentedCase filled_with_vents(Case input, const VentsOptions& options, RunRecord& record) {
  const FillOptions settings = fill_options(input, options.run);
  FillProblem& problem = input.problem;
  VentedCase vented;
  if (!options.own) {
    VentedFill found = sought_vents(problem, settings, goes_on,
                                    trial_book(record, 0, problem.mesh.positions.size()));
    vented.first_number = found.trials;
    vented.was_cut_off = found.was_cut_off;
    vented.is_sought = found.result.has_value();
    if (!vented.is_sought && !vented.was_cut_off && record.runs().contains(0)) {
      vented.skipped = vent_trial_from(record.runs().at(0), problem.mesh.positions.size()).reason;
    }
    if (found.result) {
      put_vents(problem, found.vents);
      vented.result = *std::move(found.result);
    }
  }
  if (!vented.is_sought) {
    vented.result = filled(problem, settings);
    vented.was_cut_off = vented.was_cut_off || vented.result.reason == ShortReason::interrupted;
  }
  vented.input = std::move(input);
  return vented;
}

std::vector<Trial> planned_trials(const FillProblem& problem, double reach) {
  const SurfaceGraph graph = surface_graph(problem.mesh);
  std::vector<Trial> trials;
  for (std::size_t vent = 0; vent < problem.vents.size(); ++vent) {
    if (problem.vents.size() > 1 &&
        gates_waiting_for(problem, {PortRef::Kind::vent, vent}).empty()) {
      trials.push_back({vent, std::nullopt, std::nullopt, {}});
    }
    if (reach > 0 && problem.vents[vent].nodes.size() == 1) {
      for (VentDirection& direction : directions_of(problem, graph, vent, reach)) {
        trials.push_back({vent, std::move(direction), std::nullopt, {}});
      }
    }
  }
  return trials;
}

void run_trial(const FillProblem& problem, double allowed, const FillOptions& settings,
               Trial& trial) {
  if (trial.direction) {
    trial.way = way_of(problem, trial.vent, *trial.direction, allowed, settings, goes_on);
    return;
  }
  const FillResult result = fill_without(problem, trial.vent, settings, goes_on);
  if (result.reason != ShortReason::interrupted) {
    trial.without =
        WithoutVent{dry_volume(result) <= allowed, std::string(reason_word(result.reason)),
                    result.filled_fraction, dry_volume(result)};
  }
}

// trials in the record

Json tried_json(const TriedPlace& tried) {
  return Json::array({tried.place.node.value(), tried.place.distance, tried.dry_volume});
}

TriedPlace tried_from(const Json& json, std::size_t nodes) {
  return {{node_from(json.at(0), nodes), json.at(1).get<double>()}, json.at(2).get<double>()};
}

Json trial_json(const Trial& trial) {
  if (!trial.direction) {
    return {{"may_be", trial.without->may_be},
            {"reason", trial.without->reason},
            {"filled_fraction", trial.without->filled_fraction},
            {"dry_volume", trial.without->dry_volume}};
  }
  Json fills = Json::array();
  for (const TriedPlace& tried : trial.way.fills) {
    fills.push_back(tried_json(tried));
  }
  return {{"fills", fills},
          {"shut_in", trial.way.shut_in ? tried_json(*trial.way.shut_in) : Json()}};
}

WithoutVent without_from(const Json& json) {
  return {json.at("may_be").get<bool>(), json.at("reason").get<std::string>(),
          json.at("filled_fraction").get<double>(), json.at("dry_volume").get<double>()};
}

VentWay way_from(const Json& json, std::size_t nodes) {
  VentWay way;
  for (const Json& tried : json.at("fills")) {
    way.fills.push_back(tried_from(tried, nodes));
  }
  if (!json.at("shut_in").is_null()) {
    way.shut_in = tried_from(json.at("shut_in"), nodes);
  }
  return way;
}

/// Throws InputError where a run is none of those the command keeps.
void check_record(const RunRecord& record, std::size_t nodes) {
  for (const auto& run : record.runs()) {
    record.told(run.first, [nodes](const Json& json) {
      if (is_vent_trial(json)) {
        vent_trial_from(json, nodes);
      } else if (json.contains("fills")) {
        way_from(json, nodes);
      } else {
        without_from(json);
      }
    });
  }
}

void run_trials(const Case& input, const VentsOptions& options, std::size_t first_number,
                RunRecord& record, std::vector<Trial>& trials) {
  const FillOptions settings = fill_options(input, options.run);
  std::vector<bool> is_known(trials.size());
  for (std::size_t i = 0; i < trials.size(); ++i) {
    is_known[i] = record.runs().contains(first_number + i);
    if (is_known[i]) {
      record.told(first_number + i, [&](const Json& json) {
        if (trials[i].direction) {
          trials[i].way = way_from(json, input.problem.mesh.positions.size());
        } else {
          trials[i].without = without_from(json);
        }
      });
      trials[i].is_done = true;
    }
  }
  RunCounter counter(trials.size(), "directions and omissions",
                     !options.run.quiet && isatty(STDERR_FILENO) == 1);
  try_each_in_parallel(trials.size(), options.threads, [&](std::size_t i) {
    if (!is_known[i] && !interrupted()) {
      try {
        run_trial(input.problem, options.allowed, settings, trials[i]);
      } catch (const std::bad_alloc&) {
        trials[i].error = out_of_memory;
      } catch (const SolveError& error) {
        trials[i].error = error.what();
      }
      if (!interrupted() && trials[i].error.empty()) {
        record.append(first_number + i, trial_json(trials[i]));
        trials[i].is_done = true;
      }
    }
    counter.count_one();
  });
}

VentRow row_of(const Case& input, const Vent& vent, const PerNode<RegionId>& regions) {
  VentRow row;
  row.name = vent.name;
  if (vent.nodes.size() > 1) {
    row.text = counted(vent.nodes.size(), "node", "nodes");
    return row;
  }
  const NodeId node = vent.nodes.front();
  row.position = input.problem.mesh.positions[node];
  row.text = place_text(input, *row.position);
  row.region = region_name(input, regions[node]);
  return row;
}

MovedPlace moved_place(const Case& input, const TriedPlace& tried) {
  const Vector3& position = input.problem.mesh.positions[tried.place.node];
  return {position, tried.place.distance, tried.dry_volume, place_text(input, position)};
}

void put_trial(const Case& input, const Trial& trial, VentRow& row) {
  row.directions_not_done += trial.direction && !trial.is_done ? 1 : 0;
  if (!trial.error.empty()) {
    row.errors.push_back(trial.error);
    return;
  }
  if (!trial.is_done) {
    return; // interrupted: what there is of it would tell too much
  }
  if (!trial.direction) {
    row.without = trial.without;
    return;
  }
  MovedVent& way = row.ways.emplace_back();
  way.direction = trial.direction->direction;
  if (!trial.way.fills.empty()) {
    way.fills = moved_place(input, trial.way.fills.back());
  }
  if (trial.way.shut_in) {
    way.shut_in = moved_place(input, *trial.way.shut_in);
  }
}

VentSurvey survey_of(const Case& input, const FillResult& result) {
  VentSurvey survey;
  survey.title = input.title;
  survey.case_file = input.file.string();
  survey.fills = result.verdict == Verdict::filled;
  survey.reason = reason_word(result.reason);
  survey.filled_fraction = result.filled_fraction;
  survey.fill_time = result.fill_time;
  survey.dry = survey.fills ? std::nullopt : figures_of(input, result).place;
  survey.warnings = all_warnings(input, result);
  const PerNode<RegionId> regions = node_regions(input.problem);
  for (std::size_t i = 0; i < input.problem.vents.size(); ++i) {
    survey.vents.push_back(row_of(input, input.problem.vents[i], regions));
    survey.vents.back().reached_at = result.vents[i].reached_at;
    for (const std::size_t gate : gates_waiting_for(input.problem, {PortRef::Kind::vent, i})) {
      survey.vents.back().awaited_by.push_back(input.problem.gates[gate].name);
    }
  }
  return survey;
}

/// 1 where no more stays dry than may with the vent moved there, 0 where more does, NaN where it
/// was not tried.
void write_field(const fs::path& file, const FillProblem& problem,
                 const std::vector<Trial>& trials) {
  PerNode<double> fills(problem.mesh.positions.size(), std::numeric_limits<double>::quiet_NaN());
  for (const Trial& trial : trials) {
    for (const TriedPlace& tried : trial.way.fills) {
      fills[tried.place.node] = 1;
    }
    if (trial.way.shut_in) {
      fills[trial.way.shut_in->place.node] = 0;
    }
  }
  for (const Vent& vent : problem.vents) {
    for (const NodeId node : vent.nodes) {
      fills[node] = 1;
    }
  }
  write_node_fields(file, problem, {{"fills_with_vent_here", fills}});
}

void write_case(const Case& input, const fs::path& folder) {
  MovedPorts ports;
  for (const Vent& vent : input.problem.vents) {
    ports.vents.push_back({vent.name,
                           input.problem.mesh.positions[vent.nodes.front()] / input.mesh_unit,
                           vent.pressure});
  }
  const fs::path file = folder / "with-vents.toml";
  write_text_file(
      file, with_moved_ports(text_of_file(input.file, "a case file"), ports, input.file, folder));
  const Case written = read_case(file);
  const auto same_nodes = [](const Vent& one, const Vent& other) {
    return one.nodes == other.nodes;
  };
  if (!std::ranges::equal(written.problem.vents, input.problem.vents, same_nodes)) {
    throw FileError(file.string() + ": the vents read from it are not those that were run");
  }
}

void write_survey(const VentSurvey& survey, const VentsOptions& options) {
  const std::string json = survey_json(survey);
  write_text_file(options.folder / "vents.csv", survey_csv(survey));
  write_text_file(options.folder / "vents.json", json);
  if (options.run.json) {
    print(json);
  } else if (!options.run.quiet) {
    print(printable(survey_text(survey) + "\nWritten to " + options.folder.string() +
                    ": vents.csv, vents.json, " + (options.run.report ? "vents.html, " : "") +
                    "vents.vtu" + (survey.has_case ? ", with-vents.toml" : "") + ".\n"));
  }
}

} // namespace

RunsEnd run_vents(const VentsOptions& options) {
  Case input = with_options(read_checked(options.case_file), options.run);
  keep_inputs_safe(input, options.folder, is_vents_name);
  if (options.own && input.problem.vents.empty()) {
    throw InputError("vents: found no vent in " + options.case_file.string() +
                     ", expected one at least with --own");
  }
  if (!options.own) {
    refuse_awaited_vents(input, "vents",
                         "a gate that waits for no vent, or --own for the vents as "
                         "they are");
  }
  const OutputFolder held(options.folder, is_vents_name, "vents " + options.case_file.string());
  const bool let_air_out = !input.problem.sealed_air;
  input.problem.sealed_air = true;
  const RecordHeader header = header_of(input, options);
  std::optional<RunRecord> record(std::in_place, options.folder / record_name, header);
  check_record(*record, input.problem.mesh.positions.size());
  held.clear(); // once it is sure that this can begin
  if (const std::size_t before = record->runs().size(); before > 0 && !options.run.quiet) {
    std::cerr << "Going on: " << counted(before, "run was", "runs were") << " done before.\n";
  }
  const VentedCase vented = filled_with_vents(std::move(input), options, *record);
  VentSurvey survey = survey_of(vented.input, vented.result);
  survey.is_sought = vented.is_sought;
  survey.was_cut_off = vented.was_cut_off;
  survey.skipped = vented.was_cut_off ? "" : reason_word(vented.skipped);
  survey.let_air_out = let_air_out;
  survey.allowed = options.allowed;
  survey.reach = options.reach.value_or(mesh_extent(vented.input.problem.mesh) / 4);
  std::vector<Trial> trials;
  if (survey.fills && !survey.was_cut_off) {
    trials = planned_trials(vented.input.problem, survey.reach);
    run_trials(vented.input, options, vented.first_number, *record, trials);
  }
  for (const Trial& trial : trials) {
    put_trial(vented.input, trial, survey.vents[trial.vent]);
  }
  survey.trials = trials.size();
  survey.trials_done = static_cast<std::size_t>(std::ranges::count_if(
      trials, [](const Trial& trial) { return trial.is_done || !trial.error.empty(); }));
  write_field(options.folder / "vents.vtu", vented.input.problem, trials);
  survey.has_case = survey.is_sought && !survey.was_cut_off;
  if (options.run.report) {
    write_text_file(options.folder / "vents.html",
                    report_html(vents_report(vented.input, vented.result, survey)));
  }
  write_survey(survey, options);
  if (survey.has_case) {
    write_case(vented.input, options.folder);
  }
  const bool has_failed =
      std::ranges::any_of(survey.vents, [](const VentRow& vent) { return !vent.errors.empty(); });
  if (interrupted()) {
    std::cerr << "Interrupted: the files hold what was run so far; the same command goes on.\n";
  } else if (!has_failed) {
    record.reset();
    std::error_code none; // it is only in the way
    fs::remove(options.folder / record_name, none);
  }
  const bool is_whole = survey.fills && !survey.was_cut_off && !trials_were_cut_off(survey);
  return has_failed ? RunsEnd::some_failed : is_whole ? RunsEnd::as_wished : RunsEnd::some_short;
}

} // namespace tidemark
