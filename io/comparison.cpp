#include "io/comparison.hpp"

#include "io/filling_course.hpp"
#include "io/mould_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"

#include <algorithm>
#include <array>
#include <cstdio>

namespace tidemark {

namespace {

bool was_computed(const ComparedRun& run) {
  return run.state == RunState::filled || run.state == RunState::short_fill;
}

std::optional<double> if_computed(const ComparedRun& run, const std::optional<double>& value) {
  return was_computed(run) ? value : std::nullopt;
}

bool leaves_nothing_out(const ComparedRun& /*run*/) {
  return false;
}

std::string mass_text(const ComparedRun& /*run*/, double kilograms) {
  return as_kilograms(kilograms);
}

/// To a hundredth, as prices are told.
std::string cost_text(const ComparedRun& run, double cost) {
  std::array<char, 400> text{};
  std::snprintf(text.data(), text.size(), "%.2f", cost);
  return text.data() + (run.currency.empty() ? "" : " " + run.currency);
}

/// Of the fabrics where there is a layup, else of the whole cavity.
std::vector<RegionFraction> fractions_of(const Case& input) {
  std::vector<RegionFraction> fractions;
  for (std::size_t r = 0; r < input.problem.regions.size(); ++r) {
    const Region& region = input.problem.regions[r];
    const double fraction = input.layups[r] ? input.layups[r]->stack.ply_volume_fraction
                                            : fibre_volume_fraction(region);
    if (fraction > 0) {
      fractions.push_back({region.name, fraction});
    }
  }
  return fractions;
}

std::optional<NamedPlace> place_of(const Case& input, const FillResult& result) {
  if (result.verdict == Verdict::filled && !result.last_filled.empty()) {
    const LastFilled& last = result.last_filled.front();
    const Vector3& position = input.problem.mesh.positions[last.node];
    return NamedPlace{position, region_name(input, last.region), last.time,
                      place_text(input, position)};
  }
  if (result.verdict != Verdict::filled && !result.dry_spots.empty()) {
    const DrySpot& spot = result.dry_spots.front();
    return NamedPlace{spot.position, region_name(input, spot.region), std::nullopt,
                      place_text(input, spot.position)};
  }
  return std::nullopt;
}

} // namespace

RunFigures figures_of(const Case& input, const FillResult& result) {
  RunFigures figures;
  figures.fill_time = result.fill_time;
  figures.end_time = result.end_time;
  figures.bleeding_stopped = result.bleeding && !result.bleeding->ended_at;
  figures.filled_fraction = result.filled_fraction;
  const HeadPeak highest = highest_head(input.problem, result);
  const bool is_one = course_pumps(input.problem).size() < 2;
  figures.peak_head_pressure = highest.pressure;
  figures.head = is_one ? "" : place_of_head(input.problem, highest.pump);
  figures.peak_till_near_end = highest.till_near_end;
  figures.time_at_cap = cap_time_of(result, highest.pump).duration;
  if (result.mould_load) {
    figures.peak_force = result.mould_load->peak_force;
    figures.push_climbs = untold_push(input.problem, result).has_value();
  }
  figures.opens_mould = opens_mould(result);
  figures.resin_in_part = result.resin_in_part;
  if (const auto density = input.problem.resin.density) {
    figures.resin_mass = *density * result.resin_in_part;
  }
  figures.bled = result.bled;
  figures.regions = fractions_of(input);
  figures.part_mass = part_mass(input, result);
  figures.cost = part_cost(input, result);
  figures.place = place_of(input, result);
  return figures;
}

const std::vector<Figure>& compared_figures() {
  using Run = ComparedRun;
  static const std::vector<Figure> figures{
      {"fill_time_s", [](const Run& run) { return if_computed(run, run.figures.fill_time); },
       [](const Run&, double seconds) { return as_minutes(seconds); }, leaves_nothing_out},
      {"peak_head_pressure_pa",
       [](const Run& run) { return if_computed(run, run.figures.peak_head_pressure); },
       [](const Run&, double pascals) { return as_bar(pascals); }, leaves_nothing_out},
      {"peak_head_pressure_till_99_percent_pa",
       [](const Run& run) { return if_computed(run, run.figures.peak_till_near_end); },
       [](const Run&, double pascals) { return as_bar(pascals); }, leaves_nothing_out},
      {"time_at_cap_s", [](const Run& run) { return if_computed(run, run.figures.time_at_cap); },
       [](const Run&, double seconds) { return as_minutes(seconds); }, leaves_nothing_out},
      {"resin_in_part_m3",
       [](const Run& run) { return if_computed(run, run.figures.resin_in_part); },
       [](const Run&, double volume) { return as_litres(volume); }, leaves_nothing_out},
      {"resin_in_part_kg", [](const Run& run) { return if_computed(run, run.figures.resin_mass); },
       mass_text, leaves_nothing_out},
      {"part_mass_kg", [](const Run& run) { return if_computed(run, run.figures.part_mass.value); },
       mass_text, [](const Run& run) { return !run.figures.part_mass.left_out.empty(); }},
      {"cost", [](const Run& run) { return if_computed(run, run.figures.cost.value); }, cost_text,
       [](const Run& run) { return !run.figures.cost.left_out.empty(); }}};
  return figures;
}

std::string figure_text(const Figure& figure, const ComparedRun& run) {
  const auto value = figure.value(run);
  return value ? figure.text(run, *value) : "-";
}

bool is_sound(const ComparedRun& run) {
  return run.state == RunState::filled && !run.figures.opens_mould;
}

std::vector<std::size_t> best_runs(const std::vector<ComparedRun>& runs, const Figure& figure) {
  std::vector<std::size_t> full;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (is_sound(runs[i])) {
      full.push_back(i);
    }
  }
  const bool is_comparable = std::ranges::all_of(full, [&](std::size_t i) {
    return figure.value(runs[i]).has_value() &&
           figure.leaves_out(runs[i]) == figure.leaves_out(runs[full.front()]);
  });
  if (!is_comparable || full.empty()) {
    return {};
  }
  const std::size_t lowest =
      *std::ranges::min_element(full, {}, [&](std::size_t i) { return *figure.value(runs[i]); });
  const std::string text = figure_text(figure, runs[lowest]);
  std::vector<std::size_t> best;
  std::ranges::copy_if(full, std::back_inserter(best),
                       [&](std::size_t i) { return figure_text(figure, runs[i]) == text; });
  const bool is_no_choice = full.size() > 1 && best.size() == full.size();
  return is_no_choice ? std::vector<std::size_t>{} : best;
}

const char* state_word(RunState state) {
  switch (state) {
  case RunState::filled:
    return "filled";
  case RunState::short_fill:
    return "short";
  case RunState::failed:
    return "failed";
  case RunState::not_run:
    return "not run";
  }
  return "";
}

} // namespace tidemark
