#include "io/fill_report.hpp"

#include "io/bleeding_text.hpp"
#include "io/closing_direction.hpp"
#include "io/filling_course.hpp"
#include "io/mesh_pieces.hpp"
#include "io/mould_text.hpp"
#include "io/number_text.hpp"
#include "io/report_view.hpp"
#include "io/resin_use.hpp"
#include "io/sheet_cautions.hpp"
#include "io/sheet_html.hpp"
#include "io/shop_units.hpp"
#include "io/short_reason.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/vent_arrival.hpp"
#include "io/verdict_text.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>

namespace tidemark {

namespace {

const std::string not_there = "-";

/// The sentences after the first; what is indented is a list under the line above if that ends in a
/// colon, and goes on with its sentence if not.
std::string words_html(const std::vector<std::string>& lines) {
  std::string text = "<ul class=\"words\">\n";
  bool is_in_list = false;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const bool is_indented = lines[i].starts_with(' ');
    const std::string words =
        html_text(lines[i].substr(std::min(lines[i].size(), lines[i].find_first_not_of(' '))));
    if (is_indented && (is_in_list || lines[i - 1].ends_with(':'))) {
      text += (is_in_list ? "" : "<ul>\n") + ("<li>" + words) + "</li>\n";
      is_in_list = true;
    } else if (is_indented) {
      text += " " + words;
    } else {
      text += std::string(is_in_list ? "</ul>" : "") + (i > 1 ? "</li>\n" : "") + "<li>" + words;
      is_in_list = false;
    }
  }
  return text + (is_in_list ? "</ul>" : "") + (lines.size() > 1 ? "</li>\n" : "") + "</ul>\n";
}

std::string warnings_html(const Case& input, const FillResult& result) {
  const std::string warnings = list_html(all_warnings(input, result));
  const std::string notes = list_html(input.notes);
  return (warnings.empty()
              ? ""
              : "<div class=\"warnings\"><h3>Warnings</h3>\n" + warnings + "</div>\n") +
         (notes.empty() ? "" : "<h3>Notes</h3>\n" + notes);
}

/// "2.00 to 0.671 L/min": the unit once where both have the same.
std::string span_text(const std::string& from, const std::string& to) {
  const std::size_t unit = from.find(' ');
  const bool is_common = unit != std::string::npos && to.ends_with(from.substr(unit));
  return (is_common ? from.substr(0, unit) : from) + " to " + to;
}

/// What the mixing head comes to, or where no gate hangs on it the highest of all pumps.
HeadPeak told_head(const FillProblem& problem, const FillResult& result) {
  return has_common_pump(problem) ? mixing_head(problem, result) : highest_head(problem, result);
}

std::vector<ReportFact> first_facts(const Case& input, const FillResult& result) {
  const bool fills = result.verdict == Verdict::filled;
  const HeadPeak head = told_head(input.problem, result);
  std::vector<ReportFact> facts = {
      {fills ? "Fill time" : "Comes to rest after",
       as_minutes(result.fill_time.value_or(result.end_time))},
      {"Filled", as_percent(result.filled_fraction)},
      {"Peak at " + place_of_head(input.problem, head.pump), as_bar(head.pressure)},
      {"Resin in the part", as_litres(result.resin_in_part)}};
  if (peaks_at_the_last(head.pressure, head.till_near_end)) {
    facts.insert(facts.begin() + 3,
                 {"Peak there until 99 % of the resin is in", as_bar(head.till_near_end)});
  }
  if (result.bleeding) {
    const auto& end = result.bleeding->ended_at;
    const bool gels = gels_while_bleeding(input.problem, result).has_value();
    facts.insert(facts.begin() + 1, {!end   ? "Bleeding followed to, without an end"
                                     : gels ? "Bleeding would end, but for the gel"
                                            : "Bleeding ends",
                                     as_minutes(end.value_or(result.end_time))});
  }
  if (result.reason == ShortReason::time_limit || result.reason == ShortReason::interrupted) {
    facts.front().name = "Ended after";
  }
  if (!result.history.empty()) {
    const FlowEnds flow = flow_ends(result.history);
    facts.push_back({"Flow after 1 % of the time, with 99 % in",
                     span_text(as_litres_per_minute(flow.start), as_litres_per_minute(flow.end))});
  }
  if (result.mould_load && result.mould_load->peak_force > 0 && !is_seen_edge_on(input.problem)) {
    facts.push_back({"Highest opening force", as_kilonewtons(result.mould_load->peak_force)});
  }
  if (input.problem.gates.size() > 1) {
    facts.push_back({"Gates", std::to_string(input.problem.gates.size())});
  }
  return facts;
}

// --- the course over time ---

std::vector<double> times_of(const std::vector<HistoryRow>& history) {
  std::vector<double> times;
  times.reserve(history.size());
  for (const HistoryRow& row : history) {
    times.push_back(row.time);
  }
  return times;
}

template <class Value>
ReportLine line_of(const std::string& label, const std::vector<HistoryRow>& history, Value value) {
  ReportLine line{label, times_of(history), {}};
  for (const HistoryRow& row : history) {
    line.values.push_back(value(row));
  }
  return line;
}

/// A limit from the start of the filling to its end; none if it never counts.
void add_limit(ReportPlot& plot, const std::string& label, const std::vector<HistoryRow>& history,
               const std::vector<double>& values) {
  if (std::ranges::any_of(values, [](double value) { return std::isfinite(value); })) {
    ReportLine line{label, times_of(history), values, true, true};
    line.times.insert(line.times.begin(), 0);
    line.values.insert(line.values.begin(), values.front());
    plot.lines.push_back(line);
  }
}

ReportPlot flow_plot(const FillProblem& problem, const FillResult& result) {
  const std::vector<HistoryRow>& history = result.history;
  ReportPlot plot{"Flow rate", "flow", {}};
  const auto add = [&](const std::string& label,
                       const std::function<double(const HistoryRow&)>& flow_of) {
    ReportLine line{label, {}, {}};
    for (const ToldFlow& told : told_flows(problem, result, flow_of)) {
      line.times.push_back(history[told.row].time);
      line.values.push_back(told.flow_rate);
    }
    plot.lines.push_back(line);
  };
  add("all gates", [](const HistoryRow& row) { return row.flow_rate; });
  for (std::size_t g = 0; problem.gates.size() > 1 && g < problem.gates.size(); ++g) {
    add("gate " + problem.gates[g].name,
        [g](const HistoryRow& row) { return row.gates[g].flow_rate; });
  }
  if (has_common_pump(problem)) {
    add_limit(plot, "set point", history, set_points(problem, result).flow_rate);
  }
  return plot;
}

ReportPlot pressure_plot(const FillProblem& problem, const FillResult& result) {
  const std::vector<HistoryRow>& history = result.history;
  ReportPlot plot{"Pressure", "pressure", {}};
  if (has_common_pump(problem)) {
    plot.lines.push_back(
        line_of("mixing head", history, [](const HistoryRow& row) { return row.head_pressure; }));
  }
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    plot.lines.push_back(line_of("gate " + problem.gates[g].name, history,
                                 [g](const HistoryRow& row) { return row.gates[g].pressure; }));
  }
  if (has_common_pump(problem)) {
    add_limit(plot, "pressure cap", history, set_points(problem, result).pressure_cap);
  }
  for (const Gate& gate : problem.gates) {
    if (gate.own_injector && gate.own_injector->pressure_cap && gate.own_injector->stages.empty()) {
      add_limit(plot, "cap of gate " + gate.name, history,
                std::vector<double>(history.size(), *gate.own_injector->pressure_cap));
    }
  }
  return plot;
}

ReportPlot filled_plot(const std::vector<HistoryRow>& history) {
  ReportPlot plot{"Filled", "share", {}};
  plot.lines.push_back(line_of("of the pore volume", history,
                               [](const HistoryRow& row) { return row.filled_fraction; }));
  plot.lines.back().times.insert(plot.lines.back().times.begin(), 0);
  plot.lines.back().values.insert(plot.lines.back().values.begin(), 0);
  return plot;
}

ReportPlot force_plot(const FillProblem& problem, const FillResult& result) {
  ReportPlot plot{"Opening force on the mould", "force", {}};
  plot.lines.push_back(
      line_of("opening force (below zero: held shut)", result.history, [](const HistoryRow& row) {
        return row.opening_force.value_or(std::numeric_limits<double>::quiet_NaN());
      }));
  if (problem.mould->hold_down_force > 0) {
    add_limit(plot, "held shut with", result.history,
              std::vector<double>(result.history.size(), problem.mould->hold_down_force));
  }
  return plot;
}

std::string pump_name(const FillProblem& problem, const CoursePump& pump) {
  return pump.gate ? "gate " + problem.gates[*pump.gate].name : "mixing head";
}

std::vector<std::string> course_row(const std::string& filled, const CoursePoint& point) {
  std::vector<std::string> row = {filled, as_minutes(point.time)};
  for (const PumpReading& reading : point.pumps) {
    row.insert(row.end(), {as_litres_per_minute(reading.flow_rate), as_bar(reading.pressure),
                           as_litres(reading.volume)});
  }
  return row;
}

ReportTable course_table(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  ReportTable table{"Read off on the way", {"Filled", "Time"}, {}};
  for (const CoursePump& pump : pumps) {
    const std::string name = pumps.size() > 1 ? " (" + pump_name(problem, pump) + ")" : "";
    table.headings.insert(table.headings.end(),
                          {"Flow" + name, "Pressure" + name, "Let in" + name});
  }
  for (const double fraction : {0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0}) {
    if (const auto point = course_at(problem, result, fraction)) {
      table.rows.push_back(course_row(plain_number(100 * fraction) + " %", *point));
    }
  }
  const auto end = course_end(problem, result);
  if (end && result.verdict != Verdict::filled) {
    table.rows.push_back(course_row(as_percent(end->filled_fraction) + " (end)", *end));
  }
  return table;
}

// --- tables ---

std::string time_or_none(const std::optional<double>& time, const std::string& none) {
  return time ? as_minutes(*time) : none;
}

/// "1.20 bar, pushed shut at up to 3.00 bar".
std::string gate_pressure_text(const GatePressures& highest) {
  const std::string giving = highest.giving ? as_bar(*highest.giving) : "";
  const std::string shut = highest.shut ? "pushed shut at up to " + as_bar(*highest.shut) : "";
  return giving + (giving.empty() || shut.empty() ? "" : ", ") + shut;
}

ReportTable gates_table(const FillProblem& problem, const FillResult& result) {
  ReportTable table{"Gates", {"Gate", "Resin", "Highest pressure", "Opens", "Closes"}, {}};
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const GateResult& gate = result.gates[g];
    table.rows.push_back(
        {gate.name, as_litres(gate.injected),
         gate.opened_at ? gate_pressure_text(gate_pressures(problem, result, g)) : not_there,
         time_or_none(gate.opened_at, "never"),
         gate.closed_at && !has_closed(problem, result, g)
             ? "open at the end"
             : time_or_none(gate.closed_at, not_there)});
  }
  return table;
}

/// "6:23 min, all of it at 8:56 min".
std::string arrival_cell(const VentArrival& arrival) {
  const std::string first = time_or_none(arrival.first, "never");
  return comes_bit_by_bit(arrival)
             ? first + ", all of it " + (arrival.all ? "at " + as_minutes(*arrival.all) : "never")
             : first;
}

ReportTable vents_table(const FillProblem& problem, const FillResult& result) {
  ReportTable table{"Vents", {"Vent", "Pressure behind it", "Reached", "Bleeds"}, {}};
  for (std::size_t v = 0; v < result.vents.size(); ++v) {
    const VentResult& vent = result.vents[v];
    table.rows.push_back({vent.name, as_bar(problem.vents[v].pressure),
                          arrival_cell(vent_arrival(problem, result, v)),
                          bled_of_wanted(problem.vents[v], bled_before_gel(problem, result, v))});
  }
  return table;
}

ReportTable last_table(const Case& input, const FillResult& result) {
  ReportTable table{result.dry_spots.empty()
                        ? "Where the resin comes last"
                        : "Where the resin comes last, apart from round what stays dry",
                    {"No.", "Time", "Place", "Region"},
                    {}};
  for (const LastFilled& place : result.last_filled) {
    table.rows.push_back({std::to_string(table.rows.size() + 1), as_minutes(place.time),
                          place_text(input, input.problem.mesh.positions[place.node]),
                          region_name(input, place.region)});
  }
  return table;
}

ReportTable meeting_table(const Case& input, const FillResult& result) {
  ReportTable table{"Where the resins of different gates meet",
                    {"Gates", "Length", "Middle of the line", "First met", "Last met"},
                    {}};
  const FillProblem& problem = input.problem;
  const auto name = [&](std::int32_t gate) {
    return problem.gates[static_cast<std::size_t>(gate)].name;
  };
  for (const MeetingLine& line : lines_met(problem, result)) {
    table.rows.push_back({name(line.gates[0]) + " and " + name(line.gates[1]),
                          as_millimetres(line.length), place_text(input, line.middle),
                          as_minutes(line.first), as_minutes(line.last)});
  }
  return table;
}

std::string way_out_text(const DrySpot& spot, bool has_gate) {
  if (!has_gate) {
    return "no gate is connected";
  }
  return spot.is_sealed ? as_minutes(spot.sealed_at) : "has a way out";
}

ReportTable dry_table(const Case& input, const FillResult& result) {
  ReportTable table{"Left dry", {"Name", "Room", "Place", "Region", "Air", "Shut in since"}, {}};
  const std::vector<bool> has_gate = dry_spots_with_gate(input.problem, result);
  for (std::size_t i = 0; i < result.dry_spots.size(); ++i) {
    const DrySpot& spot = result.dry_spots[i];
    table.rows.push_back({letter_name(i), as_litres(spot.volume), place_text(input, spot.position),
                          region_name(input, spot.region), as_bar(spot.air_pressure),
                          way_out_text(spot, has_gate[i])});
  }
  return table;
}

ReportTable suspect_table(const Case& input, const FillResult& result) {
  ReportTable table{"Places to look at on the first part: air was shut in and closed up",
                    {"Name", "Air", "Place", "Region", "Shut in at"},
                    {}};
  for (const SuspectZone& zone : result.suspect_zones) {
    table.rows.push_back({letter_name(result.dry_spots.size() + table.rows.size()),
                          as_litres(zone.volume) + " at " + as_bar(zone.air_pressure),
                          place_text(input, zone.position), region_name(input, zone.region),
                          as_minutes(zone.sealed_at)});
  }
  return table;
}

ReportTable regions_table(const FillProblem& problem, const FillResult& result) {
  ReportTable table{"Regions",
                    {"Region", "Area", "Thickness", "Fibre volume fraction", "Porosity", "K1", "K2",
                     "Room for resin"},
                    {}};
  for (std::size_t r = 0; r < result.regions.size(); ++r) {
    const Region& region = problem.regions[r];
    table.rows.push_back(
        {region.name, as_square_metres(result.regions[r].area), as_millimetres(region.thickness),
         as_percent(fibre_volume_fraction(region)), as_percent(region.porosity),
         as_square_metres(region.permeability_1), as_square_metres(region.permeability_2),
         as_litres(result.regions[r].pore_volume)});
  }
  return table;
}

ReportTable quantities_table(const Case& input, const FillResult& result) {
  const ResinUse use = resin_use(input, result);
  ReportTable table{"Quantities", {}, {}};
  const auto add = [&](const std::string& name, const std::string& value) {
    table.rows.push_back({name, value});
  };
  add("Room for resin", as_litres(result.pore_volume));
  add("Resin in the part", as_litres(use.in_part));
  if (use.channels > 0) {
    add("of that, room of runners and gaps", as_litres(use.channels));
  }
  if (use.bled > 0) {
    add("Bled at the vents", as_litres(use.bled));
  }
  if (use.hoses > 0) {
    add("In the hoses", as_litres(use.hoses));
  }
  if (result.verdict != Verdict::filled) {
    return table; // quantities for half a part would mislead
  }
  if (use.waste > 0) {
    add("Waste on top", as_litres(use.waste));
  }
  add("To mix", as_litres(use.to_mix) + (use.mass ? ", " + as_small_kilograms(*use.mass) : ""));
  if (use.catalyst_mass) {
    add("of that, catalyst",
        as_small_kilograms(*use.catalyst_mass) +
            (use.catalyst_volume ? ", " + as_small_litres(*use.catalyst_volume) : ""));
  }
  if (use.strokes) {
    add("Strokes of the shot", std::to_string(use.strokes->shot));
  }
  return table;
}

std::string near_full_text(const FillResult& result) {
  const auto force = opening_force_when(result.history, near_end);
  return !force ? not_there : *force > 0 ? as_kilonewtons(*force) : "none";
}

std::string share_text(const MouldLoad& load) {
  const std::string shares = shares_of_force(load.at_rest.fibres, load.peak_force);
  const std::string missing = uncounted_fibres_text(load.at_rest.fibres);
  return shares.empty() ? missing.empty() ? "no fibres" : missing
                        : shares + (missing.empty() ? "" : ". " + missing);
}

ReportTable mould_table(const FillProblem& problem, const FillResult& result) {
  const std::optional<MouldLoad>& load = result.mould_load;
  ReportTable table{"Mould", {}, {}};
  if (load) {
    table.rows = {
        {"Highest opening force",
         is_seen_edge_on(problem) ? std::string("cannot be told: ") + edge_on_text
         : load->peak_force > 0
             ? as_kilonewtons(load->peak_force) + ", at " + as_minutes(load->peak_force_at)
             : "none: " + why_not_opened(problem, load->at_rest.fibres)},
        {"Opening force with 99 % of the resin in", near_full_text(result)},
        {"Of the highest, by resin and fibres", share_text(*load)},
        {"Held shut with",
         load->hold_down_force > 0 ? as_kilonewtons(load->hold_down_force) : "not given"},
        {"Highest pressure in the cavity", as_bar(load->peak_pressure)},
        {"Projected area", as_square_metres(load->at_rest.projected_area)}};
  }
  return table;
}

ReportTable inputs_table(const Case& input) {
  ReportTable table{"Every value used", {"Key", "Value", "Given or default"}, {}};
  for (const UsedValue& value : input.values) {
    table.rows.push_back({value.key, value.value, value.given ? "given" : "default"});
  }
  return table;
}

ReportTable computation_table(const Case& input, const FillResult& result) {
  const WorkFacts& work = result.work;
  return {"Mesh and computation",
          {},
          {{"Mesh file", input.mesh_file.generic_string()},
           {"Nodes", std::to_string(input.problem.mesh.positions.size())},
           {"Elements", std::to_string(input.problem.mesh.elements.size())},
           {"Area", as_square_metres(result.area)},
           {"Edges exchanged to suit the permeability",
            std::to_string(result.network.flipped) + " of " + std::to_string(result.network.edges)},
           {"Share of the flow network that had to be limited",
            plain_number(result.network.limited_fraction)},
           {"Steps", std::to_string(work.steps)},
           {"Linear solves", std::to_string(work.linear_solves)},
           {"Iterations of these", std::to_string(work.linear_iterations)},
           {"Largest residual, of a cell", plain_number(work.largest_residual)},
           {"Mass balance, off by this share of the resin injected",
            plain_number(result.mass_balance_error)}}};
}

std::vector<ReportPlot> plots_of(const FillProblem& problem, const FillResult& result) {
  if (result.history.empty() || !(result.end_time > 0)) {
    return {};
  }
  std::vector<ReportPlot> plots = {flow_plot(problem, result), pressure_plot(problem, result),
                                   filled_plot(result.history)};
  if (problem.mould) {
    plots.push_back(force_plot(problem, result));
  }
  return plots;
}

std::string course_note(const FillProblem& problem, const FillResult& result) {
  return result.verdict != Verdict::filled
             ? "<p class=\"note\">The flow and pressures of the table at the start are those after "
               "1 % of the time: those of the very first moment are of single cells. Those at "
               "the end are of the last step.</p>\n"
             : std::string("<p class=\"note\">The flow told at the start and at the end is that "
                           "after 1 % of the time and with 99 % of the resin in, in the plot too; "
                           "so are the "
                           "pressures of the table. Those of the very first and last moment are "
                           "of single cells.") +
                   (problem.mould ? " The opening force at the end is read off the steps before "
                                    "the last cells, and may lie below the highest."
                                  : "") +
                   "</p>\n";
}

std::string course_html(const FillProblem& problem, const FillResult& result, std::size_t plots) {
  if (result.history.empty()) {
    return "<p>No step was done, so there is no course to show.</p>\n";
  }
  return (plots > 0 ? plots_html(plots) +
                          "<p class=\"note controls\">Point at a plot to read its values; a click "
                          "sets the time of the picture.</p>\n"
                    : "") +
         table_html(course_table(problem, result)) + course_note(problem, result);
}

} // namespace

std::vector<std::string> report_cautions() {
  std::vector<std::string> all = {
      "A prediction is no substitute for a trial shot. Fabrics of one kind commonly scatter by 30 "
      "to 45 % in permeability (common practice, no source), and times and pressures follow."};
  const std::vector<std::string> more = sheet_cautions();
  all.insert(all.end(), more.begin(), more.end());
  return all;
}

SetPoints set_points(const FillProblem& problem, const FillResult& result) {
  const double none = std::numeric_limits<double>::quiet_NaN();
  const Injector& injector = problem.injector;
  const bool has_common = has_common_pump(problem);
  const std::vector<CoursePoint> points = course_points(problem, result);
  SetPoints set;
  double flow_rate = injector.flow_rate.value_or(none);
  double cap = injector.pressure_cap.value_or(none);
  std::size_t next = 0;
  const double slack = 1e-9; // steps end where a stage begins, to rounding
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const double time = points[i].time;
    const double volume = has_common ? points[i].pumps.front().volume : 0;
    const auto has_begun = [&](const InjectorStage& stage) {
      return stage.from_time ? *stage.from_time <= time * (1 + slack)
                             : stage.from_volume.value_or(0) <= volume * (1 + slack);
    };
    for (; next < injector.stages.size() && has_begun(injector.stages[next]); ++next) {
      flow_rate = injector.stages[next].flow_rate.value_or(flow_rate);
      cap = injector.stages[next].pressure_cap.value_or(cap);
    }
    set.flow_rate.push_back(flow_rate);
    set.pressure_cap.push_back(cap);
  }
  return set;
}

ReportPage fill_report(const Case& input, const FillResult& result,
                       const std::optional<CureSearch>& search) {
  const FillProblem& problem = input.problem;
  const std::vector<std::string> words = lines_of(course_in_words(input, result, search));
  ReportPage page;
  page.title = input.title;
  page.kind = "Filling report";
  page.origin = "Made by tidemark " TIDEMARK_VERSION " from " + input.file.generic_string() + ".";
  page.is_good = result.verdict == Verdict::filled && !opens_mould(result);
  page.headline = words.empty() ? "" : words.front();
  page.verdict =
      facts_html(first_facts(input, result)) + warnings_html(input, result) + words_html(words);
  page.plots = plots_of(problem, result);
  page.end_time = result.end_time;
  page.panels = {nlohmann::ordered_json::array({filling_view(input, result, input.title, "")})};
  page.sections = {
      {"front", "The front", panel_html(0)},
      {"course", "Course", course_html(problem, result, page.plots.size())},
      {"places", "Gates, vents and places",
       table_html(gates_table(problem, result)) + table_html(vents_table(problem, result)) +
           table_html(last_table(input, result)) + table_html(meeting_table(input, result)) +
           table_html(dry_table(input, result)) + table_html(suspect_table(input, result))},
      {"cautions", "Cautions", list_html(report_cautions())},
      {"quantities", "Regions and quantities",
       table_html(regions_table(problem, result)) + pairs_html(quantities_table(input, result)) +
           pairs_html(mould_table(input.problem, result))},
      {"inputs", "Inputs", pairs_html(inputs_table(input))},
      {"computation", "Computation", pairs_html(computation_table(input, result))}};
  return page;
}

} // namespace tidemark
