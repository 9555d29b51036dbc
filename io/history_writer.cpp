#include "io/history_writer.hpp"

#include "io/number_text.hpp"
#include "io/output_folder.hpp"

#include <set>

namespace tidemark {

namespace {

/// A field of the table: in quotes if it holds a comma, a quote or a line break.
std::string csv_field(const std::string& field) {
  if (field.find_first_of(",\"\r\n") == std::string::npos) {
    return field;
  }
  std::string text = "\"";
  for (const char c : field) {
    text.append(c == '"' ? 2 : 1, c);
  }
  return text + "\"";
}

std::vector<std::string> column_names(const FillProblem& problem) {
  std::vector<std::string> names = {"time_s", "filled_fraction", "flow_rate_m3_per_s",
                                    "head_pressure_pa"};
  for (const Gate& gate : problem.gates) {
    names.push_back(gate.name + "_flow_rate_m3_per_s");
    names.push_back(gate.name + "_pressure_pa");
  }
  for (const Vent& vent : problem.vents) {
    names.push_back(vent.name + "_bled_m3");
  }
  names.emplace_back("shut_in_air_m3");
  if (problem.mould) {
    names.emplace_back("opening_force_n");
  }
  return names;
}

/// Gives every repeated name a number: a gate called "head" must not hide the mixing head.
void make_unique(std::vector<std::string>& names) {
  std::set<std::string> taken;
  for (std::string& name : names) {
    const std::string wanted = name;
    for (int number = 2; !taken.insert(name).second; ++number) {
      name = wanted + "_" + std::to_string(number);
    }
  }
}

std::string row_text(const FillProblem& problem, const HistoryRow& row) {
  std::vector<double> numbers = {row.time, row.filled_fraction, row.flow_rate, row.head_pressure};
  for (const GateSample& gate : row.gates) {
    numbers.push_back(gate.flow_rate);
    numbers.push_back(gate.pressure);
  }
  numbers.insert(numbers.end(), row.vent_bleed.begin(), row.vent_bleed.end());
  numbers.push_back(row.shut_in_air);
  std::string text;
  for (const double number : numbers) {
    text += text.empty() ? "" : ",";
    text += number_text(number);
  }
  if (problem.mould) {
    text += "," + (row.opening_force ? number_text(*row.opening_force) : "");
  }
  text += '\n';
  return text;
}

} // namespace

std::string history_text(const FillProblem& problem, const std::vector<HistoryRow>& history) {
  std::vector<std::string> names = column_names(problem);
  make_unique(names);
  std::string text;
  for (const std::string& name : names) {
    text += text.empty() ? "" : ",";
    text += csv_field(name);
  }
  text += "\n";
  for (const HistoryRow& row : history) {
    text += row_text(problem, row);
  }
  return text;
}

void write_history(const std::filesystem::path& file, const FillProblem& problem,
                   const std::vector<HistoryRow>& history) {
  write_text_file(file, history_text(problem, history));
}

} // namespace tidemark
