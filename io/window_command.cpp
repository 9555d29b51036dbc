#include "io/window_command.hpp"

#include "io/closing_direction.hpp"
#include "io/filling_course.hpp"
#include "io/interrupt.hpp"
#include "io/json_values.hpp"
#include "io/mould_text.hpp"
#include "io/number_text.hpp"
#include "io/parallel.hpp"
#include "io/run_counter.hpp"
#include "io/run_record.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/terminal.hpp"
#include "io/window_facts.hpp"
#include "io/window_report.hpp"
#include "io/window_text.hpp"
#include "io/window_writer.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "solver/mould_load.hpp"

#include <nlohmann/json.hpp>

#include <unistd.h>

#include <algorithm>
#include <exception>
#include <iostream>
#include <mutex>
#include <utility>

namespace tidemark {

namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

const char* const record_name = "window.runs";

bool is_shown(const WindowOptions& options) {
  return !options.run.quiet && isatty(STDERR_FILENO) == 1;
}

// the input

/// What is wrong with a value of the third axis is told of its option, not of the key it stands
/// for.
Case read_with(const WindowOptions& options, const std::string& key, const std::string& name,
               const std::string& value) {
  const CaseEdit edit = parse_edit(key + " = " + value);
  const std::string as_edit = "--try " + quoted_text(edit.text);
  try {
    return read_checked(options.case_file, &edit);
  } catch (const InputError& error) {
    std::vector<std::string> findings = error.findings();
    for (std::string& finding : findings) {
      if (const auto at = finding.find(as_edit); at != std::string::npos) {
        finding.replace(at, as_edit.size(), "--" + name + " " + quoted_text(value));
      }
    }
    throw InputError(findings);
  }
}

struct WindowCase {
  std::string value; // of the third axis
  Case input;
};

std::vector<WindowCase> read_cases(const WindowOptions& options) {
  std::vector<WindowCase> cases;
  for (const std::string& text : options.temperatures) {
    cases.push_back({text, read_with(options, "temperature", "temperature", text)});
  }
  for (const std::string& text : options.catalysts) {
    cases.push_back({text, read_with(options, "resin.catalyst", "catalyst", text)});
  }
  if (cases.empty()) {
    cases.push_back({"", read_checked(options.case_file)});
  }
  for (WindowCase& one : cases) {
    one.input = with_options(std::move(one.input), options.run);
  }
  return cases;
}

/// The pump whose flow rate and cap are the axes.
Injector& pump_of(FillProblem& problem) {
  const auto owns = [](const Gate& gate) { return gate.own_injector.has_value(); };
  if (!std::ranges::all_of(problem.gates, owns)) {
    return problem.injector;
  }
  if (problem.gates.size() > 1) {
    throw InputError("window: found " + std::to_string(problem.gates.size()) +
                     " gates, each with a drive of its own, expected a gate on [injector], whose "
                     "flow rate and cap are the axes");
  }
  return *problem.gates.front().own_injector;
}

WindowLimits limits_of(const Case& input, const WindowOptions& options) {
  WindowLimits limits;
  const FillProblem& problem = input.problem;
  limits.is_seen_edge_on = is_seen_edge_on(problem);
  const bool is_held = problem.mould && problem.mould->hold_down_force > 0; // 0: not said
  if (options.mould_margin && !is_held) {
    throw InputError("window: --mould-margin: found nothing that holds the mould shut in " +
                     input.file.string() + ", expected [mould] with clamp_force or a flange");
  }
  if (is_held) {
    limits.mould_margin = options.mould_margin.value_or(0);
    limits.hold_down_force = problem.mould->hold_down_force * (1 - limits.mould_margin);
  }
  if (problem.mould) {
    const RestingPush at_rest = resting_push(problem);
    limits.projected_area = at_rest.projected_area;
    limits.fibre_force = at_rest.fibres.force;
    limits.uncounted_fibres = uncounted_fibres_text(at_rest.fibres);
    limits.has_one_cap = has_one_pump(problem) && !stages_set_cap(problem.injector);
    limits.safe_cap = at_rest.highest_head(limits.hold_down_force.value_or(0));
  }
  const MachineFacts& machine = input.machine;
  limits.gel_safety = input.resin.gel_safety;
  limits.max_flow_rate = machine.max_flow_rate;
  limits.max_pressure = machine.max_pressure;
  if (machine.pressure_ratio && machine.air_pressure) {
    const double motor = *machine.pressure_ratio * *machine.air_pressure;
    limits.max_pressure = std::min(limits.max_pressure.value_or(motor), motor);
  }
  limits.time_limit = input.time_limit;
  return limits;
}

/// Where no opening force can be told none is computed, and none is a limit.
void leave_out_mould(std::vector<WindowCase>& cases, WindowLimits& limits) {
  limits.hold_down_force.reset();
  limits.mould_margin = 0;
  limits.projected_area = 0;
  for (WindowCase& one : cases) {
    one.input.problem.mould.reset();
  }
}

/// From half to twice the value, not beyond what the machine may be run at.
WindowAxis usual_axis(const std::optional<double>& value, double zero,
                      const std::optional<double>& most, const char* option, const char* key,
                      const char* example) {
  if (!value) {
    throw InputError(std::string("window: found neither ") + option + " nor " + key +
                     " in the case, expected a range such as " + option + " " + example);
  }
  double high = zero + 2 * (*value - zero);
  if (most && *value <= *most) {
    high = std::min(high, *most);
  }
  return {zero + 0.5 * (*value - zero), high, zero};
}

WindowShape shape_of(Case& input, const WindowOptions& options, const WindowLimits& limits) {
  const Injector& pump = pump_of(input.problem);
  const double front = front_pressure(input.problem);
  WindowShape shape{{1, 2}, {1, 2}};
  shape.tolerance = options.tolerance;
  if (options.flow) {
    shape.flow = {options.flow->front(), options.flow->back(), 0};
  } else {
    shape.flow = usual_axis(pump.flow_rate, 0, limits.max_flow_rate, "--flow", "a flow_rate",
                            "\"0.5 L/min\" \"3 L/min\"");
  }
  if (options.cap) {
    shape.cap = {options.cap->front(), options.cap->back(), front};
  } else {
    shape.cap = usual_axis(pump.pressure_cap, front, limits.max_pressure, "--cap", "a pressure_cap",
                           "\"0.5 bar\" \"3 bar\"");
  }
  if (!(shape.cap.low > front)) {
    throw InputError("window: --cap: found " + as_bar(shape.cap.low) +
                     ", expected more than the pressure of the air ahead of the resin, " +
                     as_bar(front) + ": with less nothing flows");
  }
  return shape;
}

// one point

Outcome outcome_of(const FillFigures& figures, const TriedPoint& point,
                   const WindowLimits& limits) {
  if (figures.reason == ShortReason::interrupted) {
    return Outcome::not_run;
  }
  if (limits.hold_down_force && figures.peak_force > *limits.hold_down_force) {
    return Outcome::opens_mould;
  }
  switch (figures.reason) {
  case ShortReason::pressure:
    return Outcome::short_pressure;
  case ShortReason::gel:
    return Outcome::short_gel;
  case ShortReason::trapped_air:
    return Outcome::trapped_air;
  case ShortReason::time_limit:
    return Outcome::short_time;
  case ShortReason::no_path:
    return Outcome::short_otherwise;
  default:
    break;
  }
  if (limits.gel_safety && figures.gel_share && *figures.gel_share * *limits.gel_safety > 1) {
    return Outcome::near_gel;
  }
  const auto is_beyond = [](double value, const std::optional<double>& most) {
    return most && value > *most * (1 + 1e-9);
  };
  return is_beyond(point.flow_rate, limits.max_flow_rate) ||
                 is_beyond(point.pressure_cap, limits.max_pressure)
             ? Outcome::beyond_machine
             : Outcome::fills;
}

void put_figures(TriedPoint& point, const FillFigures& figures, const WindowLimits& limits) {
  point.outcome = outcome_of(figures, point, limits);
  if (point.outcome == Outcome::not_run) {
    return;
  }
  point.reason = reason_word(figures.reason);
  point.fill_time = figures.fill_time;
  point.filled_fraction = figures.filled_fraction;
  point.peak_head_pressure = figures.peak_head_pressure;
  point.time_cap_reached = figures.time_cap_reached;
  point.peak_force = figures.peak_force;
  point.force_left_on = figures.force_left_on;
  point.gel_share = figures.gel_share;
}

/// With the peak at the head of the common pump, as everywhere else.
FillFigures figures_of_run(const FillProblem& problem, const FillResult& result) {
  FillFigures figures = fill_figures(problem, result);
  figures.peak_head_pressure = peak_at_head(problem, result);
  return figures;
}

// figures in the record

Json figures_json(const FillFigures& figures) {
  return {{"reason", reason_word(figures.reason)},
          {"fill_time", number_or_null(figures.fill_time)},
          {"end_time", figures.end_time},
          {"filled_fraction", figures.filled_fraction},
          {"peak_head_pressure", figures.peak_head_pressure},
          {"time_cap_reached", number_or_null(figures.time_cap_reached)},
          {"peak_force", number_or_null(figures.peak_force)},
          {"force_left_on", number_or_null(figures.force_left_on)},
          {"gel_share", number_or_null(figures.gel_share)}};
}

FillFigures figures_from(const Json& json) {
  const auto number = [&](const char* key) {
    return json.at(key).is_null() ? std::nullopt : std::optional(json.at(key).get<double>());
  };
  FillFigures figures;
  figures.reason = reason_named(json.at("reason").get<std::string>());
  figures.fill_time = number("fill_time");
  figures.end_time = json.at("end_time").get<double>();
  figures.filled_fraction = json.at("filled_fraction").get<double>();
  figures.peak_head_pressure = json.at("peak_head_pressure").get<double>();
  figures.time_cap_reached = number("time_cap_reached");
  figures.peak_force = number("peak_force");
  figures.force_left_on = number("force_left_on");
  figures.gel_share = number("gel_share");
  return figures;
}

/// What the runs of a record belong to.
RecordHeader header_of(const Case& input, const WindowFacts& facts, const WindowOptions& options) {
  const auto range = [](const WindowAxis& axis, const std::string& unit) {
    return number_text(axis.low) + " to " + number_text(axis.high) + " " + unit;
  };
  RecordHeader header = record_header("window", input);
  header.push_back({"flow rate", range(facts.shape.flow, "m3/s")});
  header.push_back({"cap", range(facts.shape.cap, "Pa")});
  header.push_back({"points", std::to_string(facts.shape.points)});
  header.push_back({"border tolerance", number_text(facts.shape.tolerance)});
  header.push_back({"mould margin", number_text(facts.limits.mould_margin)});
  header.push_back({"temperatures", fact_value(options.temperatures)});
  header.push_back({"catalyst levels", fact_value(options.catalysts)});
  put_fill_facts(header, input, options.run.fill);
  return header;
}

/// Which setting a run has: value of the third axis, flow rate, cap.
std::string setting_text(const std::string& value, const TriedPoint& point) {
  return value + " | " + number_text(point.flow_rate) + " | " + number_text(point.pressure_cap);
}

/// Full runs, in parallel, each recorded with its setting: what is asked for hangs on the outcomes
/// before, so that numbers would not do.
class FullRuns {
public:
  FullRuns(const WindowOptions& options, const RecordHeader& header)
      : options_(options), record_(options.folder / record_name, header) {
    for (const auto& [number, result] : record_.runs()) {
      record_.told(number, [this](const Json& run) {
        before_.emplace(run.at("setting").get<std::string>(), figures_from(run));
      });
      next_ = number + 1;
    }
    if (!before_.empty() && !options.run.quiet) {
      std::cerr << "Going on: " << counted(before_.size(), "run was", "runs were")
                << " done before.\n";
    }
  }

  [[nodiscard]] std::size_t count() const { return count_; }

  /// Fills at each point.
  void run(const WindowCase& one, const WindowLimits& limits, std::vector<TriedPoint>& points) {
    const std::size_t first = next_;
    next_ += points.size();
    std::mutex mutex; // of the count
    RunCounter counter(points.size(), "runs", is_shown(options_));
    try_each_in_parallel(points.size(), options_.threads, [&](std::size_t i) {
      if (interrupted()) {
        return;
      }
      try {
        run_one(one, limits, points[i], first + i);
        const std::scoped_lock lock(mutex);
        count_ += points[i].outcome != Outcome::not_run ? 1 : 0;
      } catch (const FileError&) { // of the record
        throw;
      } catch (const std::exception& error) {
        points[i].outcome = Outcome::failed;
        points[i].error = failure_text(error);
      }
      counter.count_one();
    });
  }

private:
  /// Taken from the record if the run was there already.
  void run_one(const WindowCase& one, const WindowLimits& limits, TriedPoint& point,
               std::size_t number) {
    const Case& input = one.input;
    const std::string setting = setting_text(one.value, point);
    if (const auto known = before_.find(setting); known != before_.end()) {
      put_figures(point, known->second, limits);
      return;
    }
    FillProblem problem = input.problem;
    Injector& pump = pump_of(problem);
    pump.flow_rate = point.flow_rate;
    pump.pressure_cap = point.pressure_cap;
    const FillFigures figures =
        figures_of_run(problem, fill(problem, fill_options(input, options_.run),
                                     [](const StepReport&) { return !interrupted(); }));
    put_figures(point, figures, limits);
    if (point.outcome != Outcome::not_run) {
      Json result = {{"setting", setting}};
      result.update(figures_json(figures));
      record_.append(number, std::move(result));
    }
  }

  const WindowOptions& options_;
  RunRecord record_;
  std::map<std::string, FillFigures> before_; // by setting
  std::size_t next_ = 0;
  std::size_t count_ = 0;
};

// the window

/// The one filling from which all others follow, with its progress.
void seek_curve(const std::vector<WindowCase>& cases, const WindowOptions& options,
                WindowFacts& facts) {
  for (const WindowCase& one : cases) {
    facts.obstacle = facts.obstacle ? facts.obstacle : obstacle_in(one.input.problem);
  }
  if (facts.obstacle || facts.full_runs_wanted) {
    return;
  }
  std::optional<ProgressLine> progress;
  if (is_shown(options)) {
    progress.emplace(std::cerr);
  }
  CurveAttempt attempt = resistance_curve(cases.front().input.problem, options.run.fill,
                                          [&](const StepReport& report) {
                                            if (progress) {
                                              progress->after_step(report.row);
                                            }
                                            return !interrupted();
                                          });
  facts.curve = std::move(attempt.curve);
  facts.obstacle = attempt.obstacle;
  ++facts.runs;
}

void add_as_set(const Case& input, const TryPoints& try_points, WindowOfValue& window) {
  FillProblem problem = input.problem;
  const Injector& pump = pump_of(problem);
  if (!pump.flow_rate || !pump.pressure_cap || !(*pump.pressure_cap > front_pressure(problem))) {
    return;
  }
  TriedPoint point{{window.map.shape.flow.share_of(*pump.flow_rate),
                    window.map.shape.cap.share_of(*pump.pressure_cap)},
                   *pump.flow_rate,
                   *pump.pressure_cap};
  point.purpose = Purpose::as_set;
  std::vector<TriedPoint> points{point};
  try_points(points);
  if (points.front().outcome != Outcome::not_run) {
    window.as_set = window.map.points.size();
    window.map.points.push_back(points.front());
  }
}

/// The recommended setting, or the case's, in full beside the curve.
void check_curve(const Case& input, const WindowOptions& options, WindowOfValue& window,
                 std::size_t& runs) {
  const auto point =
      window.map.recommended ? std::optional(window.map.recommended->point) : window.as_set;
  if (!point || interrupted()) {
    return;
  }
  FillProblem problem = input.problem;
  Injector& pump = pump_of(problem);
  pump.flow_rate = window.map.points[*point].flow_rate;
  pump.pressure_cap = window.map.points[*point].pressure_cap;
  const FillResult result = fill(problem, fill_options(input, options.run),
                                 [](const StepReport&) { return !interrupted(); });
  if (result.reason != ShortReason::interrupted) {
    window.check = CurveCheck{*point, figures_of_run(problem, result)};
    ++runs;
  }
}

WindowOfValue window_of(const WindowCase& one, const WindowOptions& options, WindowFacts& facts,
                        FullRuns* full_runs) {
  const Resin& resin = one.input.problem.resin;
  WindowOfValue window{one.value, resin.viscosity};
  window.gel_time = resin.gel_time;
  const TryPoints try_points = [&](std::vector<TriedPoint>& points) {
    if (full_runs != nullptr) {
      full_runs->run(one, facts.limits, points);
      return;
    }
    for (TriedPoint& point : points) {
      put_figures(point,
                  fill_by_curve(*facts.curve, resin, {point.flow_rate, point.pressure_cap},
                                one.input.time_limit),
                  facts.limits);
    }
  };
  window.map = mapped_window(facts.shape, try_points, full_runs == nullptr);
  if (!interrupted()) {
    add_as_set(one.input, try_points, window);
  }
  if (full_runs == nullptr) {
    check_curve(one.input, options, window, facts.runs);
  }
  return window;
}

/// What an earlier command left goes once it is sure that this one can begin. Full runs, where any
/// are needed, stay for their record: that is open until the files are written.
void map_all(const std::vector<WindowCase>& cases, const WindowOptions& options,
             const OutputFolder& folder, std::optional<FullRuns>& full_runs, WindowFacts& facts) {
  const bool needs_runs = !facts.curve && !interrupted();
  facts.shape.points = options.points.value_or(needs_runs ? points_by_full_runs : points_by_curve);
  if (needs_runs) { // throws if there is a record of other runs
    full_runs.emplace(options, header_of(cases.front().input, facts, options));
  }
  folder.clear();
  for (const WindowCase& one : cases) {
    if (interrupted()) {
      break;
    }
    facts.maps.push_back(window_of(one, options, facts, full_runs ? &*full_runs : nullptr));
  }
  if (full_runs) {
    facts.runs += full_runs->count();
  }
}

bool any_point(const WindowFacts& facts, Outcome outcome) {
  return std::ranges::any_of(facts.maps, [&](const WindowOfValue& window) {
    return std::ranges::any_of(window.map.points,
                               [&](const TriedPoint& point) { return point.outcome == outcome; });
  });
}

void collect_warnings(const std::vector<WindowCase>& cases, WindowFacts& facts) {
  for (const WindowCase& one : cases) {
    for (const std::string& warning : one.input.warnings) {
      if (std::ranges::find(facts.warnings, warning) == facts.warnings.end()) {
        facts.warnings.push_back(warning);
      }
    }
  }
  const Resin& first = cases.front().input.problem.resin;
  const bool are_alike = std::ranges::all_of(cases, [&](const WindowCase& one) {
    const Resin& resin = one.input.problem.resin;
    return resin.viscosity == first.viscosity && resin.gel_time == first.gel_time;
  });
  if (cases.size() > 1 && are_alike && !cases.front().input.problem.heat) {
    facts.warnings.push_back("The maps are alike: viscosity and gel time are the same at each " +
                             facts.third_axis + " given.");
  }
}

/// Of maps that could not but be alike none is made.
void refuse_unused_axis(const Case& input, const WindowOptions& options) {
  const auto refuse = [](const char* option, const char* what) {
    throw InputError(std::string("window: ") + option + ": found it, but " + what);
  };
  if (!options.temperatures.empty() && !input.resin.temperature && !input.problem.heat) {
    refuse("--temperature", "no value of [resin] depends on the temperature, expected a case with "
                            "a law or table over it");
  }
  if (!options.catalysts.empty() && !input.resin.catalyst_choice) {
    refuse("--catalyst", "no value of [resin] depends on the catalyst, expected a case with a "
                         "gel_time that is a table over it");
  }
}

} // namespace

RunsEnd run_window(const WindowOptions& options) {
  std::vector<WindowCase> cases = read_cases(options);
  Case& first = cases.front().input;
  refuse_unused_axis(first, options);
  keep_inputs_safe(first, options.folder, is_window_name);
  WindowFacts facts;
  facts.title = first.title;
  facts.air_caution = air_caution(first.problem);
  facts.case_file = first.file.string();
  facts.third_axis = !options.temperatures.empty() ? "temperature"
                     : !options.catalysts.empty()  ? "catalyst"
                                                   : "";
  facts.limits = limits_of(first, options);
  if (facts.limits.is_seen_edge_on) {
    leave_out_mould(cases, facts.limits);
  }
  facts.shape = shape_of(first, options, facts.limits);
  facts.is_flow_given = options.flow.has_value();
  facts.is_cap_given = options.cap.has_value();
  facts.full_runs_wanted = options.full_runs;
  collect_warnings(cases, facts);
  const OutputFolder held(options.folder, is_window_name, "window " + options.case_file.string());
  seek_curve(cases, options, facts);
  std::optional<FullRuns> full_runs;
  map_all(cases, options, held, full_runs, facts);
  facts.was_interrupted = interrupted();
  const std::string json = summary_text(window_json(facts));
  write_text_file(options.folder / "window.csv", window_csv(facts));
  write_text_file(options.folder / "window.json", json);
  if (options.run.report) {
    write_text_file(options.folder / window_report_name, report_html(window_report(facts)));
  }
  if (options.run.json) {
    print(json);
  } else if (!options.run.quiet) {
    print(printable(window_text(facts) + "\nWritten to " + options.folder.string() +
                    ": window.json, window.csv" +
                    (options.run.report ? ", " + std::string(window_report_name) : "") + ".\n"));
  }
  const bool has_failed = any_point(facts, Outcome::failed);
  if (full_runs && !facts.was_interrupted && !has_failed) {
    full_runs.reset();
    std::error_code none; // it is only in the way
    fs::remove(options.folder / record_name, none);
  }
  if (facts.was_interrupted) {
    std::cerr << "Interrupted: the files hold what was tried so far"
              << (facts.curve ? ".\n" : "; the same command goes on from there.\n");
    return has_failed ? RunsEnd::some_failed : RunsEnd::some_short;
  }
  if (has_failed) {
    return RunsEnd::some_failed;
  }
  return any_point(facts, Outcome::fills) ? RunsEnd::as_wished : RunsEnd::some_short;
}

} // namespace tidemark
