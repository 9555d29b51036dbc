#include "io/comparison_text.hpp"

#include "io/filling_course.hpp"
#include "io/mould_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <string_view>

namespace tidemark {

namespace {

constexpr std::size_t longest_name = 28; // in the tables

/// At most that many letters, with dots for what is cut.
std::string shortened(const std::string& text, std::size_t most) {
  if (letters_in(text) <= most) {
    return text;
  }
  std::size_t end = 0;
  for (std::size_t letters = 0; end < text.size(); ++end) {
    const bool begins = (static_cast<unsigned char>(text[end]) & 0xC0U) != 0x80U;
    if (begins && letters++ == most - 3) {
      break;
    }
  }
  return text.substr(0, end) + "...";
}

/// The number, and a name if it is a short one; all of it stands in the list above the tables.
std::string name_in_table(const ComparedRun& run, std::size_t number) {
  const bool is_case = run.tried.empty() && run.name == run.case_file;
  const std::string name = is_case                 ? std::filesystem::path(run.name).stem().string()
                           : run.name == run.tried ? ""
                                                   : run.name;
  return std::to_string(number) + (name.empty() ? "" : " " + shortened(name, longest_name));
}

/// A fibre volume fraction: "0.326".
std::string fraction_text(double fraction) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.3f", fraction);
  return text.data();
}

std::string verdict_of(const ComparedRun& run) {
  switch (run.state) {
  case RunState::filled:
    return is_sound(run) ? "fills" : "opens";
  case RunState::short_fill:
    return "short: " + run.reason + ", " + as_percent(run.figures.filled_fraction) +
           (run.figures.opens_mould ? "; opens" : "");
  default:
    return state_word(run.state);
  }
}

/// "region skin, x 812 mm, y 310 mm, z 44.0 mm"; that of a short run is dry.
std::string place_of(const ComparedRun& run) {
  const auto& place = run.figures.place;
  if (!place) {
    return "-";
  }
  return (place->time ? "" : "dry: ") + place->region + ", " + place->text;
}

std::string fractions_of(const ComparedRun& run) {
  const auto& regions = run.figures.regions;
  if (regions.empty()) {
    return "-";
  }
  const auto [low, high] =
      std::ranges::minmax_element(regions, {}, &RegionFraction::fibre_volume_fraction);
  const std::string lowest = fraction_text(low->fibre_volume_fraction);
  const std::string highest = fraction_text(high->fibre_volume_fraction);
  return lowest == highest ? lowest : lowest + " to " + highest;
}

/// The figure of each run as printed, the best with a mark.
std::vector<std::string> cells_of(const std::vector<ComparedRun>& runs, std::string_view key) {
  const Figure& figure = *std::ranges::find(compared_figures(), key, &Figure::key);
  const std::vector<std::size_t> best = best_runs(runs, figure);
  std::vector<std::string> cells;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    std::string cell = figure_text(figure, runs[i]);
    cell += figure.value(runs[i]) && figure.leaves_out(runs[i]) ? " without cores" : "";
    cells.push_back(cell + (std::ranges::find(best, i) != best.end() ? " *" : ""));
  }
  return cells;
}

void add_column(std::vector<TextRow>& rows, const char* title,
                const std::vector<std::string>& cells) {
  rows.front().emplace_back(title);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    rows[i + 1].push_back(cells[i]);
  }
}

std::string force_of(const ComparedRun& run) {
  return force_cell(run.figures.peak_force, run.figures.push_climbs);
}

bool has_late_peak(const ComparedRun& run) {
  return peaks_at_the_last(run.figures.peak_head_pressure, run.figures.peak_till_near_end);
}

bool has_force(const ComparedRun& run) {
  return run.figures.peak_force.has_value();
}

std::vector<TextRow> rows_of(const std::vector<ComparedRun>& runs) {
  std::vector<TextRow> rows{{"run"}};
  for (std::size_t i = 0; i < runs.size(); ++i) {
    rows.push_back({name_in_table(runs[i], i + 1)});
  }
  return rows;
}

std::vector<std::string> told_by(const std::vector<ComparedRun>& runs,
                                 std::string (*tell)(const ComparedRun&)) {
  std::vector<std::string> cells;
  std::ranges::transform(runs, std::back_inserter(cells), tell);
  return cells;
}

std::string list_of_runs(const std::vector<ComparedRun>& runs) {
  std::vector<TextRow> rows;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const ComparedRun& run = runs[i];
    const std::string what = !run.tried.empty()          ? run.tried
                             : run.name == run.case_file ? run.case_file + ", " + run.title
                                                         : run.name;
    rows.push_back({"  " + std::to_string(i + 1), what});
  }
  return table_text(rows);
}

std::string bled_of(const ComparedRun& run) {
  const bool is_known = run.state == RunState::filled || run.state == RunState::short_fill;
  return is_known ? as_small_litres(run.figures.bled) : "-";
}

/// A remark and the runs it is made of, in the order they first come.
using Remarks = std::vector<std::pair<std::string, std::vector<std::size_t>>>;

void add_remark(Remarks& remarks, const std::string& text, std::size_t run) {
  const auto known = std::ranges::find(remarks, text, &Remarks::value_type::first);
  if (known == remarks.end()) {
    remarks.push_back({text, {run}});
  } else if (known->second.back() != run) {
    known->second.push_back(run);
  }
}

void add_remarks_of_sum(Remarks& remarks, const MaterialSum& sum, const std::string& what,
                        std::size_t run) {
  for (const std::string& reason : sum.not_known) {
    add_remark(remarks, "No " + what + ": " + reason + ".", run);
  }
  for (const std::string& reason : sum.left_out) {
    const std::string subject = what == "cost" ? "The cost" : "The part mass";
    add_remark(remarks, subject + " is without cores: " + reason + ".", run);
  }
}

std::string remarks_text(const Remarks& remarks, std::size_t count) {
  std::string text;
  for (const auto& [remark, runs] : remarks) {
    std::string whose;
    for (const std::size_t run : runs) {
      whose += (whose.empty() ? "" : ", ") + std::to_string(run + 1);
    }
    const std::string of = runs.size() == 1 ? "Run " + whose + ": " : "Runs " + whose + ": ";
    text += (runs.size() == count ? "" : of) + remark + "\n";
  }
  return text;
}

} // namespace

std::vector<TextRow> run_table(const std::vector<ComparedRun>& runs) {
  std::vector<TextRow> rows = rows_of(runs);
  add_column(rows, "verdict", told_by(runs, verdict_of));
  add_column(rows, "fill time", cells_of(runs, "fill_time_s"));
  add_column(rows, "head peak", cells_of(runs, "peak_head_pressure_pa"));
  if (std::ranges::any_of(runs, has_late_peak)) {
    add_column(rows, "till 99 %", cells_of(runs, "peak_head_pressure_till_99_percent_pa"));
  }
  add_column(rows, "at the cap", cells_of(runs, "time_at_cap_s"));
  if (std::ranges::any_of(runs, has_force)) {
    add_column(rows, "opening force", told_by(runs, force_of));
  }
  add_column(rows, "last place to fill", told_by(runs, place_of));
  return rows;
}

std::vector<TextRow> material_table(const std::vector<ComparedRun>& runs) {
  std::vector<TextRow> rows = rows_of(runs);
  add_column(rows, "Vf", told_by(runs, fractions_of));
  add_column(rows, "resin", cells_of(runs, "resin_in_part_m3"));
  add_column(rows, "resin mass", cells_of(runs, "resin_in_part_kg"));
  if (std::ranges::any_of(runs, [](const ComparedRun& run) { return run.figures.bled > 0; })) {
    add_column(rows, "bled", told_by(runs, bled_of));
  }
  add_column(rows, "part mass", cells_of(runs, "part_mass_kg"));
  if (std::ranges::any_of(runs, &ComparedRun::has_prices)) {
    add_column(rows, "cost", cells_of(runs, "cost"));
  }
  return rows;
}

std::string late_peak_remark(const std::vector<ComparedRun>& runs) {
  return std::ranges::any_of(runs, has_late_peak) ? "till 99 %: head peak until 99 % of the resin "
                                                    "is in. What the last 1 % brings is as rough "
                                                    "as the mesh.\n"
                                                  : "";
}

std::string climbing_remark(const std::vector<ComparedRun>& runs) {
  return std::ranges::any_of(runs, [](const ComparedRun& run) { return run.figures.push_climbs; })
             ? climbing_note() + "\n"
             : "";
}

std::string opening_remark(const std::vector<ComparedRun>& runs) {
  return std::ranges::any_of(runs, [](const ComparedRun& run) { return run.figures.opens_mould; })
             ? "opens: the mould is pushed open. Such a run is best at nothing.\n"
             : "";
}

std::string remarks_of(const std::vector<ComparedRun>& runs) {
  Remarks remarks;
  const bool has_prices = std::ranges::any_of(runs, &ComparedRun::has_prices);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (runs[i].state == RunState::failed) {
      add_remark(remarks, "Failed: " + runs[i].error, i);
    }
    const RunFigures& figures = runs[i].figures;
    if (figures.bleeding_stopped) {
      add_remark(remarks, "The vents of the full part do not let out all they should.", i);
    } else if (runs[i].state == RunState::filled &&
               figures.end_time > figures.fill_time.value_or(0)) {
      add_remark(remarks,
                 "Vents bleed on in the full part till " + as_minutes(figures.end_time) + ".", i);
    }
    if (!figures.head.empty()) {
      add_remark(remarks, "Head peak and time at the cap are those of " + figures.head + ".", i);
    }
    add_remarks_of_sum(remarks, figures.part_mass, "part mass", i);
    if (has_prices) {
      add_remarks_of_sum(remarks, figures.cost, "cost", i);
    }
    if (!runs[i].air_caution.empty()) {
      add_remark(remarks, runs[i].air_caution, i);
    }
    for (const std::string& warning : runs[i].warnings) {
      add_remark(remarks, "Warning: " + warning, i);
    }
  }
  return remarks_text(remarks, runs.size());
}

std::string comparison_text(const std::vector<ComparedRun>& runs) {
  const bool is_one_case =
      std::ranges::any_of(runs, [](const ComparedRun& run) { return !run.tried.empty(); });
  std::string text =
      (is_one_case ? runs.front().title + ": " : "") + std::to_string(runs.size()) +
      " runs compared\n\n" + list_of_runs(runs) + "\n" + table_text(run_table(runs)) + "\n" +
      table_text(material_table(runs)) +
      "\n* best of the runs that fill, several where they print alike, none where all do.\n"
      "Vf: fibre volume fraction of the fabrics, lowest to highest region. Part mass";
  text += std::ranges::any_of(runs, &ComparedRun::has_prices) ? " and cost are those" : " is that";
  return text + " of the full part.\n" + late_peak_remark(runs) + climbing_remark(runs) +
         opening_remark(runs) + remarks_of(runs);
}

} // namespace tidemark
